"""The two ways of speaking a place on every surface: figures, lines across it, and the way from a landmark."""

from __future__ import annotations

import doctest
import importlib
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from mapping.axes import (
    AXES,
    Gridline,
    Mark,
    as_way,
    bearing,
    gridline_shape,
    offsets,
    on_gridline,
    placed,
    print_gridline,
    read_gridline,
    spoken,
    two_bearings,
)
from mapping.lines import read_line
from mapping.positions import PositionError
from mapping.surfaces import KINDS
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Place, Surface
from tests.mapping.made_up_surfaces import CONE, DECK, DISK, PANEL, STRAKE, SURFACES, inside, shares

PIPE = Pipe(start=1000, end=1020, circumference=3.6)
ALL = {**SURFACES, "pipe": PIPE}
every_surface = pytest.mark.parametrize("surface", ALL.values(), ids=ALL.keys())


def test_every_kind_of_surface_has_its_two_ways() -> None:
    assert set(AXES) == set(KINDS)


@every_surface
@given(shares, shares)
@settings(max_examples=10, deadline=None)
def test_the_two_figures_of_a_place_give_the_place_back(surface: Surface, share_x: float, share_y: float) -> None:
    place = inside(surface, share_x, share_y)
    again = placed(surface, *spoken(surface, *place))
    assert float(surface.distance(place.x, place.y, again.x, again.y)) < 1e-6


@every_surface
@pytest.mark.parametrize("axis", [0, 1])
def test_a_line_is_read_as_it_is_printed(surface: Surface, axis: int) -> None:
    at = spoken(surface, *inside(surface, 0.31, 0.47))[axis]
    again = read_gridline(surface, print_gridline(surface, Gridline(axis, at)))  # type: ignore[arg-type]
    assert again.axis == axis
    assert print_gridline(surface, again) == print_gridline(surface, Gridline(axis, at))  # type: ignore[arg-type]


@every_surface
@pytest.mark.parametrize("axis", [0, 1])
def test_a_line_runs_through_its_places(surface: Surface, axis: int) -> None:
    place = inside(surface, 0.31, 0.47)
    line = Gridline(axis, spoken(surface, *place)[axis])  # type: ignore[arg-type]
    assert gridline_shape(surface, line).distance(shapely.Point(place)) < 0.01
    assert surface.outline.distance(shapely.Point(on_gridline(surface, line))) < 0.01


@every_surface
@pytest.mark.parametrize("axis", [0, 1])
def test_a_line_is_a_weld_that_can_be_tested_along_its_length(surface: Surface, axis: int) -> None:
    line = Gridline(axis, spoken(surface, *inside(surface, 0.31, 0.47))[axis])  # type: ignore[arg-type]
    weld = read_line(surface, as_way(surface, line))
    assert weld.distance(on := shapely.Point(on_gridline(surface, line))) < 0.02, on


@pytest.mark.parametrize(
    ("surface", "said", "line"),
    [
        (PIPE, "1+004", Gridline(0, 1004.0)),
        (PIPE, "4:30", Gridline(1, 4.5)),
        (STRAKE, "strake 3, 90 deg", Gridline(0, 10.0)),
        (STRAKE, "1.20 m up", Gridline(1, 1.2)),
        (DISK, "r 4.20 m", Gridline(1, 4.2)),
        (CONE, "slant 4.20 m", Gridline(1, 4.2)),
        (DECK, "line J +0.40", Gridline(0, 12.7)),
        (DECK, "8", Gridline(1, 4.05)),
        (PANEL, "y 0.40", Gridline(1, 0.4)),
    ],
)
def test_lines_are_read_as_people_say_them(surface: Surface, said: str, line: Gridline) -> None:
    found = read_gridline(surface, said)
    assert (found.axis, found.at) == (line.axis, pytest.approx(line.at))


@every_surface
def test_what_is_no_line_is_refused_with_two_that_are(surface: Surface) -> None:
    with pytest.raises(PositionError, match='cannot be read: write it like "'):
        read_gridline(surface, "by the ladder")


@pytest.mark.parametrize(
    ("surface", "mark", "place", "words"),
    [
        (PIPE, Mark("girth weld W-3", 1003, 0, 0), Place(1004.2, 3.0), "1.20 m past girth weld W-3"),
        (PIPE, Mark("seam L", 1010, 3.5, 1), Place(1004, 0.1), "0.20 m clockwise from seam L"),
        (
            STRAKE,
            Mark("nozzle N3", 39.5, 1.0, None),
            Place(0.5, 0.6),
            "1.00 m clockwise from nozzle N3 and 0.40 m below it",
        ),
        (DISK, Mark("column 1", 0.0, 4.0, None), Place(0.0, 3.0), "1.00 m further in than column 1"),
        (PANEL, Mark("bracket 4", 1.0, 0.5, None), Place(1.0, 0.501), "at bracket 4"),
        (DECK, Mark("joint J", 12.3, 0.0, 0), Place(11.3, 5.0), "1.00 m towards the earlier letters from joint J"),
    ],
)
def test_the_way_from_a_landmark_is_said_as_a_tape_shows_it(
    surface: Surface, mark: Mark, place: Place, words: str
) -> None:
    assert bearing(surface, mark, place).words == words


def test_the_way_around_on_a_cone_is_the_arc_of_its_circle() -> None:
    """Against the circle of the cone itself: radius = slant x sine of half the opening angle."""
    start, end = CONE.to_plane(10 / 360, 5.0), CONE.to_plane(40 / 360, 5.0)
    radius = 5.0 * 12 / math.hypot(12, 9)
    assert offsets(CONE, start, end) == pytest.approx((math.radians(30) * radius, 0.0), abs=1e-9)


def test_the_second_landmark_lies_another_way_than_the_first() -> None:
    marks = [Mark(name, x, 0.0, 0) for name, x in (("W-1", 1000.0), ("W-2", 1003.0), ("W-4", 1018.0))]
    said = [each.words for each in two_bearings(PIPE, marks, Place(1004.0, 1.0))]
    assert said == ["1.00 m past W-2", "14.00 m before W-4"]


@every_surface
@given(shares, shares, shares, shares)
@settings(max_examples=8, deadline=None)
def test_the_tape_from_a_point_near_by_leads_to_the_place(
    surface: Surface, ax: float, ay: float, dx: float, dy: float
) -> None:
    start = inside(surface, 0.2 + ax * 0.6, 0.2 + ay * 0.6)
    end = surface.home(start.x + (dx - 0.5) * 0.1, start.y + (dy - 0.5) * 0.1)
    along, across = offsets(surface, start, end)
    assert math.hypot(along, across) == pytest.approx(float(surface.distance(*start, *end)), rel=0.15, abs=1e-3)


def test_the_examples_in_the_docstrings_are_true() -> None:
    found = doctest.testmod(importlib.import_module("mapping.axes"))
    assert (found.attempted > 0, found.failed) == (True, 0)


def test_points_of_a_ring_are_all_at_its_radius() -> None:
    ring = shapely.get_coordinates(gridline_shape(DISK, Gridline(1, 4.2)))
    assert np.allclose(np.hypot(*ring.T), 4.2)
