"""Disks and annuli: true areas, straight distances, and places, rings and sectors as spoken."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from mapping import coverage
from mapping.coverage import divide
from mapping.lanes import lanes
from mapping.surfaces.disk import Annulus, Disk
from mapping.surfaces.plane import Sector
from tests.mapping.made_up_surfaces import ANNULUS, DISK, same

azimuths = st.floats(0, 360, exclude_max=True)
radii = st.floats(0, 12)
TRUE = 1e-4  # curved outlines are true in area to 0.01 %


def at(disk: Disk, azimuth: float, radius: float) -> tuple[float, float]:
    return disk.to_plane(azimuth / 360, radius)


@pytest.mark.parametrize("diameter", [1.0, 24.0, 90.0])
def test_the_area_of_a_disk_is_pi_r_squared_and_its_outline_is_true(diameter: float) -> None:
    # Area of a circle: elementary geometry.
    disk = Disk(diameter=diameter)
    assert disk.area == pytest.approx(math.pi * (diameter / 2) ** 2, rel=1e-12)
    assert disk.outline.area == pytest.approx(disk.area, rel=TRUE)


def test_the_area_of_an_annulus_is_that_of_its_circles_apart() -> None:
    annulus = Annulus(diameter=30.0, inner_diameter=27.6)
    assert annulus.area == pytest.approx(math.pi * (15.0**2 - 13.8**2), rel=1e-12)
    assert annulus.outline.area == pytest.approx(annulus.area, rel=TRUE)


@given(first=azimuths, wide=st.floats(0.1, 359.9), low=st.floats(0, 11), high=st.floats(0.1, 12))
def test_the_area_of_a_ringed_sector_is_true_wherever_it_begins(
    first: float, wide: float, low: float, high: float
) -> None:
    # Sector of an annulus: half the angle times the difference of the squared radii.
    low, high = min(low, high - 0.05), max(low + 0.05, high)
    low = max(low, 0.0)
    shape = DISK.sector(first / 360, (first + wide) / 360, low, high)
    assert shape.area == pytest.approx(math.radians(wide) / 2 * (high**2 - low**2), rel=TRUE)


@given(azimuth=azimuths, radius=radii)
def test_reading_a_printed_place_gives_it_within_half_a_step_on_each_axis(azimuth: float, radius: float) -> None:
    printed = DISK.print_place(*at(DISK, azimuth, radius))
    fraction, again = DISK.from_plane(*DISK.read_place(printed))
    assert abs(again - radius) <= 0.005 + 1e-5
    turned = abs(float(fraction) * 360 - azimuth)
    assert radius < 0.006 or min(turned, 360 - turned) <= 0.005 + 1e-7


@given(azimuth=azimuths)
def test_a_place_on_the_edge_lies_inside_the_outline(azimuth: float) -> None:
    for disk, radius in ((DISK, 12.0), (ANNULUS, 12.0), (ANNULUS, 10.25)):
        place = disk.read_place(f"{azimuth:.2f} deg, r {radius:.2f} m".replace("360.00", "0.00"))
        assert shapely.intersects_xy(disk.outline, *place)


@given(a=st.tuples(azimuths, radii), b=st.tuples(azimuths, radii))
def test_the_distance_is_that_of_the_law_of_cosines(a: tuple[float, float], b: tuple[float, float]) -> None:
    # Law of cosines for two places at r1 and r2 with the angle of their azimuths between them.
    angle = math.radians(a[0] - b[0])
    expected = math.sqrt(max(0.0, a[1] ** 2 + b[1] ** 2 - 2 * a[1] * b[1] * math.cos(angle)))
    assert DISK.distance(*at(DISK, *a), *at(DISK, *b)) == pytest.approx(expected, abs=1e-6)


def test_the_distance_over_the_opening_of_an_annulus_is_straight() -> None:
    assert ANNULUS.distance(*at(ANNULUS, 90, 11), *at(ANNULUS, 270, 11)) == pytest.approx(22.0)


def test_azimuth_90_lies_right_as_seen_from_above_and_left_from_below() -> None:
    below = Disk(diameter=24.0, viewed="below")
    assert DISK.to_view(*DISK.read_place("90 deg, r 4 m")) == pytest.approx((4.0, 0.0), abs=1e-9)
    assert below.to_view(*below.read_place("90 deg, r 4 m")) == pytest.approx((-4.0, 0.0), abs=1e-9)
    assert "above" in DISK.seen_from
    assert "below" in below.seen_from


def test_azimuth_0_lies_up_the_page() -> None:
    assert DISK.to_view(*DISK.read_place("0 deg, r 4 m")) == pytest.approx((0.0, -4.0), abs=1e-9)


def test_a_footprint_is_square_to_x_and_y() -> None:
    footprint = DISK.footprint(*at(DISK, 45, 6), 0.04, 0.02, 0.10)
    x, y = at(DISK, 45, 6)
    assert same(footprint, shapely.box(x - 0.12, y - 0.11, x + 0.12, y + 0.11))


@settings(max_examples=40)
@given(cuts=st.lists(st.floats(0.05, 11.95), min_size=1, max_size=6, unique=True))
def test_neighbouring_rings_leave_nothing_between_them(cuts: list[float]) -> None:
    edges = [0.0, *sorted(cuts), 12.0]
    rings = [DISK.sector(0, 1, low, high) for low, high in zip(edges, edges[1:], strict=False) if high - low > 1e-6]
    ground = divide(DISK.outline, [(ring, "stands") for ring in rings])
    assert coverage.coverage_words(DISK, ground) == "100 %"
    assert sum(ring.area for ring in rings) == pytest.approx(DISK.outline.area, abs=1e-4)


@settings(max_examples=40)
@given(cuts=st.lists(azimuths, min_size=2, max_size=6, unique=True))
def test_neighbouring_sectors_leave_nothing_between_them(cuts: list[float]) -> None:
    edges = sorted(round(cut, 2) % 360 for cut in cuts)
    said = [f"{first:.2f} deg to {second:.2f} deg" for first, second in zip(edges, [*edges[1:], edges[0]], strict=True)]
    ground = divide(ANNULUS.outline, [(ANNULUS.read_region(text), "stands") for text in said])
    assert coverage.coverage_words(ANNULUS, ground) == "100 %"


def test_lanes_of_a_disk_run_straight_and_fill_it() -> None:
    swept = [DISK.read_region(lane.said) for lane in lanes(DISK, 0.9, 0.1)]
    assert same(shapely.union_all(swept), DISK.outline, 1e-7)
    assert swept[14].bounds[3] - swept[14].bounds[1] == pytest.approx(0.9)


def test_lanes_of_an_annulus_run_around_and_fill_it() -> None:
    found = lanes(ANNULUS, 0.45, 0.05)
    swept = [ANNULUS.read_region(lane.said) for lane in found]
    assert same(shapely.union_all(swept), ANNULUS.outline, 1e-7)
    assert found[0].low == 10.25
    assert found[-1].high == pytest.approx(12.0)


@pytest.mark.parametrize(
    "said",
    [
        "r 2.00 to 4.00 m",
        "r 2.00 to 4.00 m, 10.00 deg to 40.00 deg",
        "350.00 deg to 40.25 deg",
        "r 3.00 to 12.00 m, 20.00 deg to 10.00 deg",
        "r 0.00 to 3.50 m",
        "r 0.00 to 3.50 m, 30.00 deg to 300.00 deg",
        "whole zone",
    ],
)
def test_a_spoken_stretch_is_described_in_the_same_words(said: str) -> None:
    assert DISK.describe_region(DISK.read_region(said)) == said


def test_pieces_on_both_sides_of_azimuth_0_are_described_by_the_shorter_way_around() -> None:
    pieces = DISK.read_region("r 2 to 3 m, 340 to 350 deg") | DISK.read_region("r 2 to 3 m, 10 to 20 deg")
    assert DISK.describe_region(pieces) == "r 2.00 to 3.00 m, 340.00 deg to 20.00 deg"


def test_a_stretch_is_printed_as_it_is_read() -> None:
    assert DISK.print_region(2.0, 4.0, Sector(350, 10)) == "r 2.00 to 4.00 m, 350.00 deg to 10.00 deg"
    lane = lanes(0.9, 0.45)[1]
    assert ANNULUS.print_region(11.0, 11.9, lane) == "r 11.00 to 11.90 m, lane 2 of 2, 0.45 m wide"


def test_stretches_of_coverage_are_of_a_few_hundred_square_metres_on_average() -> None:
    disk = Disk(diameter=60.0)
    assert 150 <= np.mean([stretch.area for stretch in disk.stretches]) <= 600
