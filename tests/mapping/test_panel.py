"""The panel: its own x and y, and places and rectangles as spoken."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from mapping.lanes import lanes
from mapping.surfaces.plane import Sector
from tests.mapping.made_up_surfaces import PANEL, same


@given(x=st.floats(0, 3), y=st.floats(0, 1.604))
def test_reading_a_printed_place_gives_it_within_half_a_step_on_each_axis(x: float, y: float) -> None:
    again = PANEL.read_place(PANEL.print_place(x, y))
    assert abs(again.x - x) <= 0.005 + 1e-6
    assert abs(again.y - y) <= 0.005 + 1e-6


def test_the_area_is_width_times_height() -> None:
    assert PANEL.area == pytest.approx(3 * 1.604)


def test_x_is_drawn_to_the_right_and_y_up() -> None:
    assert PANEL.to_view(1.0, 0.4) == pytest.approx((1.0, 1.204))


def test_distances_are_straight() -> None:
    assert PANEL.distance(0.3, 0.4, 0.6, 0.8) == pytest.approx(0.5)


def test_lanes_run_along_x_and_fill_the_panel() -> None:
    swept = [PANEL.read_region(lane.said) for lane in lanes(PANEL, 0.45, 0.05)]
    assert same(shapely.union_all(swept), PANEL.outline)


def test_a_stretch_is_printed_as_it_is_read() -> None:
    printed = PANEL.print_region(1.2, 2.0, Sector(0.4, 0.9))
    assert printed == "x 1.20 to 2.00 m, y 0.40 to 0.90 m"
    assert same(PANEL.read_region(printed), shapely.box(1.2, 0.4, 2.0, 0.9))


@pytest.mark.parametrize("said", ["x 1.20 to 2.00 m, y 0.40 to 0.90 m", "x 1.20 to 2.00 m", "y 0.40 to 0.90 m"])
def test_a_spoken_stretch_is_described_in_the_same_words(said: str) -> None:
    assert PANEL.describe_region(PANEL.read_region(said)) == said


def test_a_landmark_may_lie_off_the_panel() -> None:
    assert PANEL.read_place("x -0.20 y 0.40", anywhere=True) == (-0.2, 0.4)
