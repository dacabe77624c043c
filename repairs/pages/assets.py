"""Assets, one asset drawn to scale as one sees it, and its record."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from typing import Any, NamedTuple, cast
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe
from rest_framework.exceptions import PermissionDenied

from accounts.access import assets_of, roles_on
from accounts.acting import REGISTRY, find, may
from accounts.assets import Asset
from accounts.forms import see_other
from accounts.people import Person, Role
from accounts.record import Entry, Record
from accounts.sync import SetAside
from accounts.wording import noted, say
from mapping.landmarks import Landmark
from repairs import charts
from repairs.pages.board import Units
from repairs.picture import ZonePicture, asset_pictures
from repairs.reader_words import said_in
from repairs.seen import drawn, part_of


@dataclass(frozen=True)
class ZoneRow:
    """One zone of the asset's table."""

    zone: Any
    picture: ZonePicture | None
    state: str
    state_word: str
    density: str


@login_required
@require_safe
def assets_page(request: HttpRequest) -> HttpResponse:
    person = cast(Person, request.user)
    rows = list(assets_of(person).select_related("organisation").prefetch_related("zones").order_by("name"))
    return render(request, "repairs/assets.html", {"assets": rows})


@login_required
@require_safe
def asset_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    asset = find(person, Asset, pk)
    pictures = {picture.zone.pk: picture for picture in asset_pictures(asset, spoken=said_in(person.units))}
    zones = list(asset.zones.all())
    units = Units(person.units)
    rows = zone_rows(zones, pictures, units)
    drawing, legend = drawn([part_of(row.zone, row.picture, row.state, row.state_word) for row in rows])
    return render(
        request,
        "repairs/asset.html",
        {
            "asset": asset,
            "rows": rows,
            "drawing": drawing,
            "legend": legend,
            "sentence": _sentence(rows),
            "turns": turns_of(rows),
            "chart": density_chart(rows, units),
            "asides": SetAside.objects.filter(record=asset.pk, settled_at=None).count()
            if Role.LEAD in roles_on(person, asset)
            else 0,
            "landmarks": Landmark.objects.filter(asset=asset, struck_at=None).count(),
            "specifications": asset.specifications.order_by("-issued_at"),
            "may_add_zone": may(person, "add_zone", asset),
            "may_specify": may(person, "issue_specification", asset),
            "here": request.get_full_path(),
            "record_url": reverse("record", args=[asset.pk]),
            "per": units.per,
        },
    )


def zone_rows(zones: list[Any], pictures: dict[UUID, ZonePicture], units: Units) -> list[ZoneRow]:
    rows = []
    for zone in zones:
        picture = pictures.get(zone.pk)
        density = units.with_interval(picture.density_found) if picture else "–"
        rows.append(ZoneRow(zone, picture, *state_of(picture), density))
    return rows


def state_of(picture: ZonePicture | None) -> tuple[str, str]:
    """The zone's state as (style of the drawing, words)."""
    if picture is None:
        return "none", say("not begun")
    if picture.release:
        return ("open", say("release undermined")) if picture.release.undermined else ("accepted", say("released"))
    if picture.may_release:
        return "ready", say("ready to release")
    if picture.turn is None:
        return "open", say("not ready")
    style = {"contractor": "begun", "owner": "owner"}.get(picture.turn.whose, "open")
    return style, say(WAITS[picture.turn.whose])


WAITS = {
    "crew": noted("waiting for the crew"),
    "lead": noted("waiting for the lead inspector"),
    "contractor": noted("waiting for the contractor"),
    "owner": noted("waiting for the owner"),
}


def _sentence(rows: list[ZoneRow]) -> str:
    if not rows:
        return say("No zone yet.")
    released = sum(row.state == "accepted" for row in rows)
    counts = Counter(row.state_word for row in rows if row.state != "accepted")
    sentence = say("{released} of {zones} zones released.", released=released, zones=len(rows))
    if not counts:
        return sentence
    others = "; ".join(say("{number} {state}", number=count, state=word) for word, count in counts.most_common())
    return f"{sentence} {say('The others: {others}.', others=others)}"


class Turns(NamedTuple):
    whose: str
    zones: list[tuple[Any, str, Any]]


def turns_of(rows: list[ZoneRow]) -> list[Turns]:
    """What waits for whom: by role, each zone with its sentence and since when."""
    waiting: dict[str, list[tuple[Any, str, Any]]] = {}
    for row in rows:
        if row.picture and row.picture.turn and not (row.picture.release and not row.picture.release.undermined):
            turn = row.picture.turn
            waiting.setdefault(turn.whose, []).append((row.zone, turn.why, turn.since))
        elif row.picture and row.picture.may_release and not row.picture.release:
            waiting.setdefault("owner", []).append((row.zone, say("Every gate is green: release it."), None))
    return [Turns(say(words), waiting[whose]) for whose, words in WHOSE.items() if whose in waiting]


WHOSE = {
    "owner": noted("Owner"),
    "lead": noted("Lead inspector"),
    "crew": noted("Crew"),
    "contractor": noted("Contractor"),
}


def density_chart(rows: list[ZoneRow], units: Units) -> SafeString | None:
    """Density as found with its interval by zone, against the allowed line; None while nothing is tested."""
    marked = []
    for row in rows:
        picture = row.picture
        if picture is None or picture.density_found is None:
            continue
        low, high = (units.density(bound) for bound in picture.density_found.interval_per_m2)
        allowed = units.density(picture.decision.limit_per_m2) if picture.decision else None
        kept = picture.contract.verdict == "kept" if picture.contract and picture.contract.verdict else None
        value = units.density(picture.density_found.per_m2)
        marked.append(charts.DensityRow(row.zone.name, value, low, high, allowed, kept))
    return mark_safe(charts.svg(charts.density_chart(marked, units.per))) if marked else None


@login_required
@require_safe
def record_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The record of an asset: entries as sentences, the newest first, and the head a paper copy must show."""
    person = cast(Person, request.user)
    asset = find(person, Asset, pk)
    entries = Entry.objects.filter(record=asset.pk).select_related("actor", "organisation").order_by("-seq")
    what = request.GET.get("what", "")
    if what:
        entries = entries.filter(what=what)
    page = Paginator(entries, 50).get_page(request.GET.get("page"))
    return render(
        request,
        "repairs/record.html",
        {
            "asset": asset,
            "page": page,
            "entries": [(entry, told(entry)) for entry in page],
            "head": Record.objects.get(pk=asset.pk).head if Record.objects.filter(pk=asset.pk).exists() else None,
            "what": what,
            "whats": [
                (name, REGISTRY[name].title if name in REGISTRY else name)
                for name in Entry.objects.filter(record=asset.pk)
                .order_by("what")
                .values_list("what", flat=True)
                .distinct()
            ],
            "record_url": request.path,
        },
    )


def told(entry: Entry) -> str:
    """An entry as a sentence."""
    body = json.loads(entry.body)
    given = body.get("input") or {}
    summary = say(REGISTRY[entry.what].summary) if entry.what in REGISTRY else entry.what.replace("_", " ").capitalize()
    title = summary.partition(":")[0].partition(";")[0].rstrip(".")
    shown = [f"{name.replace('_', ' ')}: {given[name]}" for name in SHOWN if given.get(name) not in (None, "", [])]
    said = [text if isinstance(text, str) else "" for text in body.get("consequences") or []]
    return " ".join(part for part in [f"{title}. {'; '.join(shown)}" if shown else f"{title}.", *said] if part)


class Aside(NamedTuple):
    """Something set aside, with its action's title and what was sent as (name, value)."""

    row: SetAside
    title: str
    sent: list[tuple[str, str]]


@login_required
def set_aside_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    """What was sent but contradicts what is recorded: a lead inspector looks at it and says how it was settled."""
    person = cast(Person, request.user)
    asset = find(person, Asset, pk)
    if Role.LEAD not in roles_on(person, asset):
        raise PermissionDenied(say("What was set aside is settled by: lead inspector."))
    rows = SetAside.objects.filter(record=asset.pk).select_related("person", "settled_by").order_by("-received_at")
    if request.method == "POST":
        wanted = request.POST.get("row", "")
        row = next((each for each in rows.filter(settled_at=None) if str(each.pk) == wanted), None)
        if row is None:
            raise Http404(say("There is nothing of that kind to settle."))
        how = request.POST.get("how", "").strip()
        if not how:
            messages.error(request, say("Say how it was settled."))
        else:
            row.settled_by, row.settled_at, row.settled_how = person, timezone.now(), how[:1000]
            row.save(update_fields=["settled_by", "settled_at", "settled_how"])
            messages.success(request, say("Settled. What was sent stays here with your words."))
        return see_other(request.path)
    shown = [
        Aside(
            row,
            str(REGISTRY[row.action].title) if row.action in REGISTRY else row.action,
            [(name.replace("_", " "), str(value)) for name, value in row.payload.items()],
        )
        for row in rows[:200]
    ]
    return render(request, "repairs/set_aside.html", {"asset": asset, "rows": shown})


SHOWN = (
    "place",
    "name",
    "kind",
    "lane",
    "outcome",
    "verdict",
    "phase",
    "measured",
    "reason",
    "why",
    "decision",
    "conditions",
    "batch",
)
