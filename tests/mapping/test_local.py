"""Bends, heads and spheres: stated areas, spoken positions, footprints in the tangent plane, local distances."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mapping.surfaces.local import Bend, Sphere
from tests.mapping.made_up_surfaces import DISK, HEAD, SURFACES

BEND, SPHERE = SURFACES["bend"], Sphere(stated=400.0)
RADIUS = math.sqrt(400.0 / (4 * math.pi))
turns = st.floats(0, 1, exclude_max=True)
ups = st.floats(0, math.pi * RADIUS)


def on_sphere(turn: float, up: float) -> tuple[float, float]:
    """Plane place of an azimuth and a height measured over the surface; equal heights have equal areas."""
    return turn * 2 * math.pi * RADIUS, RADIUS * (1 - math.cos(up / RADIUS))


def in_space(turn: float, up: float) -> np.ndarray:
    angle, south = 2 * math.pi * turn, up / RADIUS
    return RADIUS * np.array([math.sin(south) * math.sin(angle), math.sin(south) * math.cos(angle), -math.cos(south)])


@pytest.mark.parametrize("name", ["bend", "head", "sphere"])
def test_the_area_is_the_stated_one_and_the_screen_says_that_distances_are_local(name: str) -> None:
    surface = SURFACES[name]
    assert surface.area == {"bend": 8.9, "head": 14.0, "sphere": 400.0}[name]
    assert "distances are local" in surface.distance_note


def test_a_surface_that_unrolls_says_nothing_of_local_distances() -> None:
    assert DISK.distance_note == ""


def test_a_bend_of_a_torus_has_the_circumference_that_pappus_gives() -> None:
    # Pappus's centroid theorem: area = centre line x circumference; a quarter bend of radius 2 m of a 1 m pipe.
    length = math.pi / 2 * 2
    bend = Bend(start=0, end=length, circumference=1.0, stated=length * math.pi * 1.0)
    assert bend.period == pytest.approx(math.pi * 1.0)


@given(turn=turns, share=st.floats(0.01, 1))
def test_a_printed_place_on_a_head_is_read_within_half_a_step_on_each_axis(turn: float, share: float) -> None:
    plane = share * HEAD.outer
    fraction, away = HEAD.from_plane(*HEAD.read_place(HEAD.print_place(*HEAD.to_plane(turn, plane))))
    turned = abs(float(fraction) - turn)
    assert min(turned, 1 - turned) * 360 <= 0.005 + 1e-6
    assert abs(float(away) - plane) / HEAD.scale <= 0.005 + 1e-5


@given(turn=turns, up=ups)
def test_a_printed_place_on_a_sphere_is_read_within_half_a_step_on_each_axis(turn: float, up: float) -> None:
    again = SPHERE.read_place(SPHERE.print_place(*on_sphere(turn, up)))
    turned = abs(again.x / SPHERE.period - turn)
    assert min(turned, 1 - turned) * 360 <= 0.005 + 1e-6
    assert abs(RADIUS * math.acos(max(-1.0, 1 - again.y / RADIUS)) - up) <= 0.005 + 1e-6


@given(a=st.tuples(turns, ups), b=st.tuples(turns, ups))
def test_the_distance_on_a_sphere_is_the_arc_over_the_chord_in_space(
    a: tuple[float, float], b: tuple[float, float]
) -> None:
    # Great circle: 2 R asin(chord / 2 R), elementary geometry.
    chord = float(np.linalg.norm(in_space(*a) - in_space(*b)))
    expected = 2 * RADIUS * math.asin(min(chord / (2 * RADIUS), 1.0))
    assert SPHERE.distance(*on_sphere(*a), *on_sphere(*b)) == pytest.approx(expected, abs=1e-4)


@settings(max_examples=50)
@given(turn=turns, up=st.floats(1.0, math.pi * RADIUS - 1.0))
def test_a_footprint_on_a_sphere_has_its_true_area_over_the_seam_too(turn: float, up: float) -> None:
    assert SPHERE.footprint(*on_sphere(turn, up), 0.2, 0.1, 0.05).area == pytest.approx(0.3 * 0.2, rel=1e-6)


def test_a_footprint_at_the_top_of_a_sphere_goes_all_around_it() -> None:
    # A cap of arc h has the area 2 pi R^2 (1 - cos(h / R)): elementary geometry.
    cap = SPHERE.footprint(0.0, 2 * RADIUS, 0.4, 0.4, 0.0)
    assert cap.area == pytest.approx(2 * math.pi * RADIUS**2 * (1 - math.cos(0.2 / RADIUS)), rel=1e-6)


@settings(max_examples=50)
@given(turn=turns, up=st.floats(0.5, math.pi * RADIUS - 0.5), way=st.floats(0, 2 * math.pi))
def test_a_margin_on_a_sphere_reaches_as_far_as_it_says(turn: float, up: float, way: float) -> None:
    shape = SPHERE.footprint(*on_sphere(turn, up), 0.2, 0.2, 0.0)
    grown = SPHERE.with_margin(shape, 0.3)
    beyond = up + 0.39 * math.sin(way)
    turned = 0.29 * math.cos(way) / (2 * math.pi * RADIUS * math.sin(up / RADIUS))
    x, y = on_sphere((turn + turned) % 1, min(max(beyond, 0), math.pi * RADIUS))
    assert shape.difference(grown).area < 1e-9
    assert grown.buffer(1e-6).intersects(SPHERE.outline.intersection(SPHERE.footprint(x, y, 0.001, 0.001, 0.0)))


def test_distances_on_a_head_are_those_of_the_tape_from_the_middle() -> None:
    edge = HEAD.read_place("90 deg, r 2.00 m")
    assert HEAD.distance(0.0, 0.0, *edge) == pytest.approx(2.0, abs=1e-4)


def test_lanes_of_a_bend_run_along_it_and_close_around() -> None:
    assert BEND.closed
    assert BEND.across == pytest.approx(8.9 / 3.7)
