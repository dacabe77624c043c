"""Checks of thickness gauges on shims, and decisions on the spots they leave in doubt."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.people import Person, Role
from accounts.units import FilmField
from accounts.wording import say
from inspections.actions.rulings import keep_upload
from inspections.actions.sheets import SheetOrder, check_may_strike, fresh, moment, tell_late
from inspections.actions.spots import gauge_of
from inspections.coatings import Coating, FieldSheet, Spot
from inspections.gauge_standing import outcome_of
from inspections.gauges import GaugeCheck, SpotRuling
from inspections.instruments import Instrument
from inspections.spot_doubts import weighed
from mapping.actions.zones import Why


class CheckGauge(SheetOrder):
    gauge = serializers.UUIDField(label=_("Gauge"))
    plate = serializers.CharField(
        max_length=80,
        required=False,
        allow_blank=True,
        default="",
        label=_("Shim or plate"),
        help_text=_("Which one, as it is marked."),
    )
    shim = FilmField(min_value=0.0, max_value=25000.0, label=_("Its thickness"), help_text=_("0 for the zero plate."))
    measured = FilmField(min_value=-1000.0, max_value=26000.0, label=_("The gauge shows"))
    tolerance = FilmField(
        min_value=0.0,
        max_value=2500.0,
        label=_("Tolerance"),
        help_text=_("Of gauge and shim together, as the gauge's instructions state it."),
    )
    note = serializers.CharField(
        label=_("Note"), max_length=200, required=False, allow_blank=True, default="", style={"later": True}
    )


def measured_with(gauge: UUID) -> set[UUID]:
    """The assets on which a gauge measured spots that stand."""
    rows = Spot.objects.filter(gauge=gauge, struck_at=None)
    return set(rows.values_list("coating__zone__asset", flat=True))


def _elsewhere(sheet: FieldSheet, given: Mapping[str, Any]) -> Iterable[UUID]:
    try:
        return measured_with(UUID(str(given.get("gauge"))))
    except ValueError:
        return ()


@action(
    "check_gauge",
    takes=CheckGauge,
    roles={Role.CREW},
    on=FieldSheet,
    title=_("Check a thickness gauge"),
    reaches=_elsewhere,
)
def check_gauge(act: Acting, sheet: FieldSheet, given: dict[str, Any]) -> GaugeCheck:
    """Record what a gauge shows on a shim or zero plate; one that fails leaves its spots since the last good check in doubt."""
    check = act.insert(check_row(act, sheet, given, pk=act.id, at=moment(act, given), by=act.person))
    tell_late(act, fresh(sheet), _("this check was recorded"))
    if check.outcome != GaugeCheck.Outcome.GOOD:
        act.tell(
            "{gauge} shows {measured} on {shim}, more than {tolerance} off: it failed.",
            gauge=check.gauge,
            measured=check.measured_said,
            shim=check.shim_said,
            tolerance=check.tolerance_said,
        )
    weigh_anew(act, check.gauge)
    return check


def check_row(
    act: Acting, sheet: FieldSheet, given: dict[str, Any], *, pk: UUID, at: datetime, by: Person
) -> GaugeCheck:
    """A check of a gauge as a row, not yet stored; refuses what is no gauge of the firm."""
    shim, measured, tolerance = given["shim"], given["measured"], given["tolerance"]
    return GaugeCheck(
        id=pk,
        sheet=sheet,
        gauge=gauge_of(act, given["gauge"]),
        plate=given["plate"],
        shim=shim.value,
        shim_said=shim.said,
        measured=measured.value,
        measured_said=measured.said,
        tolerance=tolerance.value,
        tolerance_said=tolerance.said,
        outcome=outcome_of(shim.value, measured.value, tolerance.value),
        at=at,
        by=by,
        note=given["note"],
    )


def weigh_anew(act: Acting, gauge: Instrument) -> None:
    """Note the coatings whose spots were measured with the gauge: what is judged of them may have changed."""
    rows = Coating.objects.filter(spots__gauge=gauge, spots__struck_at=None).distinct()
    coatings = list(rows.select_related("zone__asset"))
    act.reach(coatings)
    for coating in coatings:
        spots = list(coating.spots.filter(struck_at=None, gauge=gauge).select_related("gauge"))
        doubtful = sum(bool(found.doubts) for found in weighed(coating, spots).values())
        if doubtful:
            act.tell(
                "{zone}: {count} spots measured with {gauge} are in doubt and do not count until somebody decides.",
                on=coating.zone.asset_id,
                zone=coating.zone.name,
                count=doubtful,
                gauge=gauge,
            )


@action(
    "strike_gauge_check",
    takes=Why,
    roles={Role.CREW},
    on=GaugeCheck,
    title=_("Strike out"),
    reaches=lambda check, given: measured_with(check.gauge_id),
)
def strike_gauge_check(act: Acting, check: GaugeCheck, given: dict[str, Any]) -> GaugeCheck:
    """Strike out a check of a gauge that was recorded by mistake; its spots are weighed anew."""
    check_may_strike(act, check, check.by_id, check.at)
    act.strike(check, given["why"])
    weigh_anew(act, check.gauge)
    return check


class DecideSpots(serializers.Serializer):
    spots = serializers.ListField(
        label=_("Spots"),
        child=serializers.UUIDField(),
        required=False,
        default=list,
        help_text=_("Leave empty for all that are in doubt."),
    )
    decision = serializers.ChoiceField(label=_("Decision"), choices=SpotRuling.Decision.choices)
    grounds = serializers.CharField(
        max_length=1000,
        label=_("On what evidence"),
        help_text=_("Such as: measured again with another gauge at five of the places, all within 10 µm."),
    )
    why = serializers.CharField(max_length=1000, label=_("Reason"))
    file = serializers.FileField(
        label=_("File"),
        required=False,
        allow_null=True,
        default=None,
        help_text=_("Photo or certificate; up to 10 MB."),
    )


@action(
    "decide_spots",
    takes=DecideSpots,
    roles={Role.LEAD, Role.OWNER},
    on=Coating,
    title=_("Decide on spots in doubt"),
    decision=True,
)
def decide_spots(act: Acting, coating: Coating, given: dict[str, Any]) -> SpotRuling:
    """Say whether thickness spots that a gauge's check or certificate left in doubt count, why, and on what evidence."""
    spots = list(coating.spots.filter(struck_at=None).select_related("gauge"))
    doubtful = {pk: found.doubts for pk, found in weighed(coating, spots).items() if found.doubts}
    wanted = set(given["spots"]) or set(doubtful)
    if not wanted:
        act.refuse("spots", say("No spot of this coating is in doubt."))
    if not wanted <= set(doubtful):
        act.refuse("spots", say("Only spots of this coating that are in doubt can be chosen."))
    file = given["file"]
    return act.insert(
        SpotRuling(
            id=act.id,
            coating=coating,
            spots=sorted(map(str, wanted)),
            doubts=sorted({doubt.key for pk in wanted for doubt in doubtful[pk]}),
            decision=given["decision"],
            why=given["why"],
            grounds=given["grounds"],
            evidence=keep_upload(act, coating.zone.asset_id, file) if file else None,
            by=act.person,
            at=act.now,
        )
    )


@action(
    "strike_spot_ruling",
    takes=Why,
    roles={Role.LEAD, Role.OWNER},
    on=SpotRuling,
    title=_("Strike out the decision"),
    decision=True,
)
def strike_spot_ruling(act: Acting, ruling: SpotRuling, given: dict[str, Any]) -> SpotRuling:
    """Take back a decision on spots in doubt; they wait for another."""
    if ruling.by_id != act.person.pk and Role.OWNER not in act.roles:
        act.refuse("why", say("Who decided takes it back, or the owner."))
    return act.strike(ruling, given["why"])
