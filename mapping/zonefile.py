"""Zones listed in a table: one a row, or drawn from a joint list, a shell table or the grid of a deck. No Django.

Here the rows become names, kinds and sizes as text; whether the sizes make a surface is for the surface to say.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from accounts.tablefile import Problem, TableError, TableRow, read_table
from accounts.wording import say
from mapping.grid import letters_from
from mapping.positions import Chainage

GENERAL = ("order", "face")
AROUND = ("diameter", "circumference")
LENGTHS = (
    "diameter",
    "circumference",
    "inner_diameter",
    "cut_diameter",
    "height",
    "width",
    "reach",
    "letters",
    "numbers",
)
LISTS = ("letters", "numbers", "plates")
SIZES = (*LENGTHS, "start", "end", "number", "plates", "viewed", "first_letter", "first_number", "skip", "numbers_run",
         "corners", "area")  # fmt: skip
LONGEST_NAME = 80
GIVE = 0.05  # m by which a joint may miss the next one's beginning

_HEADING = re.compile(r"([a-z _]+?) ?(?:\(([^)]+)\))?")
_CROSSING = re.compile(r"([A-Z]{1,3}) ?-? ?(\d{1,4})", re.ASCII | re.IGNORECASE)


class Listed(NamedTuple):
    """One zone of the table: its sizes as they were written, and the column each of them stands in."""

    row: int
    name: str
    kind: str
    sizes: dict[str, Any]
    face: str
    order: str
    columns: dict[str, str]


class ZoneList(NamedTuple):
    """The zones in the order of the file, and every cell that cannot be read."""

    zones: tuple[Listed, ...]
    problems: tuple[Problem, ...]


class _Row(NamedTuple):
    number: int
    cells: dict[str, str]


Bad = Callable[[Problem], None]


def read_zones(content: bytes, name: str, chainage: Chainage) -> ZoneList:
    """Read a table of zones. What it is, its first row says by the columns it names:

    `zone, kind` and sizes: one zone a row; `strake, height`: a shell table; `what, name, at, zone`: a joint list whose
    joints say which zone they belong to; `what, name, at, from, to`: lettered and numbered lines, and the zones between.
    Bare lengths are in the asset's unit; a heading may name another one, such as `diameter (mm)`.

    Raises
    ------
    TableError
        When the file as a whole cannot be read. Bad cells are in `problems` instead, all of them.
    """
    table = read_table(content, name)
    header = [_heading(cell) for cell in table.rows[0].cells]
    names = [each for each, _ in header]
    problems: list[Problem] = []
    rows = [_row(row, header, chainage, problems.append) for row in table.rows[1:] if not row.cells[0].startswith("#")]
    rows = [row for row in rows if row.cells]
    if {"what", "name", "at", "from", "to"} <= set(names):
        zones = _of_grid(rows, chainage, problems.append)
    elif {"what", "at", "zone"} <= set(names):
        zones = _of_joints(rows, chainage, problems.append)
    elif {"strake", "height"} <= set(names):
        zones = [_of_shell(row) for row in rows]
    elif {"zone", "kind"} <= set(names):
        zones = [_plain(row) for row in rows]
    else:
        raise TableError(
            say(
                "The first row names the columns: zone and kind with the sizes of that kind; or strake and height; or "
                "what, name, at and zone of a joint list; or what, name, at, from and to of a deck's lines."
            )
        )
    allowed = {*GENERAL, *SIZES, "zone", "kind", "strake", "what", "name", "at", "from", "to", "length", "weld", "note"}
    if strange := [each for each in names if each not in allowed]:
        raise TableError(say('There is no column "{name}" in a table of zones.', name=strange[0]))
    _check_names(zones, problems.append)
    return ZoneList(tuple(zones), tuple(sorted(problems)))


def _heading(cell: str) -> tuple[str, str]:
    found = _HEADING.fullmatch(cell.strip().lower())
    return (found[1].strip().replace(" ", "_"), found[2] or "") if found else (cell.lower(), "")


def _row(row: TableRow, header: Sequence[tuple[str, str]], chainage: Chainage, bad: Bad) -> _Row:
    if len(row.cells) > len(header):
        column = say("column {number}", number=len(header) + 1)
        bad(Problem(row.number, column, row.cells[len(header)], say("stands under no heading.")))
        return _Row(row.number, {})
    cells = {}
    for (name, unit), text in zip(header, row.cells, strict=False):
        if text:
            cells[name] = _with_unit(text, unit or chainage.unit_word) if name in LENGTHS else text
    return _Row(row.number, cells)


def _with_unit(text: str, unit: str) -> str:
    parts = text.split() if " " in text and not text[-1].isalpha() else [text]
    return " ".join(part if part[-1].isalpha() else f"{part}{unit}" for part in parts)


def _sizes(row: _Row, *left_out: str) -> dict[str, Any]:
    sizes: dict[str, Any] = {name: row.cells[name] for name in SIZES if name in row.cells and name not in left_out}
    for name in LISTS:
        if name in sizes:
            sizes[name] = sizes[name].split()
    if "corners" in sizes:
        sizes["corners"] = [corner.strip() for corner in re.split(r"[/;\n]", sizes["corners"]) if corner.strip()]
    return sizes


def _listed(row: _Row, name: str, kind: str, sizes: dict[str, Any], columns: Mapping[str, str] | None = None) -> Listed:
    face, order = row.cells.get("face", "").lower(), row.cells.get("order", "")
    return Listed(row.number, name, kind, sizes, face, order, {**{each: each for each in SIZES}, **(columns or {})})


def _plain(row: _Row) -> Listed:
    return _listed(row, row.cells.get("zone", ""), row.cells.get("kind", "").lower(), _sizes(row))


def _of_shell(row: _Row) -> Listed:
    number = row.cells.get("strake", "")
    sizes = {**_sizes(row, "number"), "number": number}
    return _listed(row, row.cells.get("zone") or f"Strake {number}", "strake", sizes, {"number": "strake"})


# Joint list


class _Joint(NamedTuple):
    row: _Row
    start: float
    length: float | None


def _of_joints(rows: Sequence[_Row], chainage: Chainage, bad: Bad) -> list[Listed]:
    """Stretches of pipe: each zone from where its first joint begins to where its last one ends."""
    joints = []
    for row in rows:
        if row.cells.get("what", "").lower() != "joint":
            continue
        try:
            said = row.cells.get("length")
            length = chainage.read_measure(said) if said else None
            joints.append(_Joint(row, chainage.read(row.cells.get("at", "")), length))
        except ValueError as problem:
            bad(Problem(row.number, "at", row.cells.get("at", ""), str(problem)))
    joints.sort(key=lambda joint: joint.start)
    zones: list[Listed] = []
    ended: set[str] = set()
    run: list[_Joint] = []
    for place, joint in enumerate([*joints, None]):
        name = joint.row.cells.get("zone", "") if joint else ""
        if run and name != run[0].row.cells.get("zone", ""):
            ended.add(run[0].row.cells["zone"])
            zones.append(_stretch(run, joints[place] if place < len(joints) else None, chainage, bad))
            run = []
        if joint and name in ended:
            told = say("joints of {name} stand on both sides of another zone's.", name=name)
            bad(Problem(joint.row.number, "zone", name, told))
        elif joint and name:
            run.append(joint)
    return zones


def _stretch(joints: Sequence[_Joint], following: _Joint | None, chainage: Chainage, bad: Bad) -> Listed:
    first, last = joints[0], joints[-1]
    end = round(last.start + (last.length or 0.0), 6)
    if following and (last.length is None or abs(end - following.start) <= GIVE):
        end = following.start  # the next joint's weld is one place, however its two sides were measured
    if last.length is None and following is None:
        bad(
            Problem(last.row.number, "length", "", say("the last joint needs its length: it says where the zone ends."))
        )
    for joint, after in zip(joints, joints[1:], strict=False):
        if joint.length is not None and abs(joint.start + joint.length - after.start) > GIVE + 1e-9:
            told = say(
                "ends at {end}, and the next joint begins at {start}; {give} m is allowed.",
                end=chainage.print(joint.start + joint.length),
                start=chainage.print(after.start),
                give=GIVE,
            )
            bad(Problem(joint.row.number, "length", joint.row.cells.get("length", ""), told))
    sizes: dict[str, Any] = {}
    for joint in joints:
        for name in AROUND:
            text = joint.row.cells.get(name)
            if text and sizes.setdefault(name, text) != text:
                told = say("differs from {first} in the same zone; a zone has one.", first=sizes[name])
                bad(Problem(joint.row.number, name, text, told))
    sizes |= {"start": first.start, "end": end}
    return _listed(first.row, first.row.cells["zone"], "pipe", sizes, {"start": "at", "end": "length"})


# Grid of a deck


def _of_grid(rows: Sequence[_Row], chainage: Chainage, bad: Bad) -> list[Listed]:
    """Decks between lines: each zone from one crossing to another."""
    lines: dict[str, dict[str, float]] = {"letter": {}, "number": {}}
    for row in rows:
        what = row.cells.get("what", "").lower()
        if what not in ("letter", "number", "zone"):
            told = say("is nothing of a deck's grid; there are: {there}.", there="letter, number, zone")
            bad(Problem(row.number, "what", row.cells.get("what", ""), told))
        elif what != "zone":
            try:
                lines[what][row.cells.get("name", "").upper()] = chainage.read_measure(row.cells.get("at", ""))
            except ValueError as problem:
                bad(Problem(row.number, "at", row.cells.get("at", ""), str(problem)))
    zones = [row for row in rows if row.cells.get("what", "").lower() == "zone"]
    return [zone for row in zones if (zone := _between(row, lines, bad))]


def _between(row: _Row, lines: Mapping[str, Mapping[str, float]], bad: Bad) -> Listed | None:
    ends = []
    for column in ("from", "to"):
        crossing = _CROSSING.fullmatch(row.cells.get(column, ""))
        found = crossing and (crossing[1].upper(), str(int(crossing[2])))
        if not found or found[0] not in lines["letter"] or found[1] not in lines["number"]:
            there = f"{', '.join(lines['letter'])}; {', '.join(lines['number'])}"
            told = say("is no crossing of the lines above; there are: {there}.", there=there)
            bad(Problem(row.number, column, row.cells.get(column, ""), told))
            return None
        ends.append(found)
    sizes = {**_sizes(row), "skip": "none"}
    for which, place in (("letter", 0), ("number", 1)):
        at = lines[which]
        low, high = sorted((at[ends[0][place]], at[ends[1][place]]))
        within = [(name, x) for name, x in sorted(at.items(), key=lambda item: item[1]) if low <= x <= high]
        sizes[f"{which}s"] = [x for _, x in within]
        sizes[f"first_{which}"] = within[0][0]
        if which == "letter":
            named = [name for name, _ in within]
            skips = [skip for skip in ("", "I", "O", "IO") if _runs(named, skip)]
            sizes["skip"] = (skips[0] or "none") if skips else "none"
        else:
            named = [name for name, _ in within]
            skips = [""] if named == [str(int(named[0]) + step) for step in range(len(named))] else []
        if not skips:
            told = say("the lines between do not follow on from each other: {lines}.", lines=", ".join(named))
            bad(Problem(row.number, "to", row.cells.get("to", ""), told))
            return None
    where = {"letters": "from", "numbers": "from", "first_letter": "from", "first_number": "from"}
    return _listed(row, row.cells.get("name", ""), "deck", sizes, where)


def _runs(named: Sequence[str], skip: str) -> bool:
    try:
        return list(letters_from(named[0], len(named), skip)) == list(named)
    except ValueError:
        return False


def _check_names(zones: Sequence[Listed], bad: Bad) -> None:
    first: dict[str, Listed] = {}
    for zone in zones:
        if not 1 <= len(zone.name) <= LONGEST_NAME:
            told = say("is no name; write 1 to {longest} characters.", longest=LONGEST_NAME)
            bad(Problem(zone.row, "zone", zone.name, told))
        above = first.setdefault(zone.name.casefold(), zone)
        if above is not zone:
            bad(
                Problem(
                    zone.row, "zone", zone.name, say("is the name of the zone in row {row} as well.", row=above.row)
                )
            )
