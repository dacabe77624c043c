"""Field sheets: taken, handed in, given up; and the order of recording within one."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.exceptions import PermissionDenied

from accounts import access
from accounts.acting import Acting, NoInput, action
from accounts.assets import Asset
from accounts.languages import day_words, moment_words
from accounts.people import Organisation, Role
from accounts.record import Record
from accounts.rows import LARGEST, Row
from accounts.wording import say
from inspections.coatings import Coating, FieldSheet
from inspections.runs import Run
from mapping.actions.zones import Why

BY_HAND = timedelta(minutes=1)  # times are typed to the minute


def next_seq(sheet: FieldSheet, given: int | None = None) -> int:
    """The next place in the sheet's order of recording; a device that worked without signal brings its own."""
    sheet.last_seq = max(sheet.last_seq, given) if given else sheet.last_seq + 1
    FieldSheet.objects.filter(pk=sheet.pk).update(last_seq=sheet.last_seq)
    return given or sheet.last_seq


def fresh(sheet: FieldSheet) -> FieldSheet:
    """The sheet as stored, read under the record's lock."""
    sheet.refresh_from_db(fields=["last_seq", "handed_in_at", "given_up_why"])
    return sheet


def letters(count: int) -> str:
    """The count-th letter code, from 0: A to Z, then AA, AB ..."""
    code = ""
    count += 1
    while count:
        count, rest = divmod(count - 1, 26)
        code = chr(ord("A") + rest) + code
    return code


def next_letter(coating: Coating) -> str:
    """The next letters no sheet of the coating has: an imported sheet brings its own, out of turn."""
    taken = set(FieldSheet.objects.filter(coating=coating).values_list("letter", flat=True))
    count = len(taken)
    while letters(count) in taken:
        count += 1
    return letters(count)


def check_may_strike(act: Acting, row: Row, made_by: Any, made_at: datetime) -> None:
    """Who made it strikes it out on the same day of the asset; afterwards a lead inspector does."""
    zone = Asset.objects.get(pk=access.record_id(row)).zone_info
    same_day = made_at.astimezone(zone).date() == act.now.astimezone(zone).date()
    if Role.LEAD in act.roles or (made_by == act.person.pk and same_day):
        return
    act.refuse("why", say("Who made it can strike it out on the same day; after that a lead inspector does."))


def records_in(run: Run, roles: Collection[Role], organisation: Organisation | None) -> bool:
    """Runs are the crew's; a contractor records only on its own retest runs, where the specification allows them."""
    own = run.purpose == Run.Purpose.RETEST and organisation and run.recorder.organisation_id == organisation.pk
    return Role.CREW in roles or bool(own and run.sheet.coating.terms.own_quality_control_may_retest)


def of_the_crew(run: Run, held: Mapping[Role, Organisation]) -> str:
    """Why somebody of these roles may not record on this run; "" where they may."""
    if records_in(run, held, held.get(Role.CONTRACTOR)):
        return ""
    return say("{run} is a run of the inspection crew; what it found is recorded by the crew.", run=run)


def check_may_record(act: Acting, run: Run) -> None:
    """Refuses a contractor on a run of the crew."""
    if not records_in(run, act.roles, act.organisation):
        raise PermissionDenied(
            say("{run} is a run of the inspection crew; what it found is recorded by the crew.", run=run)
        )


def tell_late(act: Acting, sheet: FieldSheet, what: Any, run: Run | None = None) -> None:
    """Flag what comes late or on what does not count any more; an observation is never refused for that."""
    if run is not None and run.closed_at is not None:
        act.tell("{run} was closed before {what}.", run=run, what=what)
    if run is not None and run.struck_at is not None:
        act.tell("{run} has been struck out: nothing on it counts.", run=run)
    if sheet.handed_in_at is not None:
        act.tell("{sheet} was handed in before {what}.", sheet=sheet, what=what)
    if sheet.given_up_why is not None:
        act.tell("{sheet} was given up before {what}.", sheet=sheet, what=what)
    if sheet.coating.ended_at is not None:
        act.tell("{coating} has ended.", coating=sheet.coating)


@action("take_sheet", takes=NoInput, roles={Role.CREW}, on=Coating, title=_("Take a field sheet"))
def take_sheet(act: Acting, coating: Coating, given: dict[str, Any]) -> FieldSheet:
    """Take a field sheet for this zone: runs and flaws are recorded on it."""
    if coating.ended_at is not None:
        act.refuse(
            "coating",
            say(
                "{coating} ended on {day}; take a sheet on the current coating.",
                coating=coating,
                day=day_words(coating.ended_at),
            ),
        )
    return act.insert(
        FieldSheet(
            id=act.id,
            coating=coating,
            person=act.person,
            organisation=act.organisation,
            letter=next_letter(coating),
            taken_at=act.device_at,
            base_seq=Record.objects.get(pk=coating.zone.asset_id).head_seq,
        )
    )


@action("hand_in_sheet", takes=NoInput, roles={Role.CREW}, on=FieldSheet, title=_("Hand in the sheet"))
def hand_in_sheet(act: Acting, sheet: FieldSheet, given: dict[str, Any]) -> FieldSheet:
    """Hand in a field sheet: nothing more is to come on it."""
    if not sheet.is_out:
        act.refuse("sheet", say("{sheet} is not out any more.", sheet=sheet))
    open_runs = [run.label for run in sheet.runs.filter(closed_at=None, struck_at=None)]
    if open_runs:
        act.refuse(
            "sheet",
            say("Close {open_runs} first; a run that stays open has no closing check.", open_runs=", ".join(open_runs)),
        )
    return act.amend(sheet, handed_in_at=act.now)


@action("give_up_sheet", takes=Why, roles={Role.LEAD}, on=FieldSheet, title=_("Give up the sheet"))
def give_up_sheet(act: Acting, sheet: FieldSheet, given: dict[str, Any]) -> FieldSheet:
    """Give up a field sheet that will not come back; what was recorded on it stays."""
    if not sheet.is_out:
        act.refuse("why", say("{sheet} is not out any more.", sheet=sheet))
    return act.amend(sheet, given_up_why=given["why"])


class SheetOrder(serializers.Serializer):
    """What every recording on a sheet may carry: when it happened, and its place in the order of recording."""

    at = serializers.DateTimeField(
        required=False, label=_("When"), help_text=_("Leave empty for now."), style={"later": True}
    )
    sheet_seq = serializers.IntegerField(
        label=_("Place in the order of recording"),
        required=False,
        min_value=1,
        max_value=LARGEST,
        help_text=_("Place in the sheet's order of recording; a device without signal fills it."),
    )

    def get_fields(self) -> dict[str, serializers.Field]:
        """On a form what was recorded comes first, and when it happened last."""
        fields = super().get_fields()
        last = {name: fields.pop(name) for name in ("at", "sheet_seq")}
        return {**fields, **last}


def moment(act: Acting, given: dict[str, Any], name: str = "at") -> datetime:
    """The time given, or that of the press. Refused when it lies in the future."""
    at = given.get(name) or act.device_at
    if (at - act.now).total_seconds() > 300:
        act.refuse(name, say("{moment} UTC lies in the future; give a time up to now.", moment=moment_words(at)))
    return at


def written_afterwards(act: Acting, at: datetime) -> bool:
    """Whether the moment is not that of the press, but was typed in: nothing is odd about its place in the order."""
    return abs(act.device_at - at) > BY_HAND
