"""Takes a field sheet's file in: what of it is recorded already, what is new, what differs, and what cannot be taken.

It only reads, so that a dry run is the plan itself.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast
from uuid import UUID

from django.utils.functional import lazy

from accounts.ids import named_id, new_id
from accounts.languages import say_later
from accounts.people import Organisation, Person, Role
from accounts.record import Record
from accounts.rows import Row
from accounts.tablefile import Problem
from accounts.wording import say
from inspections.actions.sheets import next_letter
from inspections.briefings import Attendee, Briefing
from inspections.coatings import Atmosphere, Coating, FieldSheet, Permit, Spot
from inspections.flaws import Classification, Flaw
from inspections.gauges import GaugeCheck
from inspections.intake_again import Elsewhere, briefing_there, brought
from inspections.intake_cells import Skip
from inspections.intake_plan import COLUMNS, WRITTEN_IN_ORDER, Difference, Plan, PlannedLine, differing, shown
from inspections.intake_rows import Maker
from inspections.qualified import same
from inspections.run_notices import NOTICES
from inspections.runs import CheckEvent, ReturnProof, Run, Swath, TouchTest, Verification
from inspections.sheetfile import Line, SheetFile

GAP = 100  # room in the order of recording for rows that a later edition of the file adds between two others
STORED: tuple[tuple[type[Any], str], ...] = (
    (Run, "sheet"), (ReturnProof, "run__sheet"), (TouchTest, "run__sheet"), (CheckEvent, "run__sheet"), (Verification, "run__sheet"),
    (Swath, "run__sheet"), (Flaw, "sheet"), (Classification, "flaw__sheet"), (Spot, "sheet"), (GaugeCheck, "sheet"),
)  # fmt: skip
RELATED = {
    Atmosphere: ("hygrometer", "thermometer"),
    Run: ("instrument", "electrode", "witness", "permit"),
    Verification: ("run", "voltmeter"),
    Spot: ("gauge",),
    GaugeCheck: ("gauge",),
}


@dataclass
class _Placed:
    """A line with the row it makes, and the recorded row it was found to be."""

    line: Line
    row: Row
    stored: Row | None
    fate: str


def plan(
    coating: Coating,
    person: Person,
    organisation: Organisation,
    roles: Iterable[Role],
    source: SheetFile,
    now: datetime,
) -> Plan:
    """What recording `source` on the coating would do, for a person acting for an organisation. Writes nothing."""
    return _Planner(coating, person, organisation, frozenset(roles), source, now).run()


class _Planner:
    def __init__(
        self,
        coating: Coating,
        person: Person,
        organisation: Organisation,
        roles: frozenset[Role],
        source: SheetFile,
        now: datetime,
    ) -> None:
        pk = named_id(coating.pk, "sheet", source.letter)
        stored = FieldSheet.objects.filter(pk=pk).select_related("source").first()
        sheet = stored or FieldSheet(
            id=pk,
            coating=coating,
            person=person,
            organisation=organisation,
            letter=source.letter or next_letter(coating),
            taken_at=now,
            base_seq=Record.objects.filter(pk=coating.zone.asset_id).values_list("head_seq", flat=True).first() or 0,
        )
        sheet.coating = coating
        self.plan = Plan(source, coating, sheet, stored is not None, problems=list(source.problems))
        self.maker = Maker(self.plan.sheet, person, organisation, roles, source, now, self.plan.problems)
        if stored is None:
            sheet.person = self.maker.recorder
        self.stored: dict[UUID, Row] = self._recorded() if stored else {}
        self.placed: list[_Placed] = []
        self.seen: dict[tuple[str, ...], int] = {}
        self.elsewhere = Elsewhere(sheet, self.maker.zone)
        self.attendees: list[Attendee] = []
        self.ends: list[Line] = []

    def run(self) -> Plan:
        self._check_declared()
        for line in self.plan.source.lines:
            if line.what == "note":
                continue
            if line.what in ("close", "hand in"):
                self.ends.append(line)
                continue
            try:
                self._place(line)
            except Skip:
                self.maker.spoil(line)
        for line in self.ends:
            self._end(line)
        self._pair_what_is_left()
        self._classify()
        self._compare()
        self._order()
        self._gather()
        return self.plan

    def bad(self, row: int, column: str, value: str, message: str) -> None:
        self.plan.problems.append(Problem(row, column, value, message))

    def _check_declared(self) -> None:
        source, coating = self.plan.source, self.plan.coating
        if self.plan.begun and source.recorder and self.plan.sheet.person_id != self.maker.recorder.pk:
            row = source.declared_at["recorder"]
            self.plan.differences.append(Difference(row, "value", self.plan.sheet.person.name, source.recorder))
        if source.zone and source.zone.casefold() != coating.zone.name.casefold():
            row = source.declared_at.get("zone", 1)
            self.bad(
                row, "value", source.zone, say('is another zone; this import is for "{zone}".', zone=coating.zone.name)
            )
        if not self.plan.begun and FieldSheet.objects.filter(coating=coating, letter=source.letter).exists():
            row = source.declared_at.get("sheet", 1)
            free = next_letter(coating)
            self.bad(
                row,
                "value",
                source.letter,
                say('is a sheet taken here, not of a file; the next free is "{free}".', free=free),
            )

    def _recorded(self) -> dict[UUID, Row]:
        """What was recorded from earlier editions of this file, by id: file rows are known by their kind of id."""
        sheet = self.plan.sheet
        found: dict[UUID, Row] = {}
        for model, path in STORED:
            rows = model.objects.filter(**{path: sheet}).select_related(*RELATED.get(model, (path.split("__")[0],)))
            found.update((row.pk, row) for row in rows if row.pk.version == 5)
        for other in (Permit, Atmosphere):
            rows = other.objects.filter(coating=sheet.coating).select_related(*RELATED.get(other, ()))
            found.update((row.pk, row) for row in rows if row.pk.version == 5)
        return found

    def _place(self, line: Line) -> None:
        """Make the line's row and find whether it is recorded. What was struck out and corrected gets another id."""
        name = self.maker.name_of(line)
        self.seen[name] = self.seen.get(name, 0) + 1
        if self.seen[name] > 1:
            if line.what in ("run", "flaw", "permit") or line.cell("no"):
                column = "run" if line.what == "run" else "no"
                self.bad(line.row, column, line.cell(column), say("stands twice in this file; a number names one row."))
                return
            name = (*name, str(self.seen[name]))
        if line.what == "briefing":
            self._place_briefing(line)
            return
        edition = 1
        while True:
            pk = named_id(self.plan.coating.pk, "import", self.plan.sheet.letter, *name, str(edition))
            stored = self.stored.get(pk)
            row = self.maker.make(line, pk)
            if stored is None:
                if words := self.elsewhere.problem_of(row):
                    self.bad(line.row, "place", line.cell("place"), words)
                self._keep(_Placed(line, row, None, "new"))
                return
            if _struck(stored) is None:
                self._keep(_Placed(line, row, stored, "same"))
                return
            if not list(differing(row, stored)):
                self._keep(_Placed(line, row, stored, "struck"))
                return
            if line.what in ("run", "flaw"):
                column = "run" if line.what == "run" else "no"
                self.bad(
                    line.row,
                    column,
                    line.cell(column),
                    say("was struck out; record it anew under a number not yet used."),
                )
                return
            edition += 1

    def _place_briefing(self, line: Line) -> None:
        """A briefing, recorded or new, and whoever the file names of it beside those who are on it."""
        row = cast(Briefing, self.maker.make(line, new_id()))
        named = self.maker.attendees[row.pk]
        row.pk, stored, there = briefing_there(row, [each.name for each in named])
        fate = "new" if stored is None else "same" if stored.struck_at is None else "struck"
        if fate != "struck":
            fresh = [each for each in named if same(each.name) not in there]
            for each in fresh:
                each.briefing = stored or row
                each.pk = named_id(row.pk, "attendee", same(each.name))
            self.attendees += fresh
        self._keep(_Placed(line, row, stored, fate))

    def _keep(self, placed: _Placed) -> None:
        self.placed.append(placed)
        self.maker.keep(placed.line, placed.stored or placed.row)

    def _end(self, line: Line) -> None:
        try:
            at = self.maker.moment(line, "time")
            run = self.maker.run_of(line) if line.what == "close" else None
        except Skip:
            return
        if run is None:
            still_open = [run.number for run in self.maker.runs.values() if run.is_open]
            if still_open:
                numbers = ", ".join(map(str, still_open))
                self.bad(
                    line.row,
                    "what",
                    "hand in",
                    say("waits until run {numbers} is closed; add a row close.", numbers=numbers),
                )
            is_new = self.plan.sheet.handed_in_at is None
            if is_new:
                self.plan.hand_in_at = at
            self.plan.lines.append(PlannedLine(line.row, line.what, "", "new" if is_new else "same"))
            return
        closed_at = run.closed_at
        if closed_at is None:
            run.closed_at = at
            if run.pk in self.stored:
                self.plan.closes.append((run, at))
        elif closed_at != at:
            recorded, value = shown(closed_at, self.maker.zone), shown(at, self.maker.zone)
            self.plan.differences.append(Difference(line.row, "time", recorded, value))
        fate = "new" if closed_at is None else "same" if closed_at == at else "different"
        self.plan.lines.append(PlannedLine(line.row, line.what, say("run {run}", run=run.number), fate))

    def _pair_what_is_left(self) -> None:
        """A recorded row that the file does not hold was changed in the cells that name it, or left out."""
        if self.plan.problems:
            return
        found = {placed.stored.pk for placed in self.placed if placed.stored}
        fresh = [placed for placed in self.placed if placed.fate == "new"]
        for pk, stored in self.stored.items():
            if pk in found or _struck(stored) is not None or not self._is_of_this_file(stored):
                continue
            alike = [
                placed
                for placed in fresh
                if type(placed.row) is type(stored) and _run_id(placed.row) == _run_id(stored)
            ]
            nearest = min(alike, key=lambda placed: len(list(differing(placed.row, stored))), default=None)
            if nearest is None:
                words = say(
                    "a row of the kind {what} ({words})",
                    what=COLUMNS[type(stored)].what,
                    words=self.maker.words(stored),
                )
                last = max((line.row for line in self.plan.source.lines), default=1)
                self.plan.differences.append(Difference(last, "", words, say("the file leaves it out")))
                continue
            nearest.stored, nearest.fate = stored, "same"
            fresh.remove(nearest)

    def _is_of_this_file(self, stored: Row) -> bool:
        if isinstance(stored, Classification):
            return False
        if isinstance(stored, Permit | Atmosphere):
            name = self.maker.name_of_row(stored)
            return stored.pk == named_id(self.plan.coating.pk, "import", self.plan.sheet.letter, *name, "1")
        run = getattr(stored, "run", None)
        return run is None or run.struck_at is None

    def _classify(self) -> None:
        """The kind of a flaw is a row of its own, because a later word on it counts instead."""
        self.kinds: dict[UUID, Classification] = {}
        for placed in self.placed:
            if not isinstance(placed.row, Flaw):
                continue
            flaw = placed.row
            pk = named_id(self.plan.coating.pk, "import", "kind", str((placed.stored or flaw).pk))
            said, stored = self.maker.kinds[flaw.pk], self.stored.get(pk)
            if placed.stored is None and said != "indication":
                self.kinds[flaw.pk] = Classification(id=pk, flaw=flaw, kind=said, by=flaw.by, at=flaw.found_at)
            elif placed.stored is not None:
                recorded = stored.kind if isinstance(stored, Classification) else "indication"
                if recorded != said:
                    placed.fate = "different" if placed.fate == "same" else placed.fate
                    self.plan.differences.append(Difference(placed.line.row, "kind", recorded, said))

    def _compare(self) -> None:
        for placed in self.placed:
            if placed.fate in ("same", "different") and placed.stored is not None:
                for attribute, column in differing(placed.row, placed.stored):
                    placed.fate = "different"
                    recorded = shown(getattr(placed.stored, attribute), self.maker.zone)
                    value = shown(getattr(placed.row, attribute), self.maker.zone)
                    self.plan.differences.append(Difference(placed.line.row, column, recorded, value))
            self.plan.lines.append(
                PlannedLine(placed.line.row, placed.line.what, self.maker.words(placed.row), placed.fate)
            )
        self.plan.lines.sort()
        self.plan.differences.sort()
        self.plan.problems.sort(key=lambda problem: problem.row)

    def _order(self) -> None:
        """Give new rows their place in the order of recording: after all that is there, or between their neighbours."""
        before = 0
        waiting: list[_Placed] = []
        for placed in [placed for placed in self.placed if hasattr(placed.row, "sheet_seq")]:
            if placed.stored is None:
                waiting.append(placed)
                continue
            after = placed.stored.sheet_seq  # type: ignore[attr-defined]
            if after <= before and placed.fate == "same":
                self.plan.differences.append(
                    Difference(
                        placed.line.row, "", self.maker.words(placed.row), say("the file has it in another order")
                    )
                )
            before = self._fill(waiting, before, after)
            waiting = []
        self._fill(waiting, max(before, self.plan.sheet.last_seq), None)

    def _fill(self, waiting: list[_Placed], before: int, after: int | None) -> int:
        step = GAP if after is None else (after - before) // (len(waiting) + 1)
        if step < 1 and waiting:
            line = waiting[0].line
            self.bad(
                line.row,
                "what",
                line.what,
                say("is one of too many rows added in one place; bring them on a sheet of their own."),
            )
            return after or before
        for number, placed in enumerate(waiting, 1):
            row: Any = placed.row
            row.sheet_seq = before + number * step
            if isinstance(row, Swath):
                row.start_seq = before + (number - 1) * step
        return after if after is not None else before + len(waiting) * step

    def _gather(self) -> None:
        plan = self.plan
        fresh = [placed.row for placed in self.placed if placed.fate == "new"]
        fresh += [self.kinds[row.pk] for row in fresh if row.pk in self.kinds]
        order = {model: place for place, model in enumerate(WRITTEN_IN_ORDER)}
        fresh += self.attendees
        plan.rows = sorted(fresh, key=lambda row: order[type(row)])
        if not plan.begun and self.maker.first_at is not None:
            plan.sheet.taken_at = self.maker.first_at
        for row in fresh:
            if isinstance(row, Run):
                plan.warnings += [lazy(notice, str)(row) for notice in NOTICES if notice(row)]
        if plan.coating.ended_at is not None:
            plan.warnings.append(
                say_later(
                    "{coating} ended on {shown}.",
                    coating=plan.coating,
                    shown=shown(plan.coating.ended_at, self.maker.zone),
                )
            )
        if plan.begun:
            plan.brought = brought(plan.sheet, self.maker.zone)
        if plan.begun and not plan.sheet.is_out and plan.rows:
            plan.warnings.append(say_later("{sheet} was handed in before these rows came.", sheet=plan.sheet))


def _struck(row: Row) -> datetime | None:
    return getattr(row, "struck_at", None)


def _run_id(row: Row) -> UUID | None:
    return getattr(row, "run_id", None)
