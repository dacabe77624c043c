"""Field sheets: what was recorded on one, and taking a new one."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.acting import find, may, perform
from accounts.forms import see_other
from accounts.people import Person
from accounts.units import show
from accounts.wording import say
from inspections.actions.spots import unit_asked
from inspections.coatings import Coating, FieldSheet, Spot
from inspections.noted_runs import with_notes
from inspections.pages.air_block import air_now
from inspections.run_basis import basis_questions
from inspections.spot_doubts import Weighed, weighed
from inspections.terms import Terms


@login_required
@require_safe
def sheet_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    sheet = find(person, FieldSheet, pk)
    runs = with_notes(
        sheet.runs.select_related("instrument", "electrode", "struck_by").order_by("number"), timezone.now()
    )
    for run in runs:
        run.sheet = sheet
    spots = list(sheet.spots.select_related("gauge").order_by("at"))
    against = weighed(sheet.coating, spots)
    return render(
        request,
        "inspections/sheet.html",
        {
            "sheet": sheet,
            "coating": sheet.coating,
            "zone": sheet.coating.zone,
            "asset": sheet.coating.zone.asset,
            "runs": runs,
            "in_question": basis_questions(runs),
            "flaws": sheet.flaws.select_related("run", "sheet").prefetch_related("classifications").order_by("number"),
            "spots": [_spot_row(spot, against[spot.pk], sheet.coating.terms, person.units) for spot in spots],
            "doubtful": any(found.doubts for found in against.values()),
            "gauge_checks": sheet.gauge_checks.select_related("gauge", "by").order_by("at"),
            "may_strike": may(person, "record_spot", sheet),
            "may_decide_spots": may(person, "decide_spots", sheet.coating),
            "may_open": sheet.is_out and may(person, "open_run", sheet),
            "may_hand_in": sheet.is_out and may(person, "hand_in_sheet", sheet),
            "may_give_up": sheet.is_out and may(person, "give_up_sheet", sheet),
            "air": air_now(sheet.coating, person.units) if sheet.is_out else None,
            "permits": sheet.coating.permits.select_related("by", "renews", "struck_by").order_by(
                "-recorded_at", "-pk"
            )[:20],
            "may_permit": may(person, "strike_permit", sheet.coating),
            "here": request.get_full_path(),
        },
    )


def _spot_row(spot: Spot, against: Weighed, terms: Terms, units: str) -> Spot:
    """The spot with what speaks against it and what is asked of its unit, in the reader's words."""

    def film(um: float) -> str:
        return show(um, "film", units, 1)

    asked = unit_asked(spot, terms)
    lines = [doubt.line for doubt in against.doubts]
    lines += [line for line in (against.left_out, asked) if line is not None]
    spot.against, spot.asked = [line.said(film) for line in lines], asked  # type: ignore[attr-defined]
    return spot


@login_required
@require_POST
def take_sheet(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Take a sheet on a coating and go to it; my own sheet that is still out is opened instead of a second one."""
    person = cast(Person, request.user)
    coating = find(person, Coating, pk)
    out = FieldSheet.objects.filter(coating=coating, person=person, handed_in_at=None, given_up_why=None).first()
    if out is not None:
        messages.info(request, say("You have {out} of this zone already.", out=out))
        return see_other(reverse("sheet", args=[out.pk]))
    given = request.POST.get("id")
    done = perform("take_sheet", person, coating.pk, {}, operation=UUID(given) if given else None)
    sheet = FieldSheet.objects.get(pk=done.entry.operation)
    messages.success(request, say("{sheet} is yours. Tags begin with {letter}.", sheet=sheet, letter=sheet.letter))
    return see_other(reverse("sheet", args=[sheet.pk]))
