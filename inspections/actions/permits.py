"""Permits: recorded as they were shown, renewed while a run is open, struck out. Barespot never authorises entry or work."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.languages import moment_words
from accounts.people import Person, Role
from accounts.wording import say
from inspections.actions.sheets import check_may_record, check_may_strike, of_the_crew, tell_late
from inspections.coatings import Coating, Permit
from inspections.permits import with_renewals
from inspections.runs import Run
from mapping.actions.zones import Why


class PermitGiven(serializers.Serializer):
    """A permit as it lies on the table."""

    private = ("tester",)

    number = serializers.CharField(max_length=60, label=_("Permit number"))
    kind = serializers.CharField(label=_("Kind"), max_length=60, default="hot work")
    gas_reading = serializers.CharField(
        label=_("Gas reading"), max_length=120, help_text=_("As read, with its unit, for example: 0 % LEL, 20.9 % O2.")
    )
    gas_limits = serializers.CharField(
        max_length=120,
        required=False,
        allow_blank=True,
        default="",
        label=_("Gas limits"),
        help_text=_("As the permit states them, in its own words."),
    )
    tester = serializers.CharField(max_length=120, label=_("Gas tester"))
    valid_from = serializers.DateTimeField(
        label=_("Valid from"),
        required=False,
        allow_null=True,
        default=None,
        help_text=_("Leave empty where it holds from now on."),
    )
    expires_at = serializers.DateTimeField(label=_("Valid until"))

    def validate_gas_reading(self, reading: str) -> str:
        if not any(letter.isalpha() or letter in "%‰" for letter in reading):
            raise serializers.ValidationError(
                say('"{reading}" names no unit and no gas; write for example 0 % LEL, 20.9 % O2.', reading=reading)
            )
        return reading

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        begins, ends = given["valid_from"], given["expires_at"]
        if begins is not None and ends <= begins:
            words = say(
                "{ends} UTC is not after it begins, {begins} UTC.",
                ends=moment_words(ends.astimezone(UTC)),
                begins=moment_words(begins.astimezone(UTC)),
            )
            raise serializers.ValidationError({"expires_at": [words]})
        return given


class RecordPermit(PermitGiven):
    renews = serializers.UUIDField(
        required=False,
        allow_null=True,
        default=None,
        label=_("Renews"),
        help_text=_("The permit it follows on. Leave empty for a new one."),
    )


@action("record_permit", takes=RecordPermit, roles={Role.CREW}, on=Coating, title=_("Record a permit"))
def record_permit(act: Acting, coating: Coating, given: dict[str, Any]) -> Permit:
    """Record the permit to work. Barespot never authorises work; the permit does."""
    renewed = given.pop("renews")
    earlier = coating.permits.filter(pk=renewed, struck_at=None).first() if renewed else None
    if renewed and earlier is None:
        act.refuse("renews", say("There is no such permit on this coating."))
    return act.insert(permit_row(coating, given, pk=act.id, recorded_at=act.device_at, by=act.person, renews=earlier))


def permit_row(
    coating: Coating,
    given: dict[str, Any],
    *,
    pk: UUID,
    recorded_at: datetime,
    by: Person,
    renews: Permit | None = None,
    for_run: Run | None = None,
) -> Permit:
    """A permit as a row, not yet stored."""
    return Permit(id=pk, coating=coating, recorded_at=recorded_at, by=by, renews=renews, for_run=for_run, **given)


@action(
    "renew_permit",
    takes=PermitGiven,
    roles={Role.CREW, Role.CONTRACTOR},
    on=Run,
    guard=of_the_crew,
    title=_("New permit"),
)
def renew_permit(act: Acting, run: Run, given: dict[str, Any]) -> Permit:
    """Record the permit that this run goes on under: a renewal of the one before, or the first. The permit permits work."""
    check_may_record(act, run)
    coating = run.sheet.coating
    last = last_permit(run)
    permit = act.insert(
        permit_row(coating, given, pk=act.id, recorded_at=act.device_at, by=act.person, renews=last, for_run=run)
    )
    if last is not None and last.expires_at < permit.begins_at:
        clock = coating.zone.asset.zone_info
        act.tell(
            "{earlier} ran out at {end}; {permit} holds from {begin}. What was swept in between is asked about.",
            earlier=last,
            permit=permit,
            end=_Moment(last.expires_at.astimezone(clock)),
            begin=_Moment(permit.begins_at.astimezone(clock)),
        )
    tell_late(act, run.sheet, _("this permit was recorded"), run)
    return permit


class _Moment:
    """A moment that is put into words in the language of whoever reads."""

    def __init__(self, moment: datetime) -> None:
        self.moment = moment

    def __format__(self, spec: str) -> str:
        return moment_words(self.moment)


def last_permit(run: Run) -> Permit | None:
    """The permit of a run that holds longest, its renewals included; None where it has none."""
    rows = {row.pk: row for row in run.sheet.coating.permits.filter(struck_at=None)}
    own = [row.pk for row in rows.values() if row.for_run_id == run.pk]
    chain = with_renewals([row.fact for row in rows.values()], [*own, *([run.permit_id] if run.permit_id else [])])
    return rows[chain[-1].id] if chain else None  # type: ignore[index]


@action("strike_permit", takes=Why, roles={Role.CREW}, on=Permit, title=_("Strike out the permit"))
def strike_permit(act: Acting, permit: Permit, given: dict[str, Any]) -> Permit:
    """Strike out a permit that was recorded wrongly; runs that named it are flagged from then on."""
    check_may_strike(act, permit, permit.by_id, permit.recorded_at)
    return act.strike(permit, given["why"])
