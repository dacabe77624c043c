"""The strake: area and distance of the unrolled cylinder, over the seam, and its places and stretches as spoken."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from shapely import affinity

from mapping import coverage
from mapping.coverage import divide
from mapping.lanes import lanes
from mapping.surfaces.plane import Sector
from mapping.surfaces.strake import Strake
from tests.mapping.made_up_surfaces import STRAKE, same

ROUND, HEIGHT = 40.0, 2.437
around = st.floats(0, ROUND, exclude_max=True)
up = st.floats(0, HEIGHT)


def test_the_area_is_pi_times_diameter_times_height() -> None:
    # Lateral surface of a right circular cylinder: elementary geometry.
    assert Strake(number=1, height=2.4, diameter=30.0).area == pytest.approx(math.pi * 30.0 * 2.4, rel=1e-12)


@given(x=around, y=up)
def test_reading_a_printed_place_gives_it_within_half_a_step_on_each_axis(x: float, y: float) -> None:
    again = STRAKE.read_place(STRAKE.print_place(x, y))
    assert STRAKE.distance(again.x, 0, x, 0) <= ROUND / 36000 / 2 + 1e-9
    assert abs(again.y - y) <= 0.005 + 1e-6


@settings(max_examples=25)
@given(ax=around, ay=up, bx=around, by=up)
def test_the_distance_is_the_shortest_helix_on_the_cylinder_in_space(
    ax: float, ay: float, bx: float, by: float
) -> None:
    # Helices from a to b, measured as polylines in space; the shortest of all turns rules. Independent of unrolling.
    radius = ROUND / (2 * math.pi)

    def helix(turn: float) -> float:
        angles = np.linspace(ax / radius, bx / radius + turn * 2 * math.pi, 4001)
        heights = np.linspace(ay, by, 4001)
        points = np.column_stack((radius * np.cos(angles), radius * np.sin(angles), heights))
        return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())

    assert STRAKE.distance(ax, ay, bx, by) == pytest.approx(min(map(helix, (-1, 0, 1))), rel=1e-5, abs=1e-6)


def test_no_way_bent_in_the_middle_is_shorter() -> None:
    a, b = (3.0, 0.2), (17.0, 2.2)
    middle = 10.0

    def bent(height: float) -> float:
        return float(STRAKE.distance(*a, middle, height) + STRAKE.distance(middle, height, *b))

    best = minimize_scalar(bent, bounds=(0, HEIGHT), method="bounded", options={"xatol": 1e-9})
    assert STRAKE.distance(*a, *b) == pytest.approx(best.fun, abs=1e-9)


def test_azimuths_on_both_sides_of_the_datum_are_near() -> None:
    a, b = STRAKE.read_place("359.91 deg, 1 m up"), STRAKE.read_place("0.09 deg, 1 m up")
    assert STRAKE.distance(*a, *b) == pytest.approx(ROUND * 0.18 / 360)


def test_a_shape_over_the_datum_is_split_there() -> None:
    folded = STRAKE.fold(shapely.box(39, 1, 42, 2))
    assert same(folded, shapely.box(39, 1, 40, 2) | shapely.box(0, 1, 2, 2))


def test_a_needle_that_closes_on_the_way_over_the_datum_spoils_nothing() -> None:
    """Doubles near 40 are coarser than near 0, where this piece is valid."""
    needle = shapely.Polygon([(1, 0), (1, 1), (1e-16, 1), (1e-16, 2), (0, 2), (0, 0)])
    assert needle.is_valid
    whole = STRAKE.unroll(shapely.MultiPolygon([needle, shapely.box(2, 0, 40, 2)]))
    assert same(whole, shapely.box(2, 0, 40, 2) | shapely.box(40, 0, 41, 1))


boxes = st.builds(
    lambda x, y, width, height: shapely.box(x, y, x + width, y + height),
    st.floats(-90, 90),
    st.floats(-1, 2.4),
    st.floats(0.01, 60),
    st.floats(0.01, 3),
)


@settings(max_examples=30)
@given(found=st.lists(boxes, max_size=6), shift=st.floats(-80, 80))
def test_moving_the_datum_changes_no_area_and_no_part(found: list[shapely.Polygon], shift: float) -> None:
    grounds = []
    for moved in (0.0, shift):
        swaths = [(STRAKE.fold(affinity.translate(box, moved, 0)), "stands") for box in found]
        grounds.append(divide(STRAKE.outline, swaths))
    sizes = [[part.area for part in coverage.gaps(STRAKE, ground).parts] for ground in grounds]
    assert grounds[1].stands.area == pytest.approx(grounds[0].stands.area, abs=1e-8)
    assert sizes[1] == pytest.approx(sizes[0], abs=1e-7)


@pytest.mark.parametrize(("face", "right"), [("inside", 10.0), ("outside", 30.0)])
def test_azimuth_runs_right_inside_and_left_outside(face: str, right: float) -> None:
    strake = Strake(number=3, height=HEIGHT, circumference=ROUND, face=face)
    drawn = strake.to_view(*strake.read_place("90 deg, 0.437 m up"))
    assert drawn == pytest.approx((right, 2.0))
    assert f"to the {'right' if face == 'inside' else 'left'}" in strake.seen_from


def test_lanes_run_around_and_fill_the_height() -> None:
    swept = [STRAKE.read_region(lane.said) for lane in lanes(STRAKE, 0.45, 0.05)]
    assert len(swept) == 6
    assert same(shapely.union_all(swept), STRAKE.outline)


def test_a_stretch_is_printed_as_it_is_read() -> None:
    printed = STRAKE.print_region(39.0, 41.5, Sector(0.4, 1.2))
    assert printed == "351.00 deg to 13.50 deg, 0.40 to 1.20 m up"
    assert same(STRAKE.read_region(printed), STRAKE.fold(shapely.box(39, 0.4, 41.5, 1.2)))


def test_a_lane_is_printed_as_it_is_read() -> None:
    printed = STRAKE.print_region(0, 10, lanes(STRAKE, 0.45, 0.05)[1])
    assert printed == "0.00 deg to 90.00 deg, lane 2 of 6, 0.45 m wide"


def test_a_shape_over_the_datum_is_described_as_one_stretch() -> None:
    said = "350.00 deg to 10.00 deg, 0.20 to 1.20 m up"
    assert STRAKE.describe_region(STRAKE.read_region(said)) == said


def test_a_full_height_is_described_without_heights() -> None:
    assert STRAKE.describe_region(STRAKE.read_region("plate 2")) == "50.00 deg to 170.50 deg"


def test_a_ring_is_described_without_azimuths() -> None:
    assert STRAKE.describe_region(STRAKE.read_region("0.30 to 1.20 m up")) == "0.30 to 1.20 m up"


def test_plates_make_up_the_strake() -> None:
    plates = [STRAKE.read_region(f"plate {number}") for number in range(1, 5)]
    assert same(shapely.union_all(plates), STRAKE.outline)
    assert sum(plate.area for plate in plates) == pytest.approx(STRAKE.area)


def test_stretches_of_coverage_are_of_a_few_hundred_square_metres() -> None:
    strake = Strake(number=1, height=2.4, diameter=60.0)
    assert all(150 <= stretch.area <= 600 for stretch in strake.stretches)


def test_a_landmark_may_lie_off_the_strake() -> None:
    assert STRAKE.read_place("90 deg, 3.00 m up", anywhere=True) == (10.0, 3.0)
