"""The smallest set of sweeps, held against trying every set (brute force) and against worked covers."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import box, union_all

from repairs.retest_set import Pieces, cut, fewest

NO_THING = np.zeros((0, 0), dtype=bool)


def by_trying_all(reached: NDArray[np.bool_], areas: NDArray[np.float64], needed: float) -> int:
    """How many sweeps the smallest set has: every set is tried, the small ones first."""
    for size in range(len(reached) + 1):
        for some in combinations(range(len(reached)), size):
            if areas[reached[list(some)].any(axis=0)].sum() >= needed - 1e-9:
                return size
    raise AssertionError("no set reaches what is needed")


@st.composite
def covers(draw: st.DrawFn) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    sweeps, pieces = draw(st.integers(1, 7)), draw(st.integers(1, 9))
    bits = draw(st.lists(st.booleans(), min_size=sweeps * pieces, max_size=sweeps * pieces))
    reached = np.array(bits).reshape(sweeps, pieces)
    reached[draw(st.integers(0, sweeps - 1)), ~reached.any(axis=0)] = True
    areas = draw(st.lists(st.integers(1, 20), min_size=pieces, max_size=pieces))
    return reached, np.array(areas, dtype=float)


@given(covers(), st.floats(0.1, 1.0))
def test_it_is_as_small_as_the_smallest_of_all_sets(
    cover: tuple[NDArray[np.bool_], NDArray[np.float64]], share: float
) -> None:
    reached, areas = cover
    needed = share * areas.sum()

    found = fewest(Pieces(areas, reached, 0.0), np.zeros((len(reached), 0), dtype=bool), [1.0] * len(reached), needed)

    assert found.proven
    assert len(found.chosen) == by_trying_all(reached, areas, needed)
    assert areas[reached[list(found.chosen)].any(axis=0)].sum() >= needed - 1e-6


def test_the_cover_of_which_greed_takes_three_takes_two() -> None:
    """The classic case against greed: two rows of a grid cover it, but the greedy sweep takes most of both first."""
    reached = np.array([[1, 1, 1, 0, 0, 0], [0, 0, 0, 1, 1, 1], [1, 1, 0, 1, 1, 0]], dtype=bool)

    found = fewest(Pieces(np.ones(6), reached, 0.0), np.zeros((3, 0), dtype=bool), [3.0, 3.0, 4.0])

    assert (found.chosen, found.proven) == ((0, 1), True)


def test_of_sets_of_as_many_the_one_of_less_work_is_taken() -> None:
    reached = np.array([[1, 1], [1, 1]], dtype=bool)

    assert fewest(Pieces(np.ones(2), reached, 0.0), np.zeros((2, 0), dtype=bool), [9.0, 2.0]).chosen == (1,)


def test_a_patch_needs_a_sweep_that_covers_it_whole() -> None:
    """Sweep 0 reaches all ground, but only sweep 1 serves the patch."""
    reached = np.array([[1, 1], [1, 0]], dtype=bool)

    found = fewest(Pieces(np.ones(2), reached, 0.0), np.array([[False], [True]]), [1.0, 1.0])

    assert found.chosen == (0, 1)


def test_ground_is_cut_where_sweeps_overlap() -> None:
    """Two lanes of 0.6 m over 1 m: 0.4, 0.2 and 0.4 m wide."""
    pieces = cut(box(0, 0, 10, 1), [box(0, 0, 10, 0.6), box(0, 0.4, 10, 1)])

    assert sorted(pieces.areas) == pytest.approx([2.0, 4.0, 4.0])
    assert pieces.beyond == 0.0


def test_what_no_sweep_reaches_is_said() -> None:
    pieces = cut(box(0, 0, 10, 1), [box(0, 0, 4, 1)])

    assert (pieces.areas.tolist(), pieces.beyond) == ([4.0], 6.0)


@given(
    st.lists(
        st.tuples(st.integers(0, 8), st.integers(0, 8), st.integers(1, 5), st.integers(1, 5)), min_size=1, max_size=8
    )
)
def test_the_pieces_that_sweeps_reach_are_the_union_of_the_sweeps(corners: list[tuple[int, int, int, int]]) -> None:
    need = box(0, 0, 10, 10)
    sweeps = [box(x, y, x + wide, y + high) for x, y, wide, high in corners]

    pieces = cut(need, sweeps)

    assert pieces.areas.sum() == pytest.approx(union_all(sweeps).intersection(need).area)
    assert pieces.areas.sum() + pieces.beyond == pytest.approx(100.0)
    for sweep, reached in zip(sweeps, pieces.reached, strict=True):
        assert pieces.areas[reached].sum() == pytest.approx(sweep.intersection(need).area)


def test_what_cannot_be_reached_is_refused() -> None:
    with pytest.raises(ValueError, match="needed_m2 3 is not allowed: at most 2 m2"):
        fewest(Pieces(np.array([2.0]), np.array([[True]]), 0.0), np.zeros((1, 0), dtype=bool), [1.0], 3.0)
