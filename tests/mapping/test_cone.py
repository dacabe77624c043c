"""The cone: area and distance on its unrolled sector, over the seam, whole or cut off, and its places as spoken."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from mapping import coverage
from mapping.coverage import divide
from mapping.lanes import lanes
from mapping.surfaces.cone import Cone
from mapping.surfaces.plane import Areal
from tests.mapping.made_up_surfaces import CONE, FLAT_ROOF, HOPPER, same

SLANT = 15.0  # of CONE: radius 12 and height 9, a triangle 9-12-15
TURN = 2 * math.pi * 12 / 15
azimuths = st.floats(0, 360, exclude_max=True)
slants = st.floats(0, SLANT)
cones = pytest.mark.parametrize("cone", [CONE, HOPPER, FLAT_ROOF], ids=["whole", "cut", "flat"])


def at(cone: Cone, azimuth: float, slant: float) -> tuple[float, float]:
    return cone.to_plane(azimuth / 360, slant)


def in_space(azimuth: float, slant: float) -> np.ndarray:
    """A place of CONE in space: radius is 12/15 of the slant distance, depth 9/15."""
    angle = math.radians(azimuth)
    return slant * np.array([0.8 * math.sin(angle), 0.8 * math.cos(angle), -0.6])


# Sizes


def test_the_area_of_a_cone_is_pi_r_s() -> None:
    # Lateral surface of a right circular cone: elementary geometry.
    assert CONE.area == pytest.approx(math.pi * 12 * SLANT, rel=1e-12)


def test_the_area_of_a_cut_cone_is_that_of_the_frustum() -> None:
    # Lateral surface of a frustum: pi (R + r) s, here with R 6, r 1 and a triangle 5-12-13.
    assert pytest.approx(math.pi * (6 + 1) * 13, rel=1e-12) == HOPPER.area


def test_a_cut_cone_keeps_its_virtual_apex() -> None:
    assert pytest.approx((2.6, 15.6)) == (HOPPER.inner, HOPPER.outer)


@cones
def test_the_unrolled_sector_is_true_in_area(cone: Cone) -> None:
    assert cone.outline.area == pytest.approx(cone.area, rel=1e-4)


@given(first=azimuths, wide=st.floats(1, 359), low=st.floats(0, 14), long=st.floats(0.1, 3))
def test_the_area_of_a_ringed_sector_is_true_also_over_the_seam(
    first: float, wide: float, low: float, long: float
) -> None:
    # A share of pi (R + r) s of the frustum between two slant distances.
    high = min(low + long, SLANT)
    first, second = round(first, 2) % 360, round(first + wide, 2) % 360
    low, high = round(low, 2), round(high, 2)
    assume(high > low)
    region = CONE.read_region(f"slant {low:.2f} to {high:.2f} m, {first:.2f} deg to {second:.2f} deg")
    share = ((second - first) % 360 or 360) / 360
    assert region.area == pytest.approx(share * math.pi * 0.8 * (high**2 - low**2), rel=1e-4)


# Distance


@given(a=st.tuples(azimuths, slants), b=st.tuples(azimuths, slants))
def test_the_distance_is_that_of_the_law_of_cosines_on_the_unrolled_sector(
    a: tuple[float, float], b: tuple[float, float]
) -> None:
    # The unrolled sector turns by 12/15 of the azimuth; the shorter way around rules.
    turned = abs(a[0] - b[0])
    angle = math.radians(min(turned, 360 - turned)) * 0.8
    expected = math.sqrt(max(0.0, a[1] ** 2 + b[1] ** 2 - 2 * a[1] * b[1] * math.cos(angle)))
    assert CONE.distance(*at(CONE, *a), *at(CONE, *b)) == pytest.approx(expected, abs=2e-6)


@settings(max_examples=25, deadline=None)
@given(a=st.tuples(azimuths, st.floats(1, SLANT)), azimuth=st.floats(5, 170), slant=st.floats(1, SLANT))
def test_the_distance_is_that_of_a_way_over_the_cone_in_space_and_none_is_shorter(
    a: tuple[float, float], azimuth: float, slant: float
) -> None:
    # Ways on the cone in space, bent towards the apex by a single parameter: the best of these is never shorter.
    steps = np.linspace(0, 1, 401)
    least = min(a[1], slant)

    def length(bend: float) -> float:
        away = a[1] + (slant - a[1]) * steps - bend * steps * (1 - steps)
        points = np.array([in_space(a[0] + azimuth * s, r) for s, r in zip(steps, np.maximum(away, 0), strict=True)])
        return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())

    best = minimize_scalar(length, bounds=(-0.5 * least, 2.5 * least), method="bounded").fun
    found = float(CONE.distance(*at(CONE, *a), *at(CONE, a[0] + azimuth, slant)))
    assert found <= best * (1 + 1e-4) + 1e-6
    # The straight way itself, carried into space, is as long as was found.
    ends = a[1] + 0j, slant * np.exp(0.8j * math.radians(azimuth))
    straight = ends[0] + (ends[1] - ends[0]) * steps
    turned = np.degrees(np.angle(straight)) / 0.8 + a[0]
    points = np.array([in_space(*place) for place in zip(turned, np.abs(straight), strict=True)])
    assert found == pytest.approx(float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum()), rel=1e-3)


def test_places_on_both_sides_of_the_seam_are_near() -> None:
    assert CONE.distance(*at(CONE, 359.5, 10), *at(CONE, 0.5, 10)) == pytest.approx(
        0.8 * 10 * math.radians(1), rel=1e-4
    )


# Folding


@cones
@settings(max_examples=30)
@given(azimuth=azimuths, share=st.floats(0.3, 0.9), size=st.floats(0.02, 1.0))
def test_a_footprint_keeps_its_area_wherever_the_seam_is(cone: Cone, azimuth: float, share: float, size: float) -> None:
    slant = cone.inner + share * (cone.outer - cone.inner)
    footprint = cone.footprint(*at(cone, azimuth, slant), size, size / 2, 0.05)
    assert footprint.area == pytest.approx((size + 0.1) * (size / 2 + 0.1), rel=1e-6)


def test_a_footprint_over_the_seam_is_in_two_pieces_and_one_part() -> None:
    footprint = CONE.footprint(*at(CONE, 359.99, 8), 0.4, 0.2, 0.0)
    assert shapely.get_num_geometries(footprint) == 2
    (part,) = coverage.parts(CONE, footprint)
    assert part.area == pytest.approx(0.08)
    assert CONE.distance(*part.centre, *at(CONE, 359.99, 8)) == pytest.approx(0.0, abs=1e-6)


def test_a_footprint_is_square_to_azimuth_and_slant() -> None:
    footprint = CONE.footprint(*at(CONE, 112.5, 8), 0.4, 0.2, 0.0)  # there the slant runs along x
    assert same(footprint, shapely.box(7.9, -0.2, 8.1, 0.2))


def test_a_round_footprint_over_the_seam_has_the_area_of_its_circle() -> None:
    footprint = CONE.footprint(*at(CONE, 0, 8), 0.1, 0.2, 0.1, round_=True)
    assert footprint.area == pytest.approx(math.pi * 0.2**2, rel=1e-4)


def test_a_shape_past_an_edge_of_the_sector_comes_back_at_the_other() -> None:
    ring = CONE.sector(0.95, 1.05, 8.0, 9.0)
    assert same(CONE.fold(ring), CONE.read_region("slant 8 to 9 m, 342 deg to 18 deg"), 1e-6)


def test_a_margin_over_the_seam_is_as_wide_as_elsewhere() -> None:
    grown = [
        CONE.with_margin(CONE.footprint(*at(CONE, azimuth, 8), 0.4, 0.2, 0.0), 0.3) for azimuth in (359.9, 0.0, 140.0)
    ]
    assert [shape.area for shape in grown] == pytest.approx([1.0 * 0.8] * 3)


sweeps = st.lists(st.tuples(azimuths, st.floats(5, 340), st.floats(0.5, 14), st.floats(0.1, 4)), min_size=1, max_size=5)


def swept(found: list[tuple[float, float, float, float]], shift: float) -> list[tuple[Areal, str]]:
    """Ringed sectors, their azimuths turned by a shift; on whole corners, where turned edges are the same."""
    shapes = []
    for azimuth, wide, slant, long in found:
        first = (round(azimuth * 2) + round(shift * 2)) / 720 % 1
        second = (first + round(wide * 2) / 720) % 1
        ring = f"slant {slant:.2f} to {slant + long:.2f} m"
        shapes.append((CONE.read_region(f"{ring}, {first * 360:.2f} deg to {second * 360:.2f} deg"), "stands"))
    return shapes


@settings(max_examples=30)
@given(found=sweeps, shift=azimuths)
def test_moving_the_seam_changes_no_area_and_no_part(
    found: list[tuple[float, float, float, float]], shift: float
) -> None:
    grounds = [divide(CONE.outline, swept(found, moved)) for moved in (0.0, shift)]
    assert grounds[1].stands.area == pytest.approx(grounds[0].stands.area, abs=1e-6)
    sizes = [[part.area for part in coverage.gaps(CONE, ground).parts] for ground in grounds]
    assert sizes[1] == pytest.approx(sizes[0], abs=1e-6)


# Spoken


@cones
@given(azimuth=azimuths, share=st.floats(0.001, 1))
def test_reading_a_printed_place_gives_it_within_half_a_step_on_each_axis(
    cone: Cone, azimuth: float, share: float
) -> None:
    slant = cone.inner + share * (cone.outer - cone.inner)
    again = cone.read_place(cone.print_place(*at(cone, azimuth, slant)))
    fraction, away = cone.from_plane(*again)
    turned = abs(float(fraction) * 360 - azimuth)
    assert min(turned, 360 - turned) <= 0.005 + 1e-7
    assert abs(away - slant) <= cone.chainage.step / 2 + 1e-5


@pytest.mark.parametrize(
    "said",
    [
        "slant 2.00 to 4.00 m, 10.00 deg to 40.00 deg",
        "slant 2.00 to 4.00 m, 350.00 deg to 20.00 deg",
        "slant 2.00 to 4.00 m",
        "90.00 deg to 20.00 deg",
        "slant 0.00 to 3.00 m, 350.00 deg to 20.00 deg",
        "whole zone",
    ],
)
def test_a_spoken_stretch_is_described_in_the_same_words(said: str) -> None:
    assert CONE.describe_region(CONE.read_region(said)) == said


def test_lanes_run_around_as_rings_and_fill_the_cone() -> None:
    rings = [CONE.read_region(lane.said) for lane in lanes(CONE, 0.9, 0.1)]
    assert same(shapely.union_all(rings), CONE.outline, 1e-7)


def test_the_apex_up_the_page_is_seen_from_above_and_mirrored_from_below() -> None:
    below = Cone(diameter=24.0, height=9.0, viewed="below")
    assert CONE.to_view(*at(CONE, 112.5, 10)) == pytest.approx((10.0, 0.0), abs=1e-9)
    assert below.to_view(*at(below, 112.5, 10)) == pytest.approx((-10.0, 0.0), abs=1e-9)
    assert "unrolled" in CONE.seen_from
