"""What proves a run: return, verifications, and the events after which a check is due."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.people import Person, Role
from accounts.units import LengthField, OhmField, VoltField
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
    written_afterwards,
)
from inspections.instruments import Instrument
from inspections.run_notices import voltmeter_beyond
from inspections.runs import CheckEvent, ReturnProof, Run, TouchTest, Verification
from inspections.sensitivity import ProvesNothing, sensitivity_outcome
from inspections.tested import refresh
from inspections.voltage import check_outcome
from mapping.actions.zones import Why

MOST_OHM = 1_000_000_000  # Ω: no check is made against more
MOST_VOLTS = 100_000  # V: no detector gives as much
NEAREST_TOUCH = 3.0  # m: nearer to the return a touch proves little
RECORDERS = {Role.CREW, Role.CONTRACTOR}


class ProveReturn(SheetOrder):
    island = serializers.CharField(
        label=_("Island"),
        max_length=60,
        required=False,
        allow_blank=True,
        default="",
        help_text=_("Electrical island; empty when there is one."),
    )
    said = serializers.CharField(
        max_length=200, label=_("Proven where"), help_text=_("Best at the far end, on bare substrate.")
    )


@action("prove_return", takes=ProveReturn, roles=RECORDERS, on=Run, guard=of_the_crew, title=_("Return proven"))
def prove_return(act: Acting, run: Run, given: dict[str, Any]) -> ReturnProof:
    """Record that the return was proven: bare substrate touched at the far end made the alarm sound."""
    check_may_record(act, run)
    proof = act.insert(
        ReturnProof(
            id=act.id,
            run=run,
            island=given["island"],
            said=given["said"],
            at=moment(act, given),
            sheet_seq=next_seq(fresh(run.sheet), given.get("sheet_seq")),
            by=act.person,
        )
    )
    tell_late(act, run.sheet, _("the return was proven"), run)
    refresh(act, run)
    return proof


class TouchConcrete(SheetOrder):
    island = serializers.CharField(
        max_length=60,
        required=False,
        allow_blank=True,
        default="",
        label=_("Electrical island"),
        help_text=_("Such as one rebar mat; empty when there is one."),
    )
    said = serializers.CharField(max_length=200, label=_("Touched where"), help_text=_("Bare concrete, in words."))
    distance = LengthField(
        min_value=0.0,
        max_value=1000.0,
        label=_("How far from the return"),
        help_text=_("About 4 m (13 ft); common practice, no source."),
    )
    volts = VoltField(
        min_value=1,
        max_value=MOST_VOLTS,
        label=_("Voltage"),
        help_text=_(
            "The voltage for the specified film, or 3 to 6 kV where that is not known (common practice, no source)."
        ),
    )
    alarm = serializers.BooleanField(
        label=_("It alarmed"), help_text=_("No alarm: the concrete is too dry, and no ground counts.")
    )


@action("touch_concrete", takes=TouchConcrete, roles=RECORDERS, on=Run, title=_("Bare concrete touched"))
def touch_concrete(act: Acting, run: Run, given: dict[str, Any]) -> TouchTest:
    """Record the touch of bare concrete away from the return; without an alarm there no ground of that island counts."""
    check_may_record(act, run)
    seq = next_seq(fresh(run.sheet), given.get("sheet_seq"))
    touch = act.insert(touch_row(run, given, pk=act.id, at=moment(act, given), seq=seq, by=act.person))
    if touch.distance < NEAREST_TOUCH:
        act.tell("Touched {distance:g} m from the return; about 4 m are usual.", distance=touch.distance)
    tell_late(act, run.sheet, _("the concrete was touched"), run)
    refresh(act, run)
    return touch


def touch_row(run: Run, given: dict[str, Any], *, pk: UUID, at: datetime, seq: int, by: Person) -> TouchTest:
    """A touch of bare concrete as a row, not yet stored."""
    return TouchTest(
        id=pk,
        run=run,
        island=given["island"],
        said=given["said"],
        distance=given["distance"].value,
        volts=int(given["volts"].value),
        alarm=given["alarm"],
        at=at,
        sheet_seq=seq,
        by=by,
    )


class Verify(SheetOrder):
    phase = serializers.ChoiceField(
        label=_("Phase"), choices=Verification.Phase.choices, default=Verification.Phase.DURING
    )
    measured = VoltField(
        min_value=0, max_value=MOST_VOLTS, label=_("Measured output"), help_text=_("Crest voltmeter on load, as read.")
    )
    alarm_seen = serializers.BooleanField(label=_("Alarm on a known bare spot"), help_text=_("Yes only if it sounded."))
    voltmeter = serializers.UUIDField(
        required=False, allow_null=True, default=None, label=_("Measured with"), help_text=_("The crest voltmeter.")
    )
    note = serializers.CharField(label=_("Note"), max_length=200, required=False, allow_blank=True, default="")


@action("verify", takes=Verify, roles=RECORDERS, on=Run, guard=of_the_crew, title=_("Record a check"))
def verify(act: Acting, run: Run, given: dict[str, Any]) -> Verification:
    """Record a check of the detector's output; the tolerance was fixed when the run was opened."""
    check_may_record(act, run)
    at = moment(act, given)
    seq = next_seq(fresh(run.sheet), given.get("sheet_seq"))
    check = check_row(act, run, given, pk=act.id, at=at, seq=seq, by=act.person)
    check.hand_timed = written_afterwards(act, at)
    act.insert(check)
    if check.voltmeter is not None and check.voltmeter_certificate is None:
        act.tell(lazy(_uncertified, str)(check.voltmeter))
    if voltmeter_beyond(check):
        act.tell(lazy(voltmeter_beyond, str)(check))
    tell_late(act, run.sheet, _("this check was recorded"), run)
    refresh(act, run)
    return check


def _uncertified(voltmeter: Instrument) -> str:
    return say(
        "{voltmeter} has no certificate in force on that day: what it read proves little. Add its certificate, or check "
        "again with another one.",
        voltmeter=voltmeter,
    )


def _voltmeter(act: Acting, run: Run, pk: UUID | None) -> Instrument | None:
    if pk is None:
        return None
    kind = Instrument.Kind.CREST_VOLTMETER
    found = Instrument.objects.filter(organisation=run.sheet.organisation, kind=kind, pk=pk).first()
    if found is None:
        act.refuse(
            "voltmeter", say("That is not a crest voltmeter of {organisation}.", organisation=run.sheet.organisation)
        )
    return found


def check_row(
    act: Acting, run: Run, given: dict[str, Any], *, pk: UUID, at: datetime, seq: int, by: Person
) -> Verification:
    """A check as a row, not yet stored, with its outcome; refuses one on a run without voltage."""
    if run.sensitivity is not None:
        act.refuse("measured", say("A wet sponge is checked against a known resistor: record its sensitivity instead."))
    if run.set_volts is None or run.check_tolerance_volts is None:
        act.refuse("measured", say("This run has no voltage to check."))
    measured = int(given["measured"].value)
    return Verification(
        id=pk,
        run=run,
        at=at,
        sheet_seq=seq,
        phase=given["phase"],
        expected=run.set_volts,
        measured=measured,
        tolerance=run.check_tolerance_volts,
        outcome=check_outcome(run.set_volts, measured, run.check_tolerance_volts, alarm_seen=given["alarm_seen"]),
        alarm_seen=given["alarm_seen"],
        by=by,
        note=given["note"],
        voltmeter=_voltmeter(act, run, given.get("voltmeter")),
    )


class CheckSensitivity(SheetOrder):
    phase = serializers.ChoiceField(
        label=_("Phase"), choices=Verification.Phase.choices, default=Verification.Phase.DURING
    )
    resistor = OhmField(
        min_value=1,
        max_value=MOST_OHM,
        label=_("Known resistor"),
        help_text=_("Put between the wet sponge and the return lead; as marked on it, such as 80 kΩ."),
    )
    alarm_seen = serializers.BooleanField(label=_("It alarmed"), help_text=_("Yes only if it sounded."))
    note = serializers.CharField(label=_("Note"), max_length=200, required=False, allow_blank=True, default="")


@action(
    "check_sensitivity",
    takes=CheckSensitivity,
    roles=RECORDERS,
    on=Run,
    guard=of_the_crew,
    title=_("Record a check of sensitivity"),
)
def check_sensitivity(act: Acting, run: Run, given: dict[str, Any]) -> Verification:
    """Record whether a wet sponge alarmed at a known resistor; the tolerance was fixed when the run was opened."""
    check_may_record(act, run)
    seq = next_seq(fresh(run.sheet), given.get("sheet_seq"))
    check = sensitivity_row(act, run, given, pk=act.id, at=moment(act, given), seq=seq, by=act.person)
    check.hand_timed = written_afterwards(act, check.at)
    act.insert(check)
    tell_late(act, run.sheet, _("this check was recorded"), run)
    refresh(act, run)
    return check


def sensitivity_row(
    act: Acting, run: Run, given: dict[str, Any], *, pk: UUID, at: datetime, seq: int, by: Person
) -> Verification:
    """A check against a known resistor as a row, not yet stored; refuses one that proves nothing."""
    asked = run.sensitivity
    if asked is None:
        act.refuse("resistor", say("This run is not made with a wet sponge: its output is checked in volts."))
    resistor = int(given["resistor"].value)
    try:
        outcome = sensitivity_outcome(asked, resistor, given["alarm_seen"])
    except ProvesNothing as nothing:
        act.refuse("resistor", str(nothing))
    return Verification(
        id=pk,
        run=run,
        at=at,
        sheet_seq=seq,
        phase=given["phase"],
        expected=asked.ohm,
        measured=resistor,
        tolerance=asked.tolerance,
        unit=Verification.Unit.OHM,
        outcome=outcome,
        alarm_seen=given["alarm_seen"],
        by=by,
        note=given["note"],
    )


class ReportEvent(SheetOrder):
    kind = serializers.ChoiceField(choices=CheckEvent.Kind.choices, label=_("What happened"))


@action("report_event", takes=ReportEvent, roles=RECORDERS, on=Run, guard=of_the_crew, title=_("Something changed"))
def report_event(act: Acting, run: Run, given: dict[str, Any]) -> CheckEvent:
    """Record a change of battery, electrode, lead, setting or operator, or a drop: check again before going on."""
    check_may_record(act, run)
    event = act.insert(
        CheckEvent(
            id=act.id,
            run=run,
            kind=given["kind"],
            at=moment(act, given),
            sheet_seq=next_seq(fresh(run.sheet), given.get("sheet_seq")),
            by=act.person,
        )
    )
    tell_late(act, run.sheet, _("this was reported"), run)
    refresh(act, run)
    return event


def _strike(act: Acting, row: Any, why: str) -> Any:
    check_may_strike(act, row, row.by_id, row.at)
    act.strike(row, why)
    refresh(act, row.run)
    return row


@action("strike_verification", takes=Why, roles={Role.CREW}, on=Verification, title=_("Strike out the check"))
def strike_verification(act: Acting, check: Verification, given: dict[str, Any]) -> Verification:
    """Strike out a check that was typed wrongly; the ground it carried is judged anew."""
    return _strike(act, check, given["why"])


@action("strike_return_proof", takes=Why, roles={Role.CREW}, on=ReturnProof, title=_("Strike out the proof of return"))
def strike_return_proof(act: Acting, proof: ReturnProof, given: dict[str, Any]) -> ReturnProof:
    """Strike out a proof of return."""
    return _strike(act, proof, given["why"])


@action("strike_touch_test", takes=Why, roles={Role.CREW}, on=TouchTest, title=_("Strike out the touch test"))
def strike_touch_test(act: Acting, touch: TouchTest, given: dict[str, Any]) -> TouchTest:
    """Strike out a touch of bare concrete that was typed wrongly."""
    return _strike(act, touch, given["why"])


@action("strike_event", takes=Why, roles={Role.CREW}, on=CheckEvent, title=_("Strike out the event"))
def strike_event(act: Acting, event: CheckEvent, given: dict[str, Any]) -> CheckEvent:
    """Strike out an event that did not happen."""
    return _strike(act, event, given["why"])
