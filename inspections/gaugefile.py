"""A thickness gauge's file, read from the rows of a table into the lines of a field sheet: one spot each.

The unit is declared, never guessed. Knows nothing of zones but how their places are spoken. No Django.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import NamedTuple

from accounts.tablefile import Problem, TableError, TableRow, read_table
from accounts.wording import say
from inspections.daytimes import Days, read_day
from inspections.sheetfile import Line, SheetFile
from inspections.sheetkinds import UNITS

READING = "reading"
# By kind of surface: the two columns that make a place, and how it is spoken.
PLACES: Mapping[str, tuple[str, str, str]] = {
    "pipe": ("chainage", "clock", "{0} @ {1}"),
    "bend": ("chainage", "clock", "{0} @ {1}"),
    "strake": ("azimuth", "height", "{0} deg, {1} m up"),
    "disk": ("azimuth", "radius", "{0} deg, r {1} m"),
    "annulus": ("azimuth", "radius", "{0} deg, r {1} m"),
    "head": ("azimuth", "radius", "{0} deg, r {1} m"),
    "cone": ("azimuth", "slant", "{0} deg, slant {1} m"),
    "panel": ("x", "y", "x {0} y {1}"),
}
COLUMNS = ("place", READING, "spot", "area", "shift", "correction", "gauge", "stage", "purpose", "date", "time", "note")
ALIASES = {
    "where": "place", "position": "place", "readings": READING, "serial": "gauge", "gauge serial": "gauge",
    "profile correction": "correction", "coat stage": "stage",
}  # fmt: skip
_HEADING = re.compile(r"(.*?)(?: (\d+))? ?(?:[(\[](.*)[)\]])?")
_BARE = re.compile(r"[+\-\u2212]?[\d.,\s\u00a0\u202f]*\d[\d.,\s\u00a0\u202f]*")


@dataclass(frozen=True)
class Declared:
    """What is said of the whole file, for cells that do not say it. unit: of the readings.

    start: when the first reading was taken, by the asset's clock; letter: of the field sheet it makes; surface: the kind of
    the zone's surface; is_right: the unit is right though it looks wrong.
    """

    unit: str
    letter: str
    surface: str
    start: datetime | None = None
    gauge: str = ""
    stage: str = ""
    area: str = ""
    shift: str = ""
    correction: str = ""
    is_right: bool = False


class _Column(NamedTuple):
    heading: str
    name: str


@dataclass
class _Open:
    """A spot whose readings still come: the row it began in, its cells and readings."""

    row: int
    cells: dict[str, str]
    readings: list[str] = field(default_factory=list)


def read_gauge_file(content: bytes, filename: str, declared: Declared) -> SheetFile:
    """Read a gauge's file as a field sheet of spots.

    One row is one spot with its readings, in several columns or parted by strokes; with a column "spot", rows of the same
    number that follow each other are one spot. Raises TableError when the file as a whole cannot be read or has no column
    of readings or places. Bad cells are in `problems`, all of them.
    """
    table = read_table(content, filename)
    reading = _Reading(declared)
    reading.header(table.rows[0])
    for row in table.rows[1:]:
        reading.take(row)
    reading.close()
    lines = reading.lines
    if lines and lines[-1].at is not None:  # nothing more comes on the sheet of a gauge's file
        cells = {"time": lines[-1].cell("time")}
        lines = [*lines, Line(lines[-1].row, "hand in", cells, max(line.at for line in lines if line.at))]
    elif not reading.problems:
        reading.bad(table.rows[0].number, READING, "", say("there is no spot below the header."))
    return SheetFile(
        name=filename,
        content=content,
        form=table.form,
        zone="",
        letter=declared.letter,
        recorder="",
        lines=tuple(lines),
        problems=tuple(reading.problems),
        declared_at={},
        spoiled=frozenset(),
    )


class _Reading:
    """Goes down the rows, keeping the header, the day and the spot that is not finished."""

    def __init__(self, declared: Declared) -> None:
        self.declared = declared
        self.lines: list[Line] = []
        self.problems: list[Problem] = []
        self.columns: list[_Column] = []
        self.days = Days()
        if declared.start is not None:
            self.days.begin(declared.start.date())
        self.open: _Open | None = None
        self.count = 0

    def bad(self, row: int, column: str, value: str, message: str) -> None:
        self.problems.append(Problem(row, column, value, message))

    def header(self, row: TableRow) -> None:
        known = {*COLUMNS, *PLACES.get(self.declared.surface, ())[:2]}
        for heading in row.cells:
            text, _, unit = _HEADING.fullmatch(" ".join(heading.split()).lower()).groups()  # type: ignore[union-attr]
            name = ALIASES.get(text, text)
            if not heading or heading.startswith("#"):
                name = ""
            elif name not in known:
                there = ", ".join(sorted(known))
                self.bad(
                    row.number, heading, heading,
                    say("is no column; there are: {list}. To leave it out, write # before it.", list=there),
                )  # fmt: skip
            elif name in {column.name for column in self.columns} and name != READING:
                self.bad(row.number, heading, heading, say("stands twice in this header."))
            if name == READING and unit and unit.replace("μ", "µ").replace("um", "µm") != self.shown_unit:
                self.bad(
                    row.number, heading, unit,
                    say("is not the unit that was declared, {unit}; one of the two is wrong.", unit=self.shown_unit),
                )  # fmt: skip
            self.columns.append(_Column(heading, name))
        names = {column.name for column in self.columns}
        if READING not in names:
            raise TableError(say('The first row names the columns; none of them is "reading".'))
        first, second, _ = PLACES.get(self.declared.surface, ("place", "place", ""))
        if "place" not in names and not {first, second} <= names:
            pair = say('or both of "{first}" and "{second}"', first=first, second=second) if first != "place" else ""
            raise TableError(say('The first row names the columns; there has to be "place" {pair}.', pair=pair).strip())

    @property
    def shown_unit(self) -> str:
        return {"um": "µm"}.get(self.declared.unit, self.declared.unit)

    def take(self, row: TableRow) -> None:
        cells: dict[str, str] = {}
        readings: list[str] = []
        for place, text in enumerate(row.cells):
            if not text:
                continue
            if place >= len(self.columns) or not self.columns[place].heading:
                self.bad(row.number, f"column {place + 1}", text, say("stands under no heading of the header above."))
                continue
            name = self.columns[place].name
            if name == READING:
                readings += [self._with_unit(part.strip()) for part in re.split(r"[/;|]", text) if part.strip()]
            elif name:
                cells[name] = text
        if not cells and not readings:
            return
        number = cells.get("spot")
        if self.open is not None and number and number == self.open.cells.get("spot"):
            if not self._same(row.number, cells):
                return
            self.open.readings += readings
            return
        self.close()
        self.open = _Open(row.number, cells, readings)

    def _same(self, row: int, cells: Mapping[str, str]) -> bool:
        """Whether a further row of a spot says nothing else of it."""
        assert self.open is not None
        for name, text in cells.items():
            if name not in ("time", "note") and self.open.cells.setdefault(name, text) != text:
                self.bad(
                    row, name, text,
                    say("differs from the first row of spot {spot}, row {row}.", spot=cells["spot"], row=self.open.row),
                )  # fmt: skip
                return False
        return True

    def close(self) -> None:
        """Make the line of the spot that is finished."""
        spot, self.open = self.open, None
        if spot is None:
            return
        before = len(self.problems)
        cells = {name: getattr(self.declared, name) for name in ("gauge", "stage", "area", "shift", "correction")}
        cells |= spot.cells
        if cells["correction"] and _BARE.fullmatch(cells["correction"]):
            cells["correction"] = self._with_unit(cells["correction"])
        place = self._place(spot)
        at = self._moment(spot)
        if not spot.readings:
            self.bad(spot.row, READING, "", say("is empty; a spot needs one reading at least."))
        if len(self.problems) > before or at is None:
            return
        for name in ("spot", "date", "chainage", "clock", "azimuth", "height", "radius", "slant", "x", "y"):
            cells.pop(name, None)
        cells |= {"place": place, READING: " / ".join(spot.readings), "time": f"{at:%H:%M:%S}"}
        if self.declared.is_right:
            cells["unit is right"] = "yes"
        filled = {name: text for name, text in cells.items() if text}
        self.lines.append(Line(spot.row, "spot", filled, at, None, {READING: tuple(spot.readings)}))

    def _place(self, spot: _Open) -> str:
        if said := spot.cells.get("place"):
            return said
        first, second, form = PLACES.get(self.declared.surface, ("place", "place", ""))
        for name in dict.fromkeys((first, second)):
            if not spot.cells.get(name):
                self.bad(spot.row, name, "", say("is empty; it says where the spot is."))
        return form.format(spot.cells.get(first, ""), spot.cells.get(second, ""))

    def _moment(self, spot: _Open) -> datetime | None:
        """When it was measured; without a time of its own by that of the file, a second later for each spot above."""
        self.count += 1
        for name in ("date", "time"):
            text = spot.cells.get(name)
            if not text:
                continue
            try:
                if name == "date":
                    day = read_day(text.split(" ")[0] if "-" in text else text)
                    if day != self.days.declared:
                        self.days.begin(day)
                else:
                    return self.days.place(text)
            except ValueError as problem:
                self.bad(spot.row, name, text, str(problem))
                return None
        if self.declared.start is None or self.days.day is None:
            self.bad(spot.row, "time", "", say("is empty, and no time was declared for the file."))
            return None
        return datetime.combine(self.days.day, self.declared.start.time()) + timedelta(seconds=self.count)

    def _with_unit(self, text: str) -> str:
        """A bare number with the unit that was declared; what says its own unit keeps it, and is refused if that differs."""
        return f"{text} {self.shown_unit}" if _BARE.fullmatch(text) else text


DECLARABLE = tuple(unit for unit in UNITS["film"] if unit != "um")
