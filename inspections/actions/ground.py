"""Ground swept, and ground spoiled by later work."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.people import Role
from accounts.rows import LARGEST
from accounts.wording import say
from inspections.actions.sheets import (
    SheetOrder,
    check_may_record,
    check_may_strike,
    fresh,
    moment,
    next_seq,
    of_the_crew,
    tell_late,
)
from inspections.coatings import Coating, Disturbance
from inspections.passes import earlier_passes, warning_words
from inspections.runs import Run, Swath
from inspections.tested import refresh, stretch_range
from inspections.vocabulary import HIGH_VOLTAGE
from mapping.actions.zones import Why
from mapping.fields import RegionField
from mapping.surfaces import Surface


class Sweeping(SheetOrder):
    """When something was swept: from the press before until now, unless times are given."""

    island = serializers.CharField(label=_("Island"), max_length=60, required=False, allow_blank=True, default="")
    started_at = serializers.DateTimeField(
        label=_("Started"), required=False, help_text=_("Leave empty: since the press before, or the run's opening.")
    )
    ended_at = serializers.DateTimeField(label=_("Ended"), required=False, help_text=_("Leave empty for now."))
    start_seq = serializers.IntegerField(
        label=_("Press it starts from"),
        required=False,
        min_value=0,
        max_value=LARGEST,
        help_text=_("Place of the press it starts from; left out where times were edited by hand."),
    )


class MarkSwept(Sweeping):
    place = RegionField(
        label=_("Swept"), help_text=_("A stretch, a stretch between two clock positions, or a lane of it.")
    )
    lane = serializers.CharField(label=_("Lane"), max_length=60, required=False, allow_blank=True, default="")

    @staticmethod
    def surface_of(run: Run) -> Surface:
        return run.sheet.coating.zone.surface


@action("mark_swept", takes=MarkSwept, roles={Role.CREW, Role.CONTRACTOR}, on=Run, guard=of_the_crew, title=_("Swept"))
def mark_swept(act: Acting, run: Run, given: dict[str, Any]) -> Swath:
    """Mark ground as swept: from the press before (or the opening of the run) until now, unless times are given."""
    swath = record_swath(act, run, given, swath_row)
    if run.method in HIGH_VOLTAGE:
        reached = (swath.stretch_low, swath.stretch_high)
        found = earlier_passes(run.sheet.coating, run.stage, but=run, stretches=reached).runs(swath.shape)
        if found:
            act.tell(lazy(warning_words, str)(found, "si"))
    return swath


def record_swath(act: Acting, run: Run, given: dict[str, Any], row: Callable[..., Swath]) -> Swath:
    """Store what `row` makes of the input and when it was swept, and judge it."""
    check_may_record(act, run)
    sheet = fresh(run.sheet)
    hand_timed = given.get("start_seq") is None and bool(given.get("started_at") or given.get("ended_at"))
    ended_at = moment(act, given, "ended_at" if given.get("ended_at") else "at")
    seq = given.get("sheet_seq")
    before = sheet.last_seq if seq is None else seq - 1  # late arrivals have their place between others
    started_at = given.get("started_at") or _press_before(run, ended_at)
    swath = act.insert(
        row(
            act,
            run,
            given,
            pk=act.id,
            times=(started_at, ended_at),
            orders=(
                given["start_seq"] if given.get("start_seq") is not None else before,
                next_seq(sheet, seq),
            ),
            hand_timed=hand_timed,
        )
    )
    refresh(act, run, touched=[swath])
    swath.refresh_from_db(fields=["standing", "cause"])
    tell_late(act, sheet, _("this was marked"), run)
    return swath


def swath_row(
    act: Acting,
    run: Run,
    given: dict[str, Any],
    *,
    pk: UUID,
    times: tuple[datetime, datetime],
    orders: tuple[int, int],
    hand_timed: bool,
) -> Swath:
    """A swath of ground as a row, not yet stored: start and end by the clock and by order of recording."""
    check_times(act, run, times)
    said, shape = given["place"]
    low, high = stretch_range(MarkSwept.surface_of(run), shape)
    return Swath(
        id=pk,
        run=run,
        lane=given["lane"],
        said=said,
        shape=shape,
        area=shape.area,
        stretch_low=low,
        stretch_high=high,
        island=given["island"],
        started_at=times[0],
        ended_at=times[1],
        start_seq=orders[0],
        sheet_seq=orders[1],
        hand_timed=hand_timed,
    )


def check_times(act: Acting, run: Run, times: tuple[datetime, datetime]) -> None:
    """Refuse a sweep that starts after its end."""
    if times[0] > times[1]:
        zone = run.sheet.coating.zone.asset.zone_info
        start, end = (f"{at.astimezone(zone):%H:%M}" for at in times)
        act.refuse("started_at", say("It starts at {start}, after its end at {end}.", start=start, end=end))


def _press_before(run: Run, ended_at: datetime) -> datetime:
    """When the press before this one was made: a swath's end, a check, or the opening of the run."""
    presses = [run.opened_at]
    presses += (
        run.swaths.filter(struck_at=None, ended_at__lte=ended_at)
        .order_by("-ended_at")
        .values_list("ended_at", flat=True)[:1]
    )
    presses += (
        run.verifications.filter(struck_at=None, at__lte=ended_at).order_by("-at").values_list("at", flat=True)[:1]
    )
    return min(max(presses), ended_at)


@action("strike_swath", takes=Why, roles={Role.CREW, Role.CONTRACTOR}, on=Swath, title=_("Strike out"))
def strike_swath(act: Acting, swath: Swath, given: dict[str, Any]) -> Swath:
    """Strike out ground that was not swept after all."""
    check_may_strike(act, swath, swath.run.recorder_id, swath.ended_at)
    act.strike(swath, given["why"])
    refresh(act, swath.run, touched=[swath])
    return swath


class RecordDisturbance(serializers.Serializer):
    place = RegionField(label=_("Place"), help_text=_("The ground that was welded, ground, struck or damaged."))
    kind = serializers.ChoiceField(label=_("Kind"), choices=Disturbance.Kind.choices)
    at = serializers.DateTimeField(required=False, label=_("When"), help_text=_("Leave empty for now."))

    @staticmethod
    def surface_of(coating: Coating) -> Surface:
        return coating.zone.surface


@action(
    "record_disturbance",
    takes=RecordDisturbance,
    roles={Role.CREW, Role.CONTRACTOR, Role.OWNER},
    on=Coating,
    title=_("Record later work"),
)
def record_disturbance(act: Acting, coating: Coating, given: dict[str, Any]) -> Disturbance:
    """Record work that spoils what was tested there; as left, that ground has to be swept again."""
    said, shape = given["place"]
    return act.insert(
        Disturbance(
            id=act.id, coating=coating, said=said, shape=shape, at=moment(act, given), kind=given["kind"], by=act.person
        )
    )


@action("strike_disturbance", takes=Why, roles={Role.CREW, Role.CONTRACTOR}, on=Disturbance, title=_("Strike out"))
def strike_disturbance(act: Acting, row: Disturbance, given: dict[str, Any]) -> Disturbance:
    """Strike out later work that did not happen there."""
    check_may_strike(act, row, row.by_id, row.at)
    return act.strike(row, given["why"])
