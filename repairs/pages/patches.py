"""The patch card: place with landmarks, drawing in millimetres, kit, steps with windows, hand over, retest."""

from __future__ import annotations

from typing import Any, NamedTuple, cast
from uuid import UUID

import numpy as np
import shapely
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe
from numpy.typing import NDArray
from rest_framework.exceptions import PermissionDenied

from accounts.access import roles_on
from accounts.acting import find, may
from accounts.people import Person, Role
from accounts.wording import say
from inspections.pages.flaws import from_landmarks
from inspections.passes import earlier_passes, repeated_words, warning_words
from inspections.runs import Run
from inspections.vocabulary import HIGH_VOLTAGE
from mapping.axes import size_words
from mapping.zones import Zone
from repairs.actions.retests import retester_organisation
from repairs.paints import paints_of
from repairs.picture import zone_picture
from repairs.work import Patch

CARD_WIDTH, CARD_HEIGHT, MARGIN = 560.0, 300.0, 46.0
TAG_WIDTH, TAG_HEIGHT = 62.0, 24.0


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
    middle = zone.surface.home(centre.x, centre.y)
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
            "from_landmarks": from_landmarks(zone, middle.x, middle.y),
            "centre_said": zone.surface.print_place(middle.x, middle.y),
            "sizes": size_words(zone.surface),
            "card": card_of(zone, row, flaws),
            "may_step": row.contractor == roles_on(person, row).get(Role.CONTRACTOR),
            "may_strike": may(person, "strike_patch", row),
            "may_retest": _may_retest(person, row),
            "may_concede": may(person, "concede", coating),
            "retest_runs": retest_runs,
            "before": warning_words(
                earlier_passes(coating, coating.terms.final_stage.name).runs(row.shape), person.units
            )
            if coating.terms.method in HIGH_VOLTAGE
            else "",
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
    """A patch drawn as seen facing the surface: path in marks, sizes in m, flaws as (tag, x, y, and how the tag stands)."""

    path: str
    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    flaws: list[tuple[str, float, float, str, int, int]]


def card_of(zone: Zone, patch: Patch, flaws: list[Any]) -> Card:
    """The patch upright as one stands before it: on a cone turned so that the slant runs up the page."""
    surface = zone.surface
    shape, turned = surface.upright(patch.shape)
    right, down = surface.to_view(*shapely.get_coordinates(shape).T)
    left_edge, top_edge = right.min(), down.min()
    wide, high = float(np.ptp(right)), float(np.ptp(down))
    scale = min((CARD_WIDTH - 2 * MARGIN) / wide, (CARD_HEIGHT - 2 * MARGIN) / high)
    left, top = (CARD_WIDTH - wide * scale) / 2, (CARD_HEIGHT - high * scale) / 2

    def at(points: NDArray[np.float64]) -> list[tuple[float, float]]:
        u, v = surface.to_view(*points.T)
        drawn = np.column_stack((left + (u - left_edge) * scale, top + (v - top_edge) * scale))
        return [(float(x), float(y)) for x, y in drawn.round(1)]

    rings = []
    for ring in shapely.get_rings(shapely.get_parts(shape)):
        rings.append("M" + "L".join(f"{u} {v}" for u, v in at(shapely.get_coordinates(ring)[:-1])) + "Z")
    places = [(flaw.tag, *at(np.array([turned(flaw.x, flaw.y)]))[0]) for flaw in flaws]
    marks = [(tag, x, y, *_beside(x, y, [(u, v) for _, u, v in places])) for tag, x, y in places]
    return Card(
        " ".join(rings), wide, high, round(left, 1), round(left + wide * scale, 1),
        round(top, 1), round(top + high * scale, 1), marks,
    )  # fmt: skip


def _beside(x: float, y: float, places: list[tuple[float, float]]) -> tuple[str, int, int]:
    """Where a flaw's tag stands, as anchor and steps from its mark: right of it, or where no other mark is near."""
    near = [u - x for u, v in places if (u, v) != (x, y) and abs(u - x) < TAG_WIDTH and abs(v - y) < TAG_HEIGHT]
    if not any(step >= 0 for step in near):
        return "start", 11, 4
    return ("end", -11, 4) if all(step >= 0 for step in near) else ("middle", 0, -12)


@login_required
@require_safe
def work_pack(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Every patch of a zone as cards in a list, for the contractor: what is workable now, what opens and closes when."""
    person = cast(Person, request.user)
    zone = find(person, Zone, pk)
    coating = zone.coatings.filter(ended_at=None).first()
    if coating is None:
        raise Http404(say("No coating has begun on this zone."))
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
            "paints": paints_of(picture.terms, picture.patches),
            "repeated_words": repeated_words(picture.repeated, person.units),
            "may_issue": may(person, "issue_patches", coating),
            "here": request.get_full_path(),
            "issue_url": reverse("do", args=["issue_patches", coating.pk]),
        },
    )
