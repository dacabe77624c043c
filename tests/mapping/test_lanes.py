"""Lanes: how many, where they lie, and the least time a sweep takes."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from mapping.lanes import lane_band, lane_count, lanes, least_seconds, sweep_seconds
from mapping.positions import Chainage
from mapping.surfaces.pipe import Pipe


@pytest.mark.parametrize(
    ("circumference", "electrode", "overlap", "count"),
    [
        (4.2, 0.3, 0.02, 15),  # 15 * 0.28 exactly, though 4.2 / (0.3 - 0.02) is above 15 in binary
        (3.6, 0.45, 0.0, 8),
        (3.61, 0.45, 0.0, 9),
        (3.1416, 0.45, 0.05, 8),  # a ring of diameter 1 m: 3.1416 / 0.40 = 7.85
        (0.40, 0.45, 0.05, 1),
        (0.45, 0.45, 0.05, 1),
        (0.46, 0.45, 0.05, 2),
    ],
)
def test_lanes_of_a_ring_are_counted_with_an_overlap_each(
    circumference: float, electrode: float, overlap: float, count: int
) -> None:
    assert lane_count(circumference, electrode, overlap, closed=True) == count


@pytest.mark.parametrize(
    ("width", "electrode", "overlap", "count"),
    [
        (3.6, 0.45, 0.0, 8),
        (2.05, 0.45, 0.05, 5),  # 5 * 0.45 less 4 overlaps of 0.05
        (2.06, 0.45, 0.05, 6),
        (0.2, 0.45, 0.05, 1),
        (0.03, 0.45, 0.05, 1),
    ],
)
def test_lanes_between_open_edges_are_counted_with_one_overlap_less(
    width: float, electrode: float, overlap: float, count: int
) -> None:
    assert lane_count(width, electrode, overlap, closed=False) == count


sizes = st.floats(0.05, 60)
electrodes = st.floats(0.05, 1.5)
shares = st.floats(0, 0.8)


@given(width=sizes, electrode=electrodes, share=shares)
def test_neighbouring_lanes_of_a_ring_keep_their_overlap_over_the_seam_too(
    width: float, electrode: float, share: float
) -> None:
    found = lanes(width, electrode, share * electrode, closed=True)
    assume(len(found) > 1)
    following = [*[lane.low for lane in found[1:]], found[0].low + width]
    for lane, low in zip(found, following, strict=True):
        assert lane.high - low >= share * electrode - 1e-6


@given(width=sizes, electrode=electrodes, share=shares)
def test_neighbouring_lanes_between_open_edges_keep_their_overlap(width: float, electrode: float, share: float) -> None:
    found = lanes(width, electrode, share * electrode)
    for lane, following in zip(found, found[1:], strict=False):
        assert lane.high - following.low >= share * electrode - 1e-6


@given(width=sizes, electrode=electrodes, share=shares)
def test_lanes_between_open_edges_reach_both_edges(width: float, electrode: float, share: float) -> None:
    found = lanes(width, electrode, share * electrode)
    assert found[0].low <= 1e-9
    assert found[-1].high >= width - 1e-9


@given(width=sizes, electrode=electrodes, share=shares)
def test_one_lane_less_of_a_ring_would_not_keep_the_overlap(width: float, electrode: float, share: float) -> None:
    overlap = share * electrode
    fewer = lane_count(width, electrode, overlap, closed=True) - 1
    assume(fewer > 0)
    assert fewer * (electrode - overlap) < width + 1e-6


def test_all_lanes_of_a_pipe_sweep_it_whole() -> None:
    pipe = Pipe(start=0, end=10, diameter=1.2)
    swept = [pipe.read_region(pipe.print_region(0, 10, lane)) for lane in lanes(pipe, 0.45, 0.05)]
    assert shapely.union_all(swept).area == pytest.approx(pipe.area, abs=1e-9)


def test_a_lane_band_is_as_wide_as_the_electrode_and_centred_on_its_share() -> None:
    assert lane_band(3, 8, 4.0, 0.6, closed=True) == pytest.approx((0.95, 1.55))


def test_lanes_say_their_number_and_width_in_the_unit_of_the_asset() -> None:
    pipe = Pipe(start=0, end=10, circumference=3.6, chainage=Chainage("imperial"))
    assert lanes(pipe, 0.4572)[2].said == "lane 3 of 8, 1.50 ft wide"


@pytest.mark.parametrize("number", [0, 9])
def test_a_lane_that_is_not_there_is_refused(number: int) -> None:
    with pytest.raises(ValueError, match="count from 1 to 8"):
        lane_band(number, 8, 3.6, 0.45, closed=True)


@pytest.mark.parametrize(
    ("width", "electrode", "overlap", "named"),
    [
        (0.0, 0.45, 0.0, "width"),
        (float("nan"), 0.45, 0.0, "width"),
        (3.6, -0.45, 0.0, "electrode"),
        (3.6, 0.45, 0.45, "overlap"),
        (3.6, 0.45, -0.01, "overlap"),
    ],
)
def test_sizes_that_make_no_lane_are_refused_by_name(
    width: float, electrode: float, overlap: float, named: str
) -> None:
    with pytest.raises(ValueError, match=named):
        lane_count(width, electrode, overlap, closed=True)


def test_a_sweep_takes_lanes_times_length_over_speed() -> None:
    assert sweep_seconds(8, 30.0, 0.3) == pytest.approx(800.0)


def test_the_least_possible_time_counts_no_overlap() -> None:
    # 100 m2 by a 0.5 m electrode is a strip of 200 m, at 0.25 m/s 800 s.
    assert least_seconds(100.0, 0.5, 0.25) == pytest.approx(800.0)


@pytest.mark.parametrize("speed", [0.0, -0.3, float("nan")])
def test_a_sweep_that_does_not_move_is_refused(speed: float) -> None:
    with pytest.raises(ValueError, match="speed"):
        least_seconds(100.0, 0.5, speed)
