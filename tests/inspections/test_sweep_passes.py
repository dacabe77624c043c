"""Passes at high voltage by place. Oracle: the runs over the middle of each cell of a grid, counted one by one."""

from __future__ import annotations

import random

import numpy as np
import pytest
import shapely
from shapely import box

from inspections.sweep_passes import SweptOnce, joined, passes

GROUND = box(0, 0, 40, 20)


@pytest.mark.parametrize("seed", range(6))
def test_every_cell_lies_in_the_area_of_as_many_passes_as_runs_swept_it(seed: int) -> None:
    chance = random.Random(seed)
    swaths = []
    for _ in range(30):
        left, low = chance.randrange(-4, 40), chance.randrange(-4, 20)
        shape = box(left, low, left + chance.randrange(1, 15), low + chance.randrange(1, 8))
        swaths.append(SweptOnce(chance.choice("ABCDE"), shape))
    found = passes(GROUND, swaths)
    x, y = (axis.ravel() for axis in np.meshgrid(np.arange(40) + 0.5, np.arange(20) + 0.5))
    runs_over = sum(
        np.any([shapely.contains_xy(swath.shape, x, y) for swath in swaths if swath.run == run], axis=0).astype(int)
        for run in {swath.run for swath in swaths}
    )
    for count in range(1, 6):
        cells = int((runs_over == count).sum())
        shape = found.get(count, shapely.Polygon())
        assert shape.area == pytest.approx(cells, abs=1e-9)
        assert int(shapely.contains_xy(shape, x, y).sum()) == cells


def test_lanes_of_one_run_that_overlap_are_one_pass() -> None:
    found = passes(GROUND, [SweptOnce("A", box(0, 0, 10, 2)), SweptOnce("A", box(0, 1, 10, 3))])
    assert {count: shape.area for count, shape in found.items()} == {1: pytest.approx(30.0)}


def test_what_lies_off_the_ground_counts_nowhere() -> None:
    found = passes(GROUND, [SweptOnce("A", box(-5, 0, 5, 1)), SweptOnce("B", box(50, 0, 60, 1))])
    assert {count: shape.area for count, shape in found.items()} == {1: pytest.approx(5.0)}


def test_stretches_joined_again_are_the_whole() -> None:
    swaths = [SweptOnce("A", box(0, 0, 30, 5)), SweptOnce("B", box(15, 0, 40, 5)), SweptOnce("C", box(18, 2, 22, 3))]
    whole = passes(GROUND, swaths)
    parts = joined([passes(box(left, 0, left + 20, 20), swaths) for left in (0, 20)])
    assert {count: shape.area for count, shape in parts.items()} == pytest.approx(
        {count: shape.area for count, shape in whole.items()}
    )


def test_nothing_swept_is_no_pass() -> None:
    assert passes(GROUND, []) == {}
