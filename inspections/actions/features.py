"""Welds, edges, nozzles and brackets swept in a run, whole or in part."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.people import Role
from accounts.wording import say
from inspections.actions.ground import Sweeping, check_times, record_swath
from inspections.runs import Run, Swath
from mapping import lines
from mapping.features import Feature


class SweepFeature(Sweeping):
    feature = serializers.UUIDField(label=_("Weld, edge, nozzle or bracket"))
    part = serializers.CharField(
        required=False,
        allow_blank=True,
        default="",
        max_length=120,
        label=_("Which part of it"),
        help_text=_(
            "Leave empty for all of it. Of a weld or edge: metres along it, such as 0.40 to 3.20 m, or the stretch of the "
            "zone in which it was swept."
        ),
    )


@action(
    "sweep_feature",
    takes=SweepFeature,
    roles={Role.CREW, Role.CONTRACTOR},
    on=Run,
    title=_("Weld, edge, nozzle or bracket swept"),
)
def sweep_feature(act: Acting, run: Run, given: dict[str, Any]) -> Swath:
    """Mark a weld, edge, nozzle or bracket as swept: from the press before until now, unless times are given."""
    return record_swath(act, run, given, feature_swath_row)


def feature_swath_row(
    act: Acting,
    run: Run,
    given: dict[str, Any],
    *,
    pk: UUID,
    times: tuple[datetime, datetime],
    orders: tuple[int, int],
    hand_timed: bool,
) -> Swath:
    """The sweep of a feature as a row, not yet stored."""
    check_times(act, run, times)
    zone = run.sheet.coating.zone
    feature = Feature.objects.filter(pk=given["feature"], zone=zone).first()
    if feature is None:
        act.refuse("feature", say("That is no weld, edge, nozzle or bracket of {zone}.", zone=zone))
    if feature.is_struck:
        act.tell("{feature} has been struck out: its coverage does not count.", feature=feature)
    said, part = f"{feature.kind} {feature.name}", given["part"].strip()
    along: list[list[float]] = []
    shape = feature.shape
    if feature.is_line:
        try:
            parts = lines.read_part(zone.surface, feature.shape, part)
        except ValueError as problem:
            act.refuse("part", str(problem))
        along = [[low, high] for low, high in parts]
        shape = feature.part(zone.surface, parts)
        said = said if part.lower() in ("", lines.WHOLE) else f"{said}, {part}"
    elif part and part.lower() != lines.WHOLE:
        act.refuse("part", say("A {kind} is swept whole; leave this empty.", kind=feature.get_kind_display()))
    return Swath(
        id=pk,
        run=run,
        said=said,
        shape=shape,
        area=0.0,
        feature=feature,
        along=along,
        island=given["island"],
        started_at=times[0],
        ended_at=times[1],
        start_seq=orders[0],
        sheet_seq=orders[1],
        hand_timed=hand_timed,
    )
