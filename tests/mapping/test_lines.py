"""Welds and edges on every kind of surface: read as spoken, measured along, cut by shapes and into parts.

Lengths of rings and diagonals are those of elementary geometry (circle 2 pi r; circle of latitude 2 pi R cos(latitude);
Pythagoras on the unrolled surface), as in any handbook of mathematics; areas of ground are Shapely's.
"""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import assume, example, given
from hypothesis import strategies as st

from mapping import lines
from mapping.intervals import minus, total
from mapping.positions import PositionError
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Surface
from tests.mapping.made_up_surfaces import (
    ANNULUS,
    CONE,
    DECK,
    DISK,
    HOPPER,
    PANEL,
    STRAKE,
    SURFACES,
    inside,
    shares,
)

PIPE = Pipe(start=1000.0, end=1020.0, circumference=4.0)
ALL: dict[str, Surface] = {**SURFACES, "pipe": PIPE}
UNROLLED = {name: surface for name, surface in ALL.items() if not surface.distance_note}
any_surface = st.sampled_from(sorted(ALL)).map(ALL.__getitem__)
any_unrolled = st.sampled_from(sorted(UNROLLED)).map(UNROLLED.__getitem__)


@given(any_unrolled, shares, shares, shares, shares)
@example(UNROLLED["cut cone from below"], 1.0, 0.0, 0.0, 0.0)  # ends on the seam, the shorter way over it
def test_a_straight_line_is_as_long_as_the_shortest_way(
    surface: Surface, a: float, b: float, c: float, d: float
) -> None:
    said = [surface.print_place(*inside(surface, *share)) for share in ((a, b), (c, d))]
    start, end = (surface.read_place(place) for place in said)
    way = float(surface.distance(*start, *end))
    assume(way > 0.02)
    line = lines.read_line(surface, " to ".join(said))
    assert lines.length(surface, line) == pytest.approx(way, abs=1e-6)


@given(any_surface, shares, shares, shares, shares)
def test_what_lies_inside_a_shape_and_what_does_not_are_the_whole_line(
    surface: Surface, a: float, b: float, c: float, d: float
) -> None:
    said = [surface.print_place(*inside(surface, *share)) for share in ((a, b), (c, d))]
    try:
        line = lines.read_line(surface, " to ".join(said))
    except PositionError:
        return  # shorter than 1 cm
    long = lines.length(surface, line)
    left, low, right, high = surface.outline.bounds
    half = surface.fold(shapely.box(left, low, (left + right) / 2, high))
    within = lines.inside(surface, line, half)
    beyond = lines.inside(surface, line, surface.fold(shapely.box((left + right) / 2, low, right, high)))
    assert total(within) + total(beyond) >= min(long, total(lines.inside(surface, line, surface.outline))) - 1e-5
    assert total(minus(((0.0, long),), within)) == pytest.approx(long - total(within), abs=1e-9)


@given(any_surface, shares, shares, st.floats(0, 1), st.floats(0, 1))
def test_a_part_of_a_line_is_as_long_as_its_metres_say(
    surface: Surface, a: float, b: float, first: float, second: float
) -> None:
    start = inside(surface, a, b)
    end = inside(surface, 1 - a, 1 - b)
    try:
        line = lines.read_line(surface, f"{surface.print_place(*start)} to {surface.print_place(*end)}")
    except PositionError:
        return
    long = lines.length(surface, line)
    low, high = sorted((first * long, second * long))
    assume(high - low > 0.001)
    part = lines.piece(surface, line, ((low, high),))
    near = 0.005 * long if surface.distance_note else 1e-6
    assert lines.length(surface, part) == pytest.approx(high - low, abs=near)


@pytest.mark.parametrize(
    ("surface", "said", "metres"),
    [
        (PIPE, "1+010, all around", 4.0),
        (PIPE, "1+010, 9:00 to 3:00", 2.0),
        (PIPE, "1+010, 11:00 to 1:00", 4.0 / 6),
        (PIPE, "1+004 @ 11:00 to 1+008 @ 1:00", math.hypot(4, 4 / 6)),
        (PIPE, "1+004 @ 3:00 to 1+008 @ 3:00 to 1+008 @ 6:00", 5.0),
        (PIPE, "outline", 8.0),
        (STRAKE, "1.20 m up, all around", 40.0),
        (STRAKE, "strake 3, 1.20 m up, 315 deg to 45 deg", 10.0),
        (STRAKE, "350 deg, 0.00 m up to 350 deg, 2.437 m up", 2.437),
        (STRAKE, "outline", 80.0),
        (DISK, "r 4.20 m, all around", 2 * math.pi * 4.2),
        (DISK, "r 12.00 m, 350 deg to 10 deg", 2 * math.pi * 12 / 18),
        (DISK, "0 deg, r 3 m to 90 deg, r 4 m", 5.0),
        (ANNULUS, "outline", math.pi * 44.5),
        (CONE, "slant 7.5 m, all around", 2 * math.pi * 7.5 * 12 / 15),
        (CONE, "slant 7.5 m, 300 deg to 60 deg", 2 * math.pi * 7.5 * 12 / 15 / 3),
        (CONE, "90 deg, slant 2 m to 90 deg, slant 9 m", 7.0),
        (CONE, "350 deg, slant 5 m to 10 deg, slant 5 m", 10 * math.sin(math.radians(20) * 12 / 15 / 2)),
        (HOPPER, "outline", math.pi * 14.0),
        (DECK, "outline", 2 * (24.2 + 11.5)),
        (PANEL, "x 0.5 y 0.5 to x 2.5 y 0.5", 2.0),
        (SURFACES["sphere"], f"{math.sqrt(400 / math.pi) / 2 * math.pi / 2:.4f} m up, all around", math.sqrt(400 * math.pi)),
        (
            SURFACES["sphere"],
            f"{math.sqrt(400 / math.pi) / 2 * math.pi / 3:.4f} m up, all around",
            math.sqrt(400 * math.pi) * math.cos(math.pi / 6),
        ),
    ],
)  # fmt: skip
def test_a_line_is_as_long_as_geometry_says(surface: Surface, said: str, metres: float) -> None:
    assert lines.length(surface, lines.read_line(surface, said)) == pytest.approx(metres, rel=2e-5)


def test_a_line_over_the_seam_is_kept_in_pieces_on_the_zone() -> None:
    line = lines.read_line(PIPE, "1+010, 11:00 to 1:00")
    assert len(line.geoms) == 2
    assert PIPE.outline.covers(line)


def test_a_line_over_the_seam_of_a_cone_goes_on_at_the_other_edge() -> None:
    line = lines.read_line(CONE, "350 deg, slant 5 m to 10 deg, slant 5 m")
    assert len(line.geoms) == 2
    assert CONE.outline.buffer(1e-9).covers(line)


def test_the_edge_of_a_zone_lies_inside_its_ground() -> None:
    for surface in ALL.values():
        if surface.kind != "sphere":  # its ends are points
            edge = lines.read_line(surface, "outline")
            long = lines.length(surface, edge)
            assert total(lines.inside(surface, edge, surface.outline)) == pytest.approx(long, rel=1e-9)


@pytest.mark.parametrize(
    ("said", "metres"),
    [
        ("", ((0.0, 4.0),)),
        ("whole", ((0.0, 4.0),)),
        ("0.40 to 3.20 m", ((0.4, 3.2),)),
        ("0.40 to 4.004 m", ((0.4, 4.0),)),
        ("1+009 to 1+011, 3:00 to 6:00", ((1.0, 2.0),)),
        ("1+009 to 1+011, 9:00 to 3:00", ((0.0, 1.0), (3.0, 4.0))),
    ],
)
def test_a_part_is_said_in_metres_along_or_as_a_stretch_of_the_zone(
    said: str, metres: tuple[tuple[float, float], ...]
) -> None:
    part = lines.read_part(PIPE, lines.read_line(PIPE, "1+010, all around"), said)
    assert [end for piece in part for end in piece] == pytest.approx(
        [end for piece in metres for end in piece], abs=5e-6
    )


@pytest.mark.parametrize(
    ("said", "message"),
    [
        ("3 to 5 m", "is off this line: it runs 0.00 to 4.00 m"),
        ("1+011 to 1+012", "nothing of this line lies there"),
        ("the left half", "cannot be read"),
    ],
)
def test_a_part_that_is_not_there_is_refused(said: str, message: str) -> None:
    with pytest.raises(PositionError, match=message):
        lines.read_part(PIPE, lines.read_line(PIPE, "1+010, all around"), said)


@pytest.mark.parametrize(
    ("surface", "said", "message"),
    [
        (PIPE, "somewhere", r'write 2 to 200 places joined by "to", or like "1\+010.00, all around", or "outline"'),
        (PANEL, "x 1 y 1, all around", 'write 2 to 200 places joined by "to", or "outline"'),
        (PIPE, "1+010 @ 3:00 to 1+010 @ 3:00", "has no length: it has to be 1 cm or longer"),
        (PIPE, "1+010 @ 3:00 to 1+030 @ 3:00", "off this zone"),
        (STRAKE, "strake 4, 1.20 m up, all around", "names strake 4: this zone is strake 3"),
    ],
)
def test_a_line_that_cannot_be_is_refused_with_what_is_allowed(surface: Surface, said: str, message: str) -> None:
    with pytest.raises(PositionError, match=message):
        lines.read_line(surface, said)


@given(st.integers(0, 399), st.integers(0, 399))
def test_a_printed_part_is_read_back(first: int, second: int) -> None:
    assume(first != second)
    ring = lines.read_line(PIPE, "1+010, all around")
    low, high = sorted((first / 100, second / 100))
    said = lines.print_part(PIPE, ring, ((low, high),))
    assert lines.read_part(PIPE, ring, said)[0] == pytest.approx((low, high), abs=1e-9)
