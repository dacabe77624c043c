"""Importing a table in two presses: look at it (a dry run that writes no row), then record all of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, cast
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import find, perform
from accounts.assets import Asset
from accounts.evidence import keep, kept
from accounts.forms import build_form, check_may, reader_of, see_other
from accounts.people import Person
from accounts.tablefile import TableError
from accounts.wording import say, say_many
from mapping.actions.features import look_at_features
from mapping.actions.joints import look_at_joints
from mapping.actions.tables import TableGiven, content_of, refusal_of
from mapping.actions.zone_tables import look_at_zones
from mapping.zones import chainage_of

LOOKED = "looked_at_table"


class Table(NamedTuple):
    """A kind of table: the action that records it, its dry run, its words, and what is shown of each new row."""

    action: str
    look: Callable[[Person, Asset, bytes, str], Any]
    lead: Any
    recorded: Callable[[int], str]
    already: Callable[[int], str]
    columns: tuple[Any, ...]
    shown: Callable[[Asset, Any], tuple[str, ...]]
    help: str


ZONES = Table(
    "import_zones",
    look_at_zones,
    _("One table makes many zones: stretches of a joint list, strakes, spans of a deck, or any zones one a row."),
    lambda count: say_many("{count} zone is added.", "{count} zones are added.", count),
    lambda count: say_many("{count} is there already", "{count} are there already", count),
    (_("Zone"), _("Kind"), _("Reaches"), _("Area")),
    lambda asset, zone: (
        zone.name,
        zone.get_surface_kind_display(),
        zone.surface.limits_text(),
        f"{zone.true_area:.1f} m²",
    ),
    "mapping/zone_table_help.html",
)
FEATURES = Table(
    "import_features",
    look_at_features,
    _("Welds and edges, whose test is counted in metres, nozzles and brackets, which are counted one by one."),
    lambda count: say_many("{count} feature is recorded.", "{count} features are recorded.", count),
    lambda count: say_many("{count} is recorded already", "{count} are recorded already", count),
    (_("Zone"), _("What"), _("Name"), _("Where"), _("Length")),
    lambda asset, row: (
        row.zone.name,
        row.get_kind_display(),
        row.name,
        row.said,
        chainage_of(asset).print_length(row.length) if row.length is not None else say("counted"),
    ),
    "mapping/feature_table_help.html",
)
JOINTS = Table(
    "import_joints",
    look_at_joints,
    _("Joints, girth welds and other landmarks along the asset: what painters measure from."),
    lambda count: say_many("{count} landmark is recorded.", "{count} landmarks are recorded.", count),
    lambda count: say_many("{count} is recorded already", "{count} are recorded already", count),
    (_("What"), _("Name"), _("At")),
    lambda asset, mark: (mark.get_kind_display(), mark.name, chainage_of(asset).print(mark.x)),
    "mapping/joint_table_help.html",
)


@login_required
def import_zones(request: HttpRequest, pk: UUID) -> HttpResponse:
    return _two_presses(request, pk, ZONES)


@login_required
def import_joints(request: HttpRequest, pk: UUID) -> HttpResponse:
    return _two_presses(request, pk, JOINTS)


@login_required
def import_features(request: HttpRequest, pk: UUID) -> HttpResponse:
    return _two_presses(request, pk, FEATURES)


def _two_presses(request: HttpRequest, pk: UUID, table: Table) -> HttpResponse:
    """GET asks for the file; POST shows what recording it would do; POST with `digest` records what was looked at."""
    person = cast(Person, request.user)
    asset = find(person, Asset, pk)
    check_may(person, table.action, asset)
    if request.method != "POST":
        return _page(request, asset, table)
    if request.POST.get("digest"):
        return _record(request, person, asset, table)
    file, text = request.FILES.get("file"), request.POST.get("text", "")
    if refused := refusal_of(file, text):
        return _page(request, asset, table, 422, errors={"file": [refused]})
    content, name = content_of(file, text)
    return _look(request, person, asset, table, content, name)


def _look(
    request: HttpRequest, person: Person, asset: Asset, table: Table, content: bytes, name: str, **details: Any
) -> HttpResponse:
    try:
        plan = table.look(person, asset, content, name)
    except TableError as problem:
        return _page(request, asset, table, 422, errors={"file": [str(problem)]})
    digest = ""
    if plan.new and not plan.problems:
        digest = keep(content)
        request.session[LOOKED] = {"digest": digest, "name": name, "asset": str(asset.pk), "action": table.action}
    return _page(request, asset, table, 422 if plan.problems else 200, plan=plan, name=name, digest=digest, **details)


def _record(request: HttpRequest, person: Person, asset: Asset, table: Table) -> HttpResponse:
    looked = request.session.get(LOOKED) or {}
    digest = request.POST["digest"]
    if looked != {"digest": digest, "name": looked.get("name"), "asset": str(asset.pk), "action": table.action}:
        return _page(request, asset, table, 422, errors={"file": [say("Look at the table first, then record it.")]})
    file = SimpleUploadedFile(looked["name"], kept(digest))
    operation = UUID(request.POST["id"]) if request.POST.get("id") else None
    try:
        done = perform(table.action, person, asset.pk, {"file": file, "text": ""}, operation=operation)
    except serializers.ValidationError:
        # Somebody recorded something meanwhile: show the dry run as it stands now.
        return _look(request, person, asset, table, kept(digest), looked["name"])
    request.session.pop(LOOKED, None)
    if done.status == "already":
        messages.info(request, " ".join(str(words) for words in done.consequences))
    else:
        messages.success(request, table.recorded(len(done.made)))
    return see_other(reverse("asset", args=[asset.pk]))


def _page(
    request: HttpRequest,
    asset: Asset,
    table: Table,
    status: int = 200,
    *,
    plan: Any = None,
    errors: Any = None,
    **more: Any,
) -> HttpResponse:
    person = cast(Person, request.user)
    form = build_form(
        TableGiven,
        button=say("Look at it first"),
        reader=reader_of(person, asset),
        typed=request.POST if errors else None,
        errors=errors,
        url=request.get_full_path(),
        cancel=reverse("asset", args=[asset.pk]),
    )
    shown = {"asset": asset, "table": table, "form": form, "plan": plan, **more}
    if plan is not None:
        shown["summary"] = _summary(plan, table)
        shown["rows"] = [list(zip(table.columns, table.shown(asset, row), strict=True)) for row in plan.new[:500]]
    return render(request, "mapping/import_table.html", shown, status=status)


def _summary(plan: Any, table: Table) -> str:
    if plan.problems:
        return say_many(
            "{count} cell cannot be taken; nothing is recorded.", "{count} cells cannot be taken; nothing is recorded.",
            len(plan.problems),
        )  # fmt: skip
    if not plan.new:
        return say("Nothing new: {already}.", already=table.already(plan.same))
    new = say_many("{count} new", "{count} new", len(plan.new))
    return f"{new}, {table.already(plan.same)}." if plan.same else f"{new}."
