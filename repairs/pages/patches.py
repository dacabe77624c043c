"""The patch card: place with landmarks, drawing in millimetres, kit, steps with windows, hand over, retest."""

from __future__ import annotations

from typing import Any, NamedTuple, cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe
from rest_framework.exceptions import PermissionDenied
from shapely.geometry import Polygon

from accounts.access import roles_on
from accounts.acting import find, may
from accounts.people import Person, Role
from inspections.pages.flaws import from_landmarks
from inspections.runs import Run
from mapping.zones import Zone
from repairs.actions.retests import retester_organisation
from repairs.picture import zone_picture
from repairs.work import Patch

CARD_WIDTH, CARD_HEIGHT, MARGIN = 560.0, 300.0, 46.0


class Point(NamedTuple):
    x: float
    y: float


@login_required
@require_safe
def patch_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    row = find(person, Patch, pk)
    coating, zone = row.coating, row.coating.zone
    picture = zone_picture(coating)
    patch = next((each for each in picture.patches if each.id == row.pk), None)
    if patch is None:
        return render(request, "repairs/patch_struck.html", {"patch": row, "zone": zone, "asset": zone.asset})
    centre = zone.surface.unroll(row.shape).centroid
    period = zone.surface.period
    middle = Point(centre.x, centre.y % period if period else centre.y)
    flaws = [flaw for flaw in picture.flaws if flaw.patch_id == row.pk]
    retest_runs = Run.objects.filter(
        sheet__coating=coating, purpose=Run.Purpose.RETEST, closed_at=None, struck_at=None
    ).select_related("sheet")
    return render(
        request,
        "repairs/patch.html",
        {
            "row": row,
            "patch": patch,
            "flaws": flaws,
            "zone": zone,
            "asset": zone.asset,
            "coating": coating,
            "terms": coating.terms,
            "from_landmarks": from_landmarks(zone, middle),
            "centre_said": zone.surface.print_place(middle.x, middle.y),
            "card": card_of(zone, row, flaws),
            "may_step": row.contractor == roles_on(person, row).get(Role.CONTRACTOR),
            "may_strike": may(person, "strike_patch", row),
            "may_retest": _may_retest(person, row),
            "may_concede": may(person, "concede", coating),
            "retest_runs": retest_runs,
            "here": request.get_full_path(),
        },
    )


def _may_retest(person: Person, patch: Patch) -> bool:
    """Not whoever worked on it, nor their firm where the specification asks for another."""
    try:
        retester_organisation(person, patch)
    except PermissionDenied:
        return False
    return True


class Card(NamedTuple):
    """A patch drawn as seen facing the surface: path in marks, sizes in mm, flaws as (tag, x, y)."""

    path: str
    width_mm: int
    height_mm: int
    left: float
    right: float
    top: float
    bottom: float
    flaws: list[tuple[str, float, float]]


def card_of(zone: Zone, patch: Patch, flaws: list[Any]) -> Card:
    surface = zone.surface
    shape = surface.unroll(patch.shape)
    pieces = [shape] if isinstance(shape, Polygon) else list(shape.geoms)
    # Down the page as seen: outside the clock runs downwards, inside it runs upwards.
    sign = 1.0 if zone.face == "outside" else -1.0
    low_x, low_y, high_x, high_y = shape.bounds
    wide, high = high_x - low_x, high_y - low_y
    scale = min((CARD_WIDTH - 2 * MARGIN) / wide, (CARD_HEIGHT - 2 * MARGIN) / high)
    left, top = (CARD_WIDTH - wide * scale) / 2, (CARD_HEIGHT - high * scale) / 2

    def at(x: float, y: float) -> tuple[float, float]:
        down = y - low_y if sign > 0 else high_y - y
        return round(left + (x - low_x) * scale, 1), round(top + down * scale, 1)

    rings = []
    for piece in pieces:
        for ring in (piece.exterior, *piece.interiors):
            rings.append("M" + "L".join(f"{u} {v}" for u, v in (at(x, y) for x, y in ring.coords[:-1])) + "Z")
    marks = []
    for flaw in flaws:
        y = flaw.y
        if surface.period:
            y = min(
                (flaw.y + turn * surface.period for turn in (-1, 0, 1)), key=lambda v: abs(v - (low_y + high_y) / 2)
            )
        marks.append((flaw.tag, *at(flaw.x, y)))
    return Card(
        " ".join(rings), round(wide * 1000), round(high * 1000), round(left, 1), round(left + wide * scale, 1),
        round(top, 1), round(top + high * scale, 1), marks,
    )  # fmt: skip


@login_required
@require_safe
def work_pack(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Every patch of a zone as cards in a list, for the contractor: what is workable now, what opens and closes when."""
    person = cast(Person, request.user)
    zone = find(person, Zone, pk)
    coating = zone.coatings.filter(ended_at=None).first()
    if coating is None:
        raise Http404("No coating has begun on this zone.")
    picture = zone_picture(coating)
    return render(
        request,
        "repairs/work_pack.html",
        {
            "zone": zone,
            "asset": zone.asset,
            "coating": coating,
            "picture": picture,
            "patches": picture.patches,
            "may_issue": may(person, "issue_patches", coating),
            "here": request.get_full_path(),
            "issue_url": reverse("do", args=["issue_patches", coating.pk]),
        },
    )
