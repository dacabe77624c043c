"""Counts flaws where a row of a sheet has no room to draw each. Lengths are marks; the browser follows the same rules.

No Django.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mapping.symbols import CHIP_HALF

CELL = (42.0, 24.0)
"""Least width and height of a cell; a row is divided into as many equal ones as fit."""
PER_CELL = 2
"""Flaws drawn one by one in a cell; more are counted."""
REACH = 7.0
"""A flaw this near to a counting chip (on both axes) is counted in it, because its symbol would cover the chip."""


class Cell(NamedTuple):
    """A crowded cell: where its chip is centred, and which flaws (by index) it counts."""

    px: float
    py: float
    members: list[int]


def crowded_cells(
    marks: NDArray[np.float64], ranks: NDArray[np.int_], width: float, height: float
) -> tuple[list[int], list[Cell]]:
    """Divide the flaws of one row into those drawn alone, lowest rank first, and those counted in cells.

    Parameters
    ----------
    marks : places in the row, shape (n, 2), marks.
    ranks : urgency of each, shape (n,), 0 is the most urgent.
    width, height : size of the row in marks.
    """
    if not len(marks):
        return [], []
    columns, lines = max(1, math.floor(width / CELL[0])), max(1, math.floor(height / CELL[1]))
    size = (width / columns, height / lines)
    index = np.minimum(np.floor(marks / size).astype(int), (columns - 1, lines - 1))
    found, where, counts = np.unique(index[:, 1] * columns + index[:, 0], return_inverse=True, return_counts=True)
    groups = np.split(np.argsort(where, kind="stable"), np.cumsum(counts)[:-1])
    cells = [
        Cell((key % columns + 0.5) * size[0], (key // columns + 0.5) * size[1], group.tolist())
        for key, group in zip(found.tolist(), groups, strict=True)
        if len(group) > PER_CELL
    ]
    lone = np.flatnonzero(counts[where] <= PER_CELL)
    alone = []
    for flaw in lone[np.argsort(ranks[lone], kind="stable")].tolist():
        near = next((cell for cell in cells if _covers(cell, *marks[flaw])), None)
        if near is None:
            alone.append(flaw)
        else:
            near.members.append(flaw)
    return alone, cells


def _covers(cell: Cell, px: float, py: float) -> bool:
    return abs(px - cell.px) < CHIP_HALF[0] + REACH and abs(py - cell.py) < CHIP_HALF[1] + REACH


def short_count(count: int) -> str:
    """A count in at most three characters."""
    return str(count) if count < 1000 else f"{count // 1000}k"
