"""A list of joints and other landmarks along an asset, read from the rows of a table. No Django."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from accounts.tablefile import Problem, TableError, TableRow, read_table
from accounts.wording import say
from mapping.positions import Chainage

KINDS = ("girth weld", "joint", "seam", "nozzle", "bracket", "valve", "marker", "line")
COLUMNS = ("what", "name", "at", "length", "weld", "note")
GIVE = 0.05  # m by which a joint's length may miss the next joint's beginning
LONGEST_NAME = 60


class Mark(NamedTuple):
    """One landmark of the list; x in continuous metres, and what was said of its place."""

    row: int
    kind: str
    name: str
    x: float
    said: str


class JointList(NamedTuple):
    """The landmarks in the order of the file, and every cell that cannot be read."""

    marks: tuple[Mark, ...]
    problems: tuple[Problem, ...]


class _Joint(NamedTuple):
    row: int
    name: str
    x: float
    length: float | None
    said: str


def read_joints(content: bytes, name: str, chainage: Chainage) -> JointList:
    """Read a joint list: what, name, at (chainage), and for joints their length and the weld at their beginning.

    Raises
    ------
    TableError
        When the file as a whole cannot be read. Bad cells are in `problems` instead, all of them.
    """
    table = read_table(content, name)
    header = [cell.lower() for cell in table.rows[0].cells]
    strange = [cell for cell in header if cell not in COLUMNS]
    if strange or "what" not in header or "name" not in header or "at" not in header:
        raise TableError(
            say(
                "The first row names the columns: what, name, at, and where wanted {list}.", list=", ".join(COLUMNS[3:])
            )
        )
    problems: list[Problem] = []
    marks: list[Mark] = []
    joints: list[_Joint] = []
    for row in table.rows[1:]:
        if [cell.lower() for cell in row.cells] != header and not row.cells[0].startswith("#"):
            _take(row, header, chainage, marks, joints, problems.append)
    _check_lengths(joints, chainage, problems.append)
    _check_names(marks, problems.append)
    return JointList(tuple(marks), tuple(sorted(problems)))


def _take(
    row: TableRow,
    header: Sequence[str],
    chainage: Chainage,
    marks: list[Mark],
    joints: list[_Joint],
    bad: Callable[[Problem], None],
) -> None:
    cells = {column: text for column, text in zip(header, row.cells, strict=False) if text}
    kind, name, at = cells.get("what", "").lower(), cells.get("name", ""), cells.get("at", "")
    if len(row.cells) > len(header):
        bad(
            Problem(
                row.number,
                say("column {count}", count=len(header) + 1),
                row.cells[len(header)],
                say("stands under no heading."),
            )
        )
        return
    if kind not in KINDS:
        bad(
            Problem(
                row.number,
                "what",
                cells.get("what", ""),
                say("is no landmark; there are: {kinds}.", kinds=", ".join(KINDS)),
            )
        )
        return
    for column in ("name", "weld"):
        if len(cells.get(column, "")) > LONGEST_NAME or (column == "name" and not name):
            bad(
                Problem(
                    row.number,
                    column,
                    cells.get(column, ""),
                    say("is no name; write 1 to {longest_name} characters.", longest_name=LONGEST_NAME),
                )
            )
            return
    try:
        x = chainage.read(at)
    except ValueError as problem:
        bad(Problem(row.number, "at", at, str(problem)))
        return
    said, length = at, None
    if text := cells.get("length"):
        with_unit = text if text[-1].isalpha() else f"{text} {'m' if chainage.system == 'metric' else 'ft'}"
        try:
            length = chainage.read_length(with_unit)
        except ValueError as problem:
            bad(Problem(row.number, "length", text, str(problem)))
            return
        said = f"{at}, {with_unit} long"
    if kind == "joint":
        joints.append(_Joint(row.number, name, x, length, cells.get("length", "")))
    if weld := cells.get("weld"):
        marks.append(Mark(row.number, "girth weld", weld, x, at))
    marks.append(Mark(row.number, kind, name, x, said))


def _check_lengths(joints: list[_Joint], chainage: Chainage, bad: Callable[[Problem], None]) -> None:
    """A joint ends where the next one begins; a list that disagrees with itself would send painters astray."""
    ordered = sorted(joints, key=lambda joint: joint.x)
    for joint, following in zip(ordered, ordered[1:], strict=False):
        if joint.length is not None and abs(joint.x + joint.length - following.x) > GIVE + 1e-9:
            ends, begins = chainage.print(joint.x + joint.length), chainage.print(following.x)
            told = say(
                "puts the end of {joint} at {ends}, and {following} begins at {begins}; {give} m is allowed.",
                joint=joint.name,
                ends=ends,
                following=following.name,
                begins=begins,
                give=GIVE,
            )
            bad(Problem(joint.row, "length", joint.said, told))


def _check_names(marks: list[Mark], bad: Callable[[Problem], None]) -> None:
    first: dict[tuple[str, str], Mark] = {}
    for mark in marks:
        above = first.setdefault((mark.kind, mark.name.casefold()), mark)
        if above is not mark:
            bad(
                Problem(
                    mark.row,
                    "name",
                    mark.name,
                    say("is the name of another {kind}, in row {row}.", kind=mark.kind, row=above.row),
                )
            )
