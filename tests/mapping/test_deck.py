"""The bridge deck: lines and their names, bays, outlines over the grid, handedness, places as spoken."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from mapping.grid import letters_from
from mapping.lanes import Lane, lanes
from mapping.surfaces.corners import Corner
from mapping.surfaces.deck import Deck
from mapping.surfaces.plane import Sector
from tests.mapping.made_up_surfaces import CURVED, DECK, GRID, inside, same, shares

NUMBERS = (0.0, 4.05, 8.0, 11.5)


def test_aa_follows_z() -> None:
    assert letters_from("Y", 4) == ("Y", "Z", "AA", "AB")


def test_i_and_o_may_be_skipped_also_in_double_letters() -> None:
    assert letters_from("H", 2, skip="I") == ("H", "J")
    assert letters_from("N", 2, skip="IO") == ("N", "P")
    assert letters_from("AH", 2, skip="IO") == ("AH", "AJ")


@given(x=st.floats(0, 24.2), y=st.floats(0, 11.5))
def test_reading_a_printed_place_gives_it_within_half_a_step_on_each_axis(x: float, y: float) -> None:
    again = DECK.read_place(DECK.print_place(x, y))
    assert abs(again.x - x) <= 0.005 + 1e-6
    assert abs(again.y - y) <= 0.005 + 1e-6


@given(share_x=shares, share_y=shares)
def test_a_place_under_a_skewed_and_curved_outline_is_read_within_half_a_step(share_x: float, share_y: float) -> None:
    x, y = inside(CURVED, share_x, share_y)
    again = CURVED.read_place(CURVED.print_place(x, y))
    assert abs(again.x - x) <= 0.005 + 1e-6
    assert abs(again.y - y) <= 0.005 + 1e-6


@given(x=st.floats(-0.5, 26), y=st.floats(0, 12))
def test_printed_offsets_lie_within_their_bay(x: float, y: float) -> None:
    name, right, _ = CURVED.print_place(x, y).split()
    index = CURVED.lettered.names.index(name.split("-")[0])
    assert float(right) >= 0 or index == 0
    assert index == len(GRID) - 1 or float(right) < GRID[index + 1] - GRID[index]


def test_a_point_on_the_last_line_is_named_from_that_line() -> None:
    assert DECK.print_place(24.2, 11.5) == "L-10 +0.00 +0.00"


def test_a_landmark_may_lie_off_the_deck() -> None:
    assert DECK.read_place("L-10 +2.00 +0.00", anywhere=True) == (26.2, 11.5)


def test_bays_make_up_the_deck_also_past_the_outer_lines() -> None:
    bays = []
    for letter in CURVED.lettered.names:
        for number in CURVED.numbered.names:
            bays.append(CURVED.read_region(f"bay {letter}-{number}"))
    assert same(shapely.union_all(bays), CURVED.outline)
    assert sum(bay.area for bay in bays) == pytest.approx(CURVED.area)


@given(share_x=shares, share_y=shares)
def test_a_place_lies_in_the_bay_it_is_named_from(share_x: float, share_y: float) -> None:
    x, y = inside(CURVED, share_x, share_y)
    bay = CURVED.read_region(f"bay {CURVED.print_place(x, y).split()[0]}")
    assert bay.distance(shapely.Point(x, y)) <= 0.0072


def test_the_area_under_a_curved_edge_is_true() -> None:
    # Half disk on a square: elementary geometry.
    deck = Deck(
        letters=(0, 10), numbers=(0, 10), corners=(Corner(0, 0), Corner(10, 0), Corner(10, 10, (15, 5)), Corner(0, 10))
    )
    assert deck.area == pytest.approx(100 + math.pi * 25 / 2, rel=1e-9)


def test_the_area_under_an_edge_curved_inwards_is_true() -> None:
    deck = Deck(
        letters=(0, 10), numbers=(0, 10), corners=(Corner(0, 0), Corner(10, 0), Corner(10, 10, (9, 5)), Corner(0, 10))
    )
    # Circular segment with chord 10 and sagitta 1: radius 13, half angle asin(5 / 13).
    half = math.asin(5 / 13)
    segment = 13**2 / 2 * (2 * half - math.sin(2 * half))
    assert deck.area == pytest.approx(100 - segment, rel=1e-9)


def test_the_area_of_a_skewed_deck_is_that_of_the_parallelogram() -> None:
    deck = Deck(letters=(0, 10), numbers=(0, 4), corners=(Corner(0, 0), Corner(10, 0), Corner(12, 4), Corner(2, 4)))
    assert deck.area == pytest.approx(40.0)


@pytest.mark.parametrize(
    ("run", "viewed", "drawn"),
    [
        ("up", "above", (3.0, -2.0)),
        ("down", "above", (3.0, 2.0)),
        ("up", "below", (-3.0, -2.0)),
        ("down", "below", (-3.0, 2.0)),
    ],
)
def test_numbers_run_as_the_deck_states_and_below_is_mirrored(
    run: str, viewed: str, drawn: tuple[float, float]
) -> None:
    deck = Deck(letters=GRID, numbers=NUMBERS, numbers_run=run, viewed=viewed)
    assert deck.to_view(3.0, 2.0) == pytest.approx(drawn)
    assert f"numbers {run} the page" in deck.seen_from


def test_distances_are_straight_on_the_plane() -> None:
    assert CURVED.distance(0, 0, 3, 4) == pytest.approx(5.0)


def test_lanes_run_along_x_and_fill_the_deck() -> None:
    swept = [CURVED.read_region(lane.said) for lane in lanes(CURVED, 0.9, 0.1)]
    assert same(shapely.union_all(swept), CURVED.outline)


def test_lanes_of_a_bay_fill_the_bay() -> None:
    swept = [DECK.read_region(f"bay H-8, {lane.said}") for lane in lanes(3.95, 0.9, 0.1)]
    assert same(shapely.union_all(swept), DECK.read_region("bay H-8"))


def test_a_stretch_is_described_from_place_to_place() -> None:
    said = "G-7 +1.00 +0.50 to H-8 +0.00 +1.00"
    assert DECK.describe_region(DECK.read_region(said)) == said


@pytest.mark.parametrize("said", ["bay G-7", "bay K-7", "bay H-8"])
def test_what_a_bay_is_described_as_is_the_same_ground(said: str) -> None:
    bay = DECK.read_region(said)
    assert same(DECK.read_region(DECK.describe_region(bay)), bay)


def test_a_stretch_is_printed_as_it_is_read() -> None:
    printed = DECK.print_region(1.0, 6.5, Sector(0.5, 4.05))
    assert printed == "G-7 +1.00 +0.50 to H-8 +0.40 +0.00"
    assert DECK.print_region(0, 24.2, Lane(2, 6, 0, 1, "lane 2 of 6, 0.45 m wide")) == "lane 2 of 6, 0.45 m wide"
