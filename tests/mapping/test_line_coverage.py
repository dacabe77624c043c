"""Metres of weld and edge and counts of nozzles, divided by what their sweeps are worth, and as left after later work."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from mapping.coverage import PRECEDENCE
from mapping.intervals import Interval, Intervals, total, union
from mapping.line_coverage import ONE, DividedLine, LineEvent, LineSwath, divide_line, line_as_left

LONG = 40  # cells of 0.25 m
CELL = 0.25
MORNING = datetime(2025, 3, 3, 8, 0, tzinfo=UTC)

CELLS = st.tuples(st.integers(0, LONG), st.integers(0, LONG)).map(lambda ends: (min(ends), max(ends)))
SWEEP = st.tuples(CELLS, st.sampled_from(PRECEDENCE), st.integers(0, 9))
EVENT = st.tuples(CELLS, st.integers(0, 9))


def metres(cells: tuple[int, int]) -> Intervals:
    return union([(cells[0] * CELL, cells[1] * CELL)])


def hour(number: int) -> datetime:
    return MORNING + timedelta(hours=number)


def counted(
    sweeps: list[tuple[tuple[int, int], str, int]], events: list[tuple[tuple[int, int], int]]
) -> dict[str, int]:
    """How many cells end up with each standing, cell by cell: another computation of the same thing."""
    cells = ["gap"] * LONG
    rank = {standing: place for place, standing in enumerate((*PRECEDENCE, "gap"))}
    for cell in range(LONG):
        for (low, high), standing, at in sweeps:
            spoiled = any(first <= cell < last and when >= at for (first, last), when in events)
            if low <= cell < high and not spoiled and rank[standing] < rank[cells[cell]]:
                cells[cell] = standing
    return {standing: cells.count(standing) for standing in rank}


@given(st.lists(SWEEP, max_size=8), st.lists(EVENT, max_size=4))
def test_a_divided_line_is_its_counted_cells(
    sweeps: list[tuple[tuple[int, int], str, int]], events: list[tuple[tuple[int, int], int]]
) -> None:
    surveyed = [LineSwath(metres(cells), standing, hour(at)) for cells, standing, at in sweeps]
    later = [LineEvent(metres(cells), hour(at)) for cells, at in events]
    divided = divide_line(((0.0, LONG * CELL),), line_as_left(surveyed, later, []))
    assert {kind: total(pieces) / CELL for kind, pieces in divided._asdict().items()} == pytest.approx(
        counted(sweeps, events)
    )


@given(st.lists(SWEEP, max_size=8))
def test_the_parts_of_a_line_lie_apart_and_are_the_testable_line(
    sweeps: list[tuple[tuple[int, int], str, int]],
) -> None:
    divided = divide_line(((1.0, 6.0),), [(metres(cells), standing) for cells, standing, _ in sweeps])
    assert sum(map(total, divided)) == pytest.approx(5.0)
    assert union(piece for pieces in divided for piece in pieces) == ((1.0, 6.0),)


def test_a_retest_after_the_work_counts_and_one_before_it_does_not() -> None:
    work = [LineEvent(((2.0, 4.0),), hour(5))]
    early, late = (LineSwath(((0.0, 10.0),), "stands", hour(at)) for at in (3, 7))
    whole: Intervals = ((0.0, 10.0),)
    assert divide_line(whole, line_as_left([early], work, [])).gap == ((2.0, 4.0),)
    assert divide_line(whole, line_as_left([early], work, [late])).gap == ()


def test_a_counted_feature_is_swept_whole_or_not_at_all() -> None:
    assert divide_line(ONE, [(ONE, "stands")]).missing == []
    assert divide_line(ONE, [(ONE, "lost")]).missing == [(0.0, 1.0)]


def test_untested_parts_below_a_centimetre_are_no_hole() -> None:
    parts: list[Interval] = [(0.0, 4.996), (5.0, 10.0)]
    assert divide_line(((0.0, 10.0),), [(union(parts), "stands")]).missing == []


def test_untested_parts_of_several_kinds_side_by_side_are_one_hole() -> None:
    divided = DividedLine(stands=((0.0, 5.0),), held=((5.0, 5.006),), pending=(), lost=((5.006, 5.012),), gap=())
    assert divided.missing == [(5.0, 5.012)]


def test_another_standing_is_refused() -> None:
    with pytest.raises(ValueError, match="'good' is not allowed: stands, held, pending, lost"):
        divide_line(ONE, [(ONE, "good")])


def test_the_metres_are_those_that_numpy_sums_on_a_fine_grid() -> None:
    rng = np.random.default_rng(12)
    ends = np.sort(rng.uniform(0, 100, (30, 2)), axis=1)
    grid: NDArray[np.float64] = np.arange(0, 100, 0.001) + 0.0005
    reached = ((ends[:, :1] <= grid) & (grid < ends[:, 1:])).any(axis=0)
    divided = divide_line(((0.0, 100.0),), [(((float(a), float(b)),), "stands") for a, b in ends])
    assert total(divided.stands) == pytest.approx(reached.sum() * 0.001, abs=0.05)
