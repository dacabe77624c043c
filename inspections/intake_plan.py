"""What recording a field sheet's file would do, and doing it: all rows of a plan without problems, or none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Any, NamedTuple

from rest_framework.exceptions import ValidationError

from accounts.acting import Acting
from accounts.evidence import Evidence, keep
from accounts.ids import new_id
from accounts.record import Record
from accounts.rows import Row
from accounts.tablefile import Problem, media_type
from accounts.wording import say
from inspections.actions.gauges import weigh_anew
from inspections.briefings import Attendee, Briefing
from inspections.coatings import Atmosphere, Coating, FieldSheet, Permit, Spot
from inspections.flaws import Classification, Flaw
from inspections.gauges import GaugeCheck
from inspections.runs import CheckEvent, ReturnProof, Run, Swath, TouchTest, Verification
from inspections.sheetfile import SheetFile
from inspections.tested import refresh_many

WRITTEN_IN_ORDER = (
    Permit, Briefing, Attendee, Atmosphere, Run, ReturnProof, TouchTest, CheckEvent, Verification, Swath, Flaw, Classification, Spot,
    GaugeCheck,
)  # fmt: skip


class Columns(NamedTuple):
    """The kind of row a model is in a file, and the columns in which an edition may differ, by attribute."""

    what: str
    compared: Mapping[str, str]


COLUMNS: dict[type[Row], Columns] = {
    Permit: Columns("permit", {"number": "no", "kind": "kind", "gas_reading": "gas", "gas_limits": "limits", "tester": "tester", "renews": "renews",
                               "expires_at": "valid until", "recorded_at": "time"}),
    Briefing: Columns("briefing", {}),
    Attendee: Columns("briefing", {}),
    Atmosphere: Columns("atmosphere", {"at": "time", "air": "air", "humidity": "humidity", "wet_bulb": "wet bulb",
                                       "steel": "steel", "steel_at": "steel at", "hygrometer": "hygrometer",
                                       "thermometer": "thermometer"}),
    Run: Columns("run", {
        "number": "run", "opened_at": "time", "purpose": "purpose", "stage": "stage", "method": "method",
        "instrument": "instrument", "electrode": "electrode", "set_volts": "set", "thickness_basis": "basis",
        "thickness_said": "thickness", "surface_state": "surface", "medium": "medium", "sweeper": "sweeper", "witness": "witness",
        "permit": "permit"}),
    ReturnProof: Columns("return", {"at": "time", "said": "place", "island": "island"}),
    TouchTest: Columns("touch", {"at": "time", "said": "place", "distance": "distance", "volts": "set", "alarm": "alarm",
                                 "island": "island"}),
    CheckEvent: Columns("event", {"at": "time", "kind": "kind"}),
    Verification: Columns("check", {"at": "time", "phase": "phase", "measured": "measured", "unit": "measured", "alarm_seen": "alarm",
                                    "voltmeter": "voltmeter", "note": "note"}),
    Swath: Columns("swept", {"started_at": "time", "ended_at": "until", "said": "place", "lane": "lane",
                             "island": "island"}),
    Flaw: Columns("flaw", {
        "number": "no", "found_at": "time", "said": "place", "found_by": "found by", "size_x": "along",
        "size_y": "around", "depth": "depth", "give_or_take": "give or take", "note": "note"}),
    Classification: Columns("flaw", {}),
    GaugeCheck: Columns("gauge check", {
        "at": "time", "gauge": "gauge", "plate": "plate", "shim": "shim", "measured": "measured film",
        "tolerance": "tolerance", "note": "note"}),
    Spot: Columns("spot", {
        "at": "time", "said": "place", "stage": "stage", "gauge": "gauge", "readings": "reading", "area": "area",
        "shift": "shift", "correction": "correction", "purpose": "purpose"}),
}  # fmt: skip


class Difference(NamedTuple):
    """A cell of the file that says something else than what is recorded. An empty column speaks of the whole row."""

    row: int
    column: str
    recorded: str
    value: str

    @property
    def sentence(self) -> str:
        if self.column:
            return say('recorded is "{recorded}", the file says "{value}".', recorded=self.recorded, value=self.value)
        return say("recorded is {recorded}; {value}.", recorded=self.recorded, value=self.value)


class PlannedLine(NamedTuple):
    """What becomes of a line: new, same, different, or struck (recorded and struck out since)."""

    row: int
    what: str
    words: str
    fate: str


@dataclass
class Plan:
    """What recording a file would do. Nothing of it is written before `record`."""

    source: SheetFile
    coating: Coating
    sheet: FieldSheet
    begun: bool
    lines: list[PlannedLine] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    differences: list[Difference] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    closes: list[tuple[Run, datetime]] = field(default_factory=list)
    hand_in_at: datetime | None = None
    brought: str = ""
    warnings: list[str] = field(default_factory=list)

    @property
    def may_record(self) -> bool:
        return not self.problems and not self.differences

    @property
    def changes_nothing(self) -> bool:
        return self.begun and not (self.rows or self.closes or self.hand_in_at)

    def count(self, fate: str) -> int:
        return sum(line.fate == fate for line in self.lines)

    @property
    def summary(self) -> str:
        """One sentence for people."""
        if self.problems:
            return say("Nothing is recorded: {count} cells cannot be taken.", count=len(self.problems))
        if self.differences:
            return say(
                "Nothing is recorded: the file differs from what is recorded in {count} places. What "
                "is recorded does not change: strike the row out, with the reason, and import again.",
                count=len(self.differences),
            )
        if self.changes_nothing:
            return say(
                "All {count} rows of {sheet} are recorded already, {brought}; nothing changes.",
                count=len(self.lines),
                sheet=self.sheet,
                brought=self.brought,
            )
        return say(
            "{sheet}: {count} new rows, {count_2} recorded already.",
            sheet=self.sheet,
            count=self.count("new"),
            count_2=self.count("same"),
        )

    def refusal(self) -> ValidationError:
        """Every bad row and every difference, by row and column."""
        told: dict[str, dict[str, list[str]]] = {}
        items: list[Problem | Difference] = [*self.problems, *self.differences]
        for item in items:
            told.setdefault(f"row {item.row}", {}).setdefault(item.column or "row", []).append(item.sentence)
        return ValidationError({"file": {"all of it": [self.summary], **told}})


def differing(row: Row, stored: Row) -> Iterable[tuple[str, str]]:
    """Attribute and column of each cell in which two rows of one kind differ."""
    for attribute, column in COLUMNS[type(row)].compared.items():
        if getattr(row, attribute) != getattr(stored, attribute):
            yield attribute, column


def permit_name(number: str, renews: str, clock: str) -> tuple[str, ...]:
    """A permit is called by its number; a renewal, which may bear the same one, by its time too."""
    return (
        ("permit", number.casefold(), "renews", renews.casefold(), clock) if renews else ("permit", number.casefold())
    )


def shown(value: Any, zone: tzinfo) -> str:
    """A recorded value as a difference names it."""
    if isinstance(value, datetime):
        return f"{value.astimezone(zone):%Y-%m-%d %H:%M}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return " / ".join(str(item) for item in value)
    if isinstance(value, float):
        return f"{value:g}"
    return "nothing" if value in (None, "") else str(value)


def record(act: Acting, plan: Plan) -> FieldSheet:
    """Write a plan that has no problems: the file as evidence, the sheet, every new row; then judge the ground once."""
    sheet, source = plan.sheet, plan.source
    digest = keep(source.content)
    there = Evidence.objects.filter(record=plan.coating.zone.asset_id, sha256=digest).first()
    evidence = there or act.insert(
        Evidence(
            id=new_id(),
            record=Record.objects.get(pk=plan.coating.zone.asset_id),
            sha256=digest,
            name=source.name[:200],
            media_type=media_type(source.content),
            size=len(source.content),
            received_at=act.now,
        )
    )
    last = max((getattr(row, "sheet_seq", 0) for row in plan.rows), default=0)
    if not plan.begun:
        sheet.source, sheet.last_seq, sheet.handed_in_at = evidence, last, plan.hand_in_at
        act.insert(sheet)
    else:
        FieldSheet.objects.filter(pk=sheet.pk).update(last_seq=max(sheet.last_seq, last))
        if plan.hand_in_at is not None:
            act.amend(sheet, handed_in_at=plan.hand_in_at)
    for model in WRITTEN_IN_ORDER:
        act.insert_many([row for row in plan.rows if type(row) is model])
    for run, at in plan.closes:
        act.amend(run, closed_at=at)
    swaths = [row for row in plan.rows if isinstance(row, Swath)]
    runs = [row for row in plan.rows if isinstance(row, Run)]
    runs += [
        row.run for row in plan.rows if isinstance(row, ReturnProof | TouchTest | CheckEvent | Verification | Swath)
    ]
    runs += [run for run, _ in plan.closes]
    refresh_many(act, runs, swaths)
    for gauge in {row.gauge for row in plan.rows if isinstance(row, GaugeCheck)}:
        weigh_anew(act, gauge)
    for words in plan.warnings:
        act.tell(words)
    return sheet
