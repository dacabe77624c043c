"""Assets, one asset drawn to scale as one sees it, and its record."""

from __future__ import annotations

import json
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
from django.views.decorators.http import require_safe
from rest_framework.exceptions import PermissionDenied

from accounts.access import assets_of, roles_on
from accounts.acting import REGISTRY, find, may
from accounts.assets import Asset
from accounts.forms import see_other
from accounts.people import Person, Role
from accounts.record import Entry, Record
from accounts.sync import SetAside
from accounts.units import show
from mapping.landmarks import Landmark
from repairs.picture import ZonePicture, asset_pictures
from repairs.seen import drawn, part_of


@dataclass(frozen=True)
class ZoneRow:
    """One zone of the asset's table."""

    zone: Any
    picture: ZonePicture | None
    state: str
    state_word: str


class Line(NamedTuple):
    """One line of the density chart: the figure and its interval per 100 m2, in marks."""

    name: str
    at: float
    low: float
    high: float
    kept: bool
    value: str
    interval: str
    allowed: float | None


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
    pictures = {
        picture.zone.pk: picture
        for picture in asset_pictures(asset, area=lambda square: show(square, "area", person.units))
    }
    zones = list(asset.zones.all())
    rows = zone_rows(zones, pictures)
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
            "chart": density_chart(rows, person.units),
            "asides": SetAside.objects.filter(record=asset.pk, settled_at=None).count()
            if Role.LEAD in roles_on(person, asset)
            else 0,
            "landmarks": Landmark.objects.filter(asset=asset, struck_at=None).count(),
            "specifications": asset.specifications.order_by("-issued_at"),
            "may_add_zone": may(person, "add_zone", asset),
            "may_specify": may(person, "issue_specification", asset),
            "here": request.get_full_path(),
            "record_url": reverse("record", args=[asset.pk]),
            "per": "1000 ft²" if person.units == "us" else "100 m²",
        },
    )


def zone_rows(zones: list[Any], pictures: dict[UUID, ZonePicture]) -> list[ZoneRow]:
    return [ZoneRow(zone, pictures.get(zone.pk), *state_of(pictures.get(zone.pk))) for zone in zones]


def state_of(picture: ZonePicture | None) -> tuple[str, str]:
    """The zone's state as (status style, words)."""
    if picture is None:
        return "none", "not begun"
    if picture.release:
        return ("accepted", "released") if not picture.release.undermined else ("open", "release undermined")
    if picture.may_release:
        return "ready", "ready to release"
    if picture.turn is None:
        return "open", "not ready"
    words = {"crew": "waits for the crew", "lead": "waits for the lead", "contractor": "waits for the contractor",
             "owner": "waits for the owner"}  # fmt: skip
    return {"contractor": "begun", "owner": "ready"}.get(picture.turn.whose, "open"), words[picture.turn.whose]


def _sentence(rows: list[ZoneRow]) -> str:
    if not rows:
        return "No zone yet."
    released = sum(row.state_word == "released" for row in rows)
    counts: dict[str, int] = {}
    for row in rows:
        if row.state_word != "released":
            counts[row.state_word] = counts.get(row.state_word, 0) + 1
    parts = [
        f"{count} {word.replace('waits', 'wait') if count > 1 else word}"
        for word, count in sorted(counts.items(), key=lambda item: -item[1])
    ]
    return f"{released} of {len(rows)} zones released." + (f" Of the others {', '.join(parts)}." if parts else "")


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
            waiting.setdefault("owner", []).append((row.zone, "Every gate is green: release it.", None))
    names = {"owner": "Owner", "lead": "Lead inspector", "crew": "Crew", "contractor": "Contractor"}
    return [Turns(names[whose], waiting[whose]) for whose in names if whose in waiting]


def density_chart(rows: list[ZoneRow], units: str) -> dict[str, Any]:
    """Density as found with its interval by zone, against the allowed line; positions are shares of the widest."""
    times = 92.90304 if units == "us" else 100.0
    found = [row for row in rows if row.picture and row.picture.density_found]
    if not found:
        return {}
    limits = [row.picture.decision.limit_per_m2 * times for row in found if row.picture and row.picture.decision]
    values = [(row, row.picture.density_found) for row in found if row.picture]
    most = max(
        [
            *(
                times * min(density.interval_per_m2.high, 3 * max(density.per_m2, 0.02))
                for _, density in values
                if density
            ),
            *limits,
            1.0,
        ]
    )
    lines = []
    for row, density in values:
        if density is None or row.picture is None:
            continue
        low, high = (times * bound for bound in density.interval_per_m2)
        value = times * density.per_m2
        contract = row.picture.contract
        lines.append(
            Line(
                row.zone.name, _mark(value, most), _mark(low, most), _mark(high, most),
                contract is None or contract.verdict != "exceeded", f"{value:.1f}", f"{low:.1f} to {high:.1f}", None,
            )
        )  # fmt: skip
    allowed = limits[0] if limits else None
    return {"lines": lines, "allowed": allowed, "allowed_at": _mark(allowed, most) if allowed is not None else None,
            "height": 30 * len(lines) + 40, "most": most}  # fmt: skip


def _mark(value: float, most: float) -> float:
    return round(170 + 520 * min(value / most, 1.0), 1)


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
    summary = REGISTRY[entry.what].summary if entry.what in REGISTRY else entry.what.replace("_", " ").capitalize()
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
        raise PermissionDenied("What was set aside is settled by: lead inspector.")
    rows = SetAside.objects.filter(record=asset.pk).select_related("person", "settled_by").order_by("-received_at")
    if request.method == "POST":
        wanted = request.POST.get("row", "")
        row = next((each for each in rows.filter(settled_at=None) if str(each.pk) == wanted), None)
        if row is None:
            raise Http404("There is nothing of that kind to settle.")
        how = request.POST.get("how", "").strip()
        if not how:
            messages.error(request, "Say how it was settled.")
        else:
            row.settled_by, row.settled_at, row.settled_how = person, timezone.now(), how[:1000]
            row.save(update_fields=["settled_by", "settled_at", "settled_how"])
            messages.success(request, "Settled. What was sent stays here with your words.")
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
    "phase",
    "measured",
    "reason",
    "why",
    "decision",
    "conditions",
    "batch",
)
