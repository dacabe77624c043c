"""A thin place becomes a flaw: where the gauge found the film thinner than a spot may be."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import Max, Q
from django.db.models.query import QuerySet
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.languages import say_later
from accounts.people import Person, Role
from accounts.wording import say
from inspections.actions.sheets import SheetOrder, fresh, moment, next_seq, tell_late
from inspections.coatings import Spot
from inspections.film_judgement import limits
from inspections.flaws import Classification, Flaw, FlawKind
from inspections.runs import Run

SPOT_SIZE = 0.04
"""m; a spot is taken inside a circle of 40 mm (SSPC-PA 2, public summaries)."""


class ReportThinSpot(SheetOrder):
    run = serializers.UUIDField(
        required=False,
        allow_null=True,
        default=None,
        label=_("In which run"),
        help_text=_("Empty: your run that is open. A flaw is recorded in a run; a visual one will do."),
    )


@action("report_thin_spot", takes=ReportThinSpot, roles={Role.CREW}, on=Spot, title=_("Report as a flaw"))
def report_thin_spot(act: Acting, spot: Spot, given: dict[str, Any]) -> Flaw:
    """Report a thickness spot that is too thin as a flaw found by gauge: it is repaired, and not counted as a holiday."""
    known = spot.flaws.filter(struck_at=None).select_related("sheet").first()
    if known is not None:
        act.refuse("spot", say("{place} is flaw {tag} already.", place=spot.said, tag=known.tag))
    low = _check_thin(act, spot)
    run = _run(act, spot, given["run"])
    sheet = fresh(run.sheet)
    number = (sheet.flaws.aggregate(last=Max("number"))["last"] or 0) + 1
    flaw = act.insert(
        Flaw(
            id=act.id,
            sheet=sheet,
            run=run,
            spot=spot,
            number=number,
            found_by=Flaw.FoundBy.GAUGE,
            said=spot.said,
            x=spot.x,
            y=spot.y,
            size_x=SPOT_SIZE,
            size_y=SPOT_SIZE,
            found_at=moment(act, given),
            sheet_seq=next_seq(sheet, given.get("sheet_seq")),
            by=act.person,
            note=f"mean {spot.mean:.1f} µm, less than the {low:.1f} µm a spot needs",
        )
    )
    act.insert(Classification(flaw=flaw, kind=FlawKind.THIN, by=act.person, at=act.now))
    tell_late(act, sheet, say_later("{tag} was reported", tag=flaw.tag), run)
    return flaw


def _check_thin(act: Acting, spot: Spot) -> float:
    """What a spot must have at least, um; refused where this one has it, and where the specification says nothing."""
    terms = spot.coating.terms
    low, _high = limits(terms, terms.stage(spot.stage))
    if low is None:
        act.refuse("spot", say("The specification states no least thickness for {stage}.", stage=spot.stage))
    if spot.mean >= low:
        act.refuse(
            "spot",
            say(
                "{place} is not thin: its mean is {mean:.1f} µm, and a spot needs {low:.1f} µm.",
                place=spot.said,
                mean=spot.mean,
                low=low,
            ),
        )
    return low


def _run(act: Acting, spot: Spot, pk: UUID | None) -> Run:
    """The run named, or the person's open one."""
    runs = runs_for(act.person, spot)
    run = runs.filter(pk=pk).first() if pk else runs.filter(closed_at=None, sheet__person=act.person).first()
    if run is None:
        act.refuse(
            "run",
            say("That is no run of yours, nor of a sheet that is handed in, on this coating.")
            if pk
            else say("You have no run open on this zone. Choose one, or open a run first; a visual one will do."),
        )
    return run


def runs_for(person: Person, spot: Spot) -> QuerySet[Run]:
    """Runs in which the person can report a thin spot, latest first.

    On another's sheet that is out, tags may be in use that have not arrived yet, painted on the surface.
    """
    mine = Q(sheet__person=person) | ~Q(sheet__handed_in_at=None) | Q(sheet__given_up_why__isnull=False)
    return (
        Run.objects.filter(mine, sheet__coating=spot.coating_id, struck_at=None)
        .select_related("sheet__coating__zone__asset")
        .order_by("-opened_at")
    )


def flaws_by_spot(coating: UUID) -> dict[UUID, Flaw]:
    """The flaws of a coating that thickness spots became, by the spot."""
    rows = Flaw.objects.filter(sheet__coating=coating, struck_at=None).exclude(spot=None).select_related("sheet")
    return {row.spot_id: row for row in rows if row.spot_id}
