"""A list of welds, edges, nozzles and brackets, read from the rows of a table. Knows no zones."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from accounts.tablefile import Problem, TableError, TableRow, read_table
from accounts.units import LENGTH, NotRead, read, to_si
from accounts.wording import say

KINDS = ("weld", "edge", "nozzle", "bracket")
COLUMNS = ("zone", "what", "name", "place", "size", "note")
NEEDED = ("zone", "what", "name", "place")
LONGEST_NAME = 60


class Listed(NamedTuple):
    """One feature of the list: its zone by name, its place as spoken, its size in m (0 where none is stated)."""

    row: int
    zone: str
    kind: str
    name: str
    place: str
    size: float


class FeatureList(NamedTuple):
    """The features in the order of the file, and every cell that cannot be read."""

    features: tuple[Listed, ...]
    problems: tuple[Problem, ...]


def read_features(content: bytes, name: str) -> FeatureList:
    """Read a list of features: zone, what, name, place as spoken there, and for nozzles and brackets a size.

    Raises
    ------
    TableError
        When the file as a whole cannot be read. Bad cells are in `problems` instead, all of them.
    """
    table = read_table(content, name)
    header = [cell.lower() for cell in table.rows[0].cells]
    if set(header) - set(COLUMNS) or not set(NEEDED) <= set(header):
        raise TableError(
            say(
                "The first row names the columns: {needed}, and where wanted {others}.",
                needed=", ".join(NEEDED),
                others=", ".join(COLUMNS[len(NEEDED) :]),
            )
        )
    problems: list[Problem] = []
    features: list[Listed] = []
    seen: dict[tuple[str, str, str], int] = {}
    for row in table.rows[1:]:
        if [cell.lower() for cell in row.cells] == header or row.cells[0].startswith("#"):
            continue
        listed = _take(row, header, problems.append)
        if listed is None:
            continue
        above = seen.setdefault((listed.zone.casefold(), listed.kind, listed.name.casefold()), row.number)
        if above != row.number:
            told = say("is the name of another {kind} of this zone, in row {row}.", kind=listed.kind, row=above)
            problems.append(Problem(row.number, "name", listed.name, told))
        else:
            features.append(listed)
    return FeatureList(tuple(features), tuple(sorted(problems)))


def _take(row: TableRow, header: Sequence[str], bad: Callable[[Problem], None]) -> Listed | None:
    cells = {column: text for column, text in zip(header, row.cells, strict=False) if text}
    if len(row.cells) > len(header):
        column = say("column {count}", count=len(header) + 1)
        bad(Problem(row.number, column, row.cells[len(header)], say("stands under no heading.")))
        return None
    sound = True
    for column in NEEDED:
        if not cells.get(column):
            bad(Problem(row.number, column, "", say("is empty; every feature needs it.")))
            sound = False
    kind, name = cells.get("what", "").lower(), cells.get("name", "")
    if kind and kind not in KINDS:
        told = say("is no feature; there are: {kinds}.", kinds=", ".join(KINDS))
        bad(Problem(row.number, "what", cells["what"], told))
        sound = False
    if len(name) > LONGEST_NAME:
        told = say("is too long a name; {most} characters are kept.", most=LONGEST_NAME)
        bad(Problem(row.number, "name", name, told))
        sound = False
    size = 0.0
    if text := cells.get("size"):
        try:
            number, unit = read(text, LENGTH)
            if unit is None:
                raise NotRead(say("has no unit; write it like {example}.", example="600 mm"))
            size = float(to_si(number, unit))
        except NotRead as problem:
            bad(Problem(row.number, "size", text, str(problem)))
            sound = False
    if not sound:
        return None
    return Listed(row.number, cells["zone"], kind, name, cells["place"], size)
