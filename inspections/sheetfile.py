"""A field sheet as a crew writes it, read from the rows of a table into typed lines: kind, times, cells with units.

Says what a line holds and what cannot be read, row by row; knows nothing of zones, people or instruments. No Django.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import NamedTuple

from accounts.tablefile import Problem, TableError, TableRow, read_table
from accounts.wording import say
from inspections.daytimes import Days, read_day
from inspections.listed import items, joined
from inspections.sheetkinds import ALIASES, COLUMNS, DECLARATIONS, KINDS, LISTS, ONCE, QUANTITIES, UNITS

_HEADING = re.compile(r"(.*?)(?: (\d+))? ?(?:[(\[](.*)[)\]])?")
_BARE = re.compile(r"[+\-\u2212]?[\d.,\s\u00a0\u202f]*\d[\d.,\s\u00a0\u202f]*")


@dataclass(frozen=True)
class Line:
    """One row that says something. `cells` holds what was typed, quantities with their unit; times are the asset's own.

    `at` is the row's time, or the start where there is a start and an end (`until`). `listed` holds readings.
    """

    row: int
    what: str
    cells: Mapping[str, str] = field(default_factory=dict)
    at: datetime | None = None
    until: datetime | None = None
    listed: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def cell(self, column: str) -> str:
        return self.cells.get(column, "")


@dataclass(frozen=True)
class SheetFile:
    """A whole file: what it declares, its lines in the order of recording, and every cell that cannot be read.

    `spoiled` names the runs and permits whose own row is bad, so that rows which refer to them are not bad for that.
    """

    name: str
    content: bytes
    form: str
    zone: str
    letter: str
    recorder: str
    lines: tuple[Line, ...]
    problems: tuple[Problem, ...]
    declared_at: Mapping[str, int]
    spoiled: frozenset[tuple[str, str]]

    @property
    def digest(self) -> str:
        """sha256 of the file's bytes."""
        return hashlib.sha256(self.content).hexdigest()


def read_sheet(content: bytes, filename: str = "") -> SheetFile:
    """Read a field sheet.

    Raises
    ------
    TableError
        When the file as a whole cannot be read. Bad cells are in `problems` instead, all of them.
    """
    table = read_table(content, filename)
    reading = _Reading()
    for row in table.rows:
        reading.take(row)
    reading.finish(table.rows[-1].number)
    return SheetFile(
        name=filename,
        content=content,
        form=table.form,
        zone=reading.declared.get("zone", ""),
        letter=reading.declared.get("sheet", "").upper(),
        recorder=reading.declared.get("recorder", ""),
        lines=tuple(reading.lines),
        problems=tuple(reading.problems),
        declared_at=reading.declared_at,
        spoiled=frozenset(reading.spoiled),
    )


def named(line: Line) -> str:
    """What rows further down call a run or a permit."""
    return re.sub(r"\D", "", line.cell("run")) if line.what == "run" else line.cell("no").lower()


class _Column(NamedTuple):
    heading: str
    name: str
    unit: str


class _Reading:
    """Goes down the rows, keeping the header, the day, the units and the run that the next row stands under."""

    def __init__(self) -> None:
        self.lines: list[Line] = []
        self.problems: list[Problem] = []
        self.declared: dict[str, str] = {}
        self.declared_at: dict[str, int] = {}
        self.spoiled: set[tuple[str, str]] = set()
        self.columns: list[_Column] | None = None
        self.units: dict[str, str] = {}
        self.days = Days()
        self.run = ""

    def bad(self, row: int, column: str, value: str, message: str) -> None:
        self.problems.append(Problem(row, column, value, message))

    def take(self, row: TableRow) -> None:
        if row.cells[0].lower() == "what":
            self.columns = self._header(row)
            return
        if self.columns is None:
            raise TableError(
                say(
                    'Row {row} begins with "{cells}"; the first row names the columns, "what" first.',
                    row=row.number,
                    cells=row.cells[0],
                )
            )
        if row.cells[0].startswith("#"):
            return
        before = len(self.problems)
        cells, listed = self._cells(row)
        what = cells.pop("what", "").lower()
        if what in DECLARATIONS:
            self._declare(row.number, what, cells)
        elif what in KINDS:
            line = self._line(row.number, what, cells, listed)
            if len(self.problems) == before:
                self.lines.append(line)
            elif what in ("run", "permit"):
                self.spoiled.add((what, named(line)))
        else:
            there = ", ".join([*DECLARATIONS, *KINDS])
            self.bad(
                row.number,
                "what",
                cells.get("what", row.cells[0]),
                say("is no kind of row; there are: {there}.", there=there),
            )

    def finish(self, last: int) -> None:
        for name in ("zone", "sheet"):
            if name not in self.declared:
                self.bad(
                    last,
                    "what",
                    name,
                    say(
                        "is not declared; add a row {name} with {declarations}.",
                        name=name,
                        declarations=say(DECLARATIONS[name]),
                    ),
                )

    def _header(self, row: TableRow) -> list[_Column]:
        columns: list[_Column] = []
        for heading in row.cells:
            text, _, unit = _HEADING.fullmatch(" ".join(heading.split()).lower()).groups()  # type: ignore[union-attr]
            name = ALIASES.get(text, text)
            if unit:
                # Units keep their capitals: mm is not Mm.
                unit = heading[heading.lower().rindex(unit) :][: len(unit)]
            if heading and name not in COLUMNS:
                self.bad(
                    row.number,
                    heading,
                    heading,
                    say("is no column; there are: {list}.", list=", ".join(sorted(COLUMNS))),
                )
            elif name in {column.name for column in columns} and name not in LISTS:
                self.bad(row.number, heading, heading, say("stands twice in this header."))
            elif unit and unit not in UNITS.get(QUANTITIES.get(name, ""), ("%",) if name == "humidity" else ()):
                allowed = UNITS.get(QUANTITIES.get(name, ""), ())
                self.bad(
                    row.number,
                    heading,
                    unit,
                    say("is no unit of it; there are: {allowed}.", allowed=", ".join(allowed) or "none"),
                )
            columns.append(_Column(heading, name, unit or ""))
        return columns

    def _cells(self, row: TableRow) -> tuple[dict[str, str], dict[str, tuple[str, ...]]]:
        cells: dict[str, str] = {}
        lists: dict[str, list[str]] = {}
        columns = self.columns or []
        for place, text in enumerate(row.cells):
            if not text:
                continue
            if place >= len(columns) or not columns[place].heading:
                self.bad(
                    row.number,
                    f"column {place + 1}",
                    text,
                    say("stands under no heading of the header above."),
                )
                continue
            column = columns[place]
            if column.name in LISTS:
                try:
                    parts = items(text)
                except ValueError as problem:
                    self.bad(row.number, column.heading, text, str(problem))
                    continue
                lists.setdefault(column.name, []).extend(self._with_unit(row.number, column, part) for part in parts)
            else:
                cells[column.name] = self._with_unit(row.number, column, text)
        listed = {name: tuple(parts) for name, parts in lists.items()}
        return cells | {name: joined(parts) for name, parts in listed.items()}, listed

    def _with_unit(self, row: int, column: _Column, text: str) -> str:
        """The quantity with the unit of its heading, or that of the units row, where it was written bare."""
        kind = QUANTITIES.get(column.name)
        if kind is None or not _BARE.fullmatch(text):
            return text
        unit = column.unit or self.units.get(kind, "")
        if not unit:
            example = f"{kind} {UNITS[kind][0]}"
            self.bad(
                row,
                column.name,
                text,
                say("has no unit; write it there, in the heading, or in a row: units, {example}.", example=example),
            )
        return f"{text} {unit}"

    def _declare(self, row: int, what: str, cells: dict[str, str]) -> None:
        value = cells.pop("value", "")
        for column, text in cells.items():
            if column != "note":
                self.bad(
                    row,
                    column,
                    text,
                    say("says nothing in a row of the kind {what}; its word stands under value.", what=what),
                )
        if not value:
            self.bad(row, "value", "", say("is empty; write {declarations}.", declarations=say(DECLARATIONS[what])))
        elif what == "date":
            try:
                self.days.begin(read_day(value))
            except ValueError as problem:
                self.bad(row, "value", value, str(problem))
        elif what == "units":
            self._declare_units(row, value)
        elif what == "sheet" and not re.fullmatch(r"[A-Za-z]{1,4}", value, re.ASCII):
            self.bad(
                row, "value", value, say("is no sheet; write {declarations}.", declarations=say(DECLARATIONS[what]))
            )
        elif self.declared.setdefault(what, value) != value:
            above = self.declared[what]
            self.bad(
                row,
                "value",
                value,
                say(
                    'differs from the {what} declared above, "{above}"; one file is one sheet.', what=what, above=above
                ),
            )
        else:
            self.declared_at.setdefault(what, row)

    def _declare_units(self, row: int, value: str) -> None:
        for part in re.split(r"[,;]", value):
            kind, _, unit = part.strip().partition(" ")
            if unit.strip() in UNITS.get(kind.lower(), ()):
                self.units[kind.lower()] = unit.strip()
            else:
                known = "; ".join(f"{kind} {' or '.join(units)}" for kind, units in UNITS.items())
                self.bad(row, "value", part.strip(), say("is no unit; there are: {known}.", known=known))

    def _line(self, row: int, what: str, cells: dict[str, str], listed: dict[str, tuple[str, ...]]) -> Line:
        kind = KINDS[what]
        allowed = (
            {*kind.needs, *kind.may, *ONCE} - {"what", "value"} - (set() if kind.of_run or what == "run" else {"run"})
        )
        for column, text in cells.items():
            if column not in allowed:
                said = ", ".join(sorted(allowed))
                self.bad(
                    row,
                    column,
                    text,
                    say("says nothing in a row of the kind {what}; it may say: {said}.", what=what, said=said),
                )
        for column in kind.needs:
            if column not in cells:
                self.bad(row, column, "", say("is empty; a row of the kind {what} needs it.", what=what))
        if what == "run":
            self.run = cells.get("run", self.run)
        elif kind.of_run and not cells.setdefault("run", self.run):
            self.bad(row, "run", "", say("is empty, and no run stands above; write the number of its run."))
        at, until = self._times(row, cells)
        return Line(row, what, cells, at, until, listed)

    def _times(self, row: int, cells: Mapping[str, str]) -> tuple[datetime | None, datetime | None]:
        if "date" in cells:
            try:
                self.days.begin(read_day(cells["date"]))
            except ValueError as problem:
                self.bad(row, "date", cells["date"], str(problem))
        found: list[datetime | None] = []
        for column in ("time", "until"):
            try:
                found.append(self.days.place(cells[column]) if column in cells else None)
            except ValueError as problem:
                self.bad(row, column, cells[column], str(problem))
                found.append(None)
        at, until = found
        if at and "valid until" in cells:
            until = self._valid_until(row, at, cells["valid until"])
        if at and until and until < at:
            self.bad(
                row,
                "until",
                cells.get("until", cells.get("valid until", "")),
                say("lies before {time}.", time=cells["time"]),
            )
        return at, until

    def _valid_until(self, row: int, at: datetime, text: str) -> datetime | None:
        """The next time of that name after `at`, or the moment where the day is written too."""
        later = Days()
        later.begin(at.date())
        try:
            until = later.place(text)
        except ValueError as problem:
            self.bad(row, "valid until", text, str(problem))
            return None
        if until < at and until.date() == at.date():
            until += timedelta(days=1)
        return until
