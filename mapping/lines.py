"""Lines on any surface: welds and edges as they are spoken, their length, and what of them lies inside a shape.

A line is kept as its legs on the folded plane, in order; metres along it are true metres of the surface (on surfaces
that do not unroll they are local). No Django.
"""

from __future__ import annotations

import re
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiLineString
from shapely.geometry.base import BaseGeometry

from accounts.wording import say
from mapping.azimuth import read_azimuths
from mapping.clock import read_clock
from mapping.intervals import Interval, Intervals, overlap, total, union
from mapping.positions import PositionError, plain_text, quote
from mapping.surfaces.cone import Cone
from mapping.surfaces.plane import TOUCH, Place, Surface
from mapping.surfaces.polar import Polar
from mapping.surfaces.spoken import NOISE, ends_of, parts_of, print_measures, read_measures, to_ends

OUTLINE = "outline"
AROUND = "all around"
WHOLE = "whole"
MOST_PLACES = 200
SHORTEST_LINE = 0.01  # m
STEPS_AROUND = 256

Path = list[tuple[float, float]]


def read_line(surface: Surface, text: str) -> MultiLineString:
    """The line of its spoken form, folded over the seam, its legs in order.

    Reads places joined by "to" (`1+250.40 @ 4:30 to 1+262.00 @ 4:30`), straight on the unrolled surface and by the
    shorter way around; a ring or part of one, clockwise (`1+250.40, all around`, `1.20 m up, 20 deg to 75 deg`,
    `r 4.20 m, all around`), where the surface goes around; and `outline`, the edges of the zone.

    Raises
    ------
    PositionError
        When it cannot be read, lies off the zone or is shorter than 1 cm.
    """
    plain = plain_text(text)
    if plain.lower() == OUTLINE:
        paths = _outline(surface)
    else:
        ring = _ring(surface, plain, text)
        paths = ring if ring is not None else _way(surface, plain, text)
    line = MultiLineString([part for part in paths if len(part) > 1])
    if line.length < SHORTEST_LINE:
        raise PositionError(say("line {said} has no length: it has to be 1 cm or longer", said=quote(text)))
    return line


def length(surface: Surface, line: MultiLineString) -> float:
    """Metres along the line from its beginning to its end."""
    return float(_metres(surface, line)[1][-1])


def inside(surface: Surface, line: MultiLineString, shape: BaseGeometry) -> Intervals:
    """What of the line lies inside a folded shape or on its edge, in metres along it (to a thousandth of a mm)."""
    legs = _legs(line)
    starts = np.concatenate(([0.0], np.cumsum(shapely.length(legs))))
    cut = shapely.intersection(legs, shape.buffer(TOUCH, join_style="mitre"))
    parts, of_leg = shapely.get_parts(cut, return_index=True)
    found = shapely.length(parts) > 0
    parts, of_leg = parts[found], of_leg[found]
    begins = shapely.get_coordinates(shapely.get_point(legs[of_leg], 0))
    away = [
        np.hypot(*(shapely.get_coordinates(shapely.get_point(parts, end)) - begins).T) + starts[of_leg]
        for end in (0, -1)
    ]
    plane, true = _metres(surface, line)
    ends = np.interp(np.sort(np.array(away), axis=0), plane, true)
    joined = union((float(low) - TOUCH, float(high) + TOUCH) for low, high in ends.T)
    return overlap(joined, ((0.0, float(true[-1])),))


def piece(surface: Surface, line: MultiLineString, intervals: Intervals) -> MultiLineString:
    """The parts of a line between these metres along it."""
    plane, true = _metres(surface, line)
    legs = _legs(line)
    starts = np.concatenate(([0.0], np.cumsum(shapely.length(legs))))
    cut: list[Path] = []
    for low, high in np.interp(np.array(intervals, dtype=float).reshape(-1, 2), true, plane):
        for leg, (begin, end) in zip(legs, pairwise(starts), strict=True):
            near, far = max(low, begin) - begin, min(high, end) - begin
            if far > near:
                ends = [leg.interpolate(near).coords[0], leg.interpolate(far).coords[0]]
                if cut and cut[-1][-1] == ends[0]:
                    cut[-1].append(ends[1])
                else:
                    cut.append(ends)
    return MultiLineString(cut)


def read_part(surface: Surface, line: MultiLineString, text: str) -> Intervals:
    """Which part of a line is meant, in metres along it.

    Reads `0.40 to 3.20 m` (along it from its beginning), any stretch of the zone (the part inside it), and `whole` or
    nothing for all of it.

    Raises
    ------
    PositionError
        When it cannot be read, or nothing of the line lies there.
    """
    long = length(surface, line)
    plain = plain_text(text)
    if plain.lower() in ("", WHOLE):
        return ((0.0, long),)
    along = _along(surface, plain, text)
    if along is not None:
        low, high = (to_ends(end, (0.0, long), surface.chainage) for end in along)
        if low < 0 or high > long:
            whole = print_measures(0.0, long, surface.chainage)
            raise PositionError(say("part {said} is off this line: it runs {whole}", said=quote(text), whole=whole))
        return ((low, high),)
    found = inside(surface, line, surface.read_region(text))
    if total(found) < SHORTEST_LINE:
        raise PositionError(say("part {said}: nothing of this line lies there", said=quote(text)))
    return found


def print_part(surface: Surface, line: MultiLineString, intervals: Intervals) -> str:
    """What `read_part` reads, each end rounded to its step; several parts one after the other."""
    if total(intervals) >= length(surface, line) - NOISE:
        return WHOLE
    return " and ".join(print_measures(low, high, surface.chainage) for low, high in intervals)


def _along(surface: Surface, plain: str, text: str) -> Interval | None:
    """From and to (m along); None where it is said otherwise."""
    if "+" in plain or not re.match(r"\d", plain):
        return None
    try:
        return read_measures(plain, surface.chainage, text)
    except PositionError:
        return None


# Legs and metres


def _legs(line: MultiLineString) -> NDArray[np.object_]:
    """Every straight leg of the line, in order."""
    coordinates, part = shapely.get_coordinates(shapely.get_parts(line), return_index=True)
    same = part[:-1] == part[1:]
    return np.asarray(shapely.linestrings(np.stack((coordinates[:-1][same], coordinates[1:][same]), axis=1)))


def _metres(surface: Surface, line: MultiLineString) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Along the line, at its beginning and at each step of it: metres in the plane, and metres on the surface."""
    legs = _legs(line)
    if not surface.distance_note:  # it unrolls: lengths in the plane are those on the surface
        way = np.concatenate(([0.0], np.cumsum(shapely.length(legs))))
        return way, way
    left, low, right, high = surface.outline.bounds
    extent = max(right - left, high - low)
    ends = shapely.get_coordinates(legs).reshape(-1, 2, 2)
    plane, true = [0.0], [0.0]
    for (ax, ay), (bx, by) in ends:
        long = float(np.hypot(bx - ax, by - ay))
        # Steps are shorter towards the ends of a leg, where a pole may stretch the plane most.
        turns = np.linspace(0.0, np.pi, 2 + int(STEPS_AROUND * long / extent))
        shares = (1 - np.cos(turns)) / 2
        x, y = ax + shares * (bx - ax), ay + shares * (by - ay)
        plane.extend(plane[-1] + shares[1:] * long)
        true.extend(true[-1] + np.cumsum(surface.distance(x[:-1], y[:-1], x[1:], y[1:])))
    return np.array(plane), np.array(true)


# Reading


def _outline(surface: Surface) -> list[Path]:
    """The zone's own edges; the seam is none."""
    low_x, low_y, high_x, high_y = surface.outline.bounds
    if surface.wrap_axis == "y":
        return [[(x, low_y), (x, high_y)] for x in (low_x, high_x)]
    if surface.wrap_axis == "x":
        return [[(low_x, y), (high_x, y)] for y in (low_y, high_y)]
    if isinstance(surface, Cone):
        radii = [radius for radius in (surface.outer, surface.inner) if radius > 0]
        return [path for radius in radii for path in _arc(surface, radius, 0.0, 1.0)]
    outline = surface.outline
    return [[(x, y) for x, y in ring.coords] for ring in (outline.exterior, *outline.interiors)]


def _ring(surface: Surface, plain: str, text: str) -> list[Path] | None:
    """A ring or part of one; None where the words are not of that form, or nothing goes around."""
    *before, way = parts_of(plain)
    if not before or not (surface.wrap_axis or isinstance(surface, Polar)):
        return None
    turns = _turns(surface, way)
    if turns is None:
        return None
    first, second = turns
    period = surface.period or 0.0
    if surface.wrap_axis == "y":
        x = surface.read_place(f"{', '.join(before)} @ 12:00").x
        return _wrapped(surface, (x, first * period), (x, second * period))
    *prefix, at = before
    place = surface.read_place(", ".join((*prefix, "0 deg", at)))
    if isinstance(surface, Polar):
        return _arc(surface, float(np.hypot(place.x, place.y)), first, second)
    return _wrapped(surface, (first * period, place.y), (second * period, place.y))


def _turns(surface: Surface, way: str) -> tuple[float, float] | None:
    """Where a ring begins and ends, as fractions of a turn; the second may be past 1. None for other words."""
    if way.lower() == AROUND:
        return 0.0, 1.0
    if surface.wrap_axis != "y":
        return read_azimuths(way)
    try:
        first, second = (read_clock(end) for end in ends_of(way))
    except ValueError:
        return None
    return first, second if second > first else second + 1


def _arc(surface: Polar, radius: float, first: float, second: float) -> list[Path]:
    """Part of the ring at a distance from the middle, clockwise, with the corners of the zone's own curved edges."""
    if surface.has_seam and second > 1:
        return [*_arc(surface, radius, first, 1.0), *_arc(surface, radius, 0.0, second - 1)]
    whole = second - first >= 1 and not surface.has_seam
    corners = [(x, y) for x, y in surface.sector(first, second, 0.0, radius).exterior.coords]
    return [corners if whole else corners[:-2]]


def _way(surface: Surface, plain: str, text: str) -> list[Path]:
    """Straight legs from place to place."""
    said = ends_of(plain)
    if not 2 <= len(said) <= MOST_PLACES:
        if not (surface.wrap_axis or isinstance(surface, Polar)):
            raise PositionError(
                say(
                    'line {said} cannot be read: write 2 to {most} places joined by "to", or "{outline}"',
                    said=quote(text),
                    most=MOST_PLACES,
                    outline=OUTLINE,
                )
            )
        raise PositionError(
            say(
                'line {said} cannot be read: write 2 to {most} places joined by "to", or like "{ring}", or "{outline}"',
                said=quote(text),
                most=MOST_PLACES,
                ring=_ring_example(surface),
                outline=OUTLINE,
            )
        )
    places = [surface.read_place(place) for place in said]
    paths: list[Path] = []
    for start, end in pairwise(places):
        for leg in _leg(surface, start, end):
            if paths and paths[-1][-1] == leg[0]:
                paths[-1].extend(leg[1:])
            else:
                paths.append(list(leg))
    return paths


def _ring_example(surface: Surface) -> str:
    x, y = surface.outline.representative_point().coords[0]
    if isinstance(surface, Polar):
        x, y = surface.to_plane(0.354, (surface.inner + surface.outer) / 2)
    at = surface.print_place(x, y)
    return f"{at.partition(' @ ')[0] if surface.wrap_axis == 'y' else at.rpartition(', ')[2]}, {AROUND}"


def _leg(surface: Surface, start: Place, end: Place) -> list[Path]:
    """From place to place by the shorter way around, cut where it passes the seam."""
    if isinstance(surface, Cone):
        return _cone_leg(surface, start, end)
    if surface.period is None:
        return [[start, end]]
    axis = 0 if surface.wrap_axis == "x" else 1
    way = (end[axis] - start[axis] + surface.period / 2) % surface.period - surface.period / 2
    far = [end.x, end.y]
    far[axis] = start[axis] + way
    return _wrapped(surface, start, (far[0], far[1]))


def _wrapped(surface: Surface, start: tuple[float, float], end: tuple[float, float]) -> list[Path]:
    """A leg of the endless plane, cut at the seam and brought home piece by piece."""
    period = surface.period or 1.0
    axis = 0 if surface.wrap_axis == "x" else 1
    low, high = sorted((start[axis], end[axis]))
    seams = [turn * period for turn in range(int(low // period) + 1, int(np.ceil(high / period)))]
    shares = sorted((seam - start[axis]) / (end[axis] - start[axis]) for seam in seams)
    stops = [
        (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
        for share in (0.0, *shares, 1.0)
    ]
    legs: list[Path] = []
    for first, second in pairwise(stops):
        turn = float((first[axis] + second[axis]) / 2 // period) * period
        moved = (turn, 0.0) if axis == 0 else (0.0, turn)
        leg = [(x - moved[0], y - moved[1]) for x, y in (first, second)]
        # Rounding may leave an end a hair beyond the seam that it was cut at.
        legs.append([(min(max(x, 0.0), period), y) if axis == 0 else (x, min(max(y, 0.0), period)) for x, y in leg])
    return legs


def _cone_leg(surface: Cone, start: Place, end: Place) -> list[Path]:
    """Straight on the unrolled cone, by the shorter way around; past the seam it goes on at the other edge."""
    (first, second), (near, far) = surface.from_plane(*np.array((start, end)).T)
    ends = first + (second - first + 0.5) % 1.0 - 0.5
    if 0.0 <= ends <= 1.0:
        # An end on the seam is met at the edge that the leg comes to.
        angle = ends * surface.turn
        met = end if abs(ends - second) < 0.5 else Place(float(far * np.sin(angle)), float(far * np.cos(angle)))
        return [[start, met]]
    edge, other = (0.0, surface.turn) if ends < 0 else (surface.turn, 0.0)
    beyond = far * np.sin(ends * surface.turn), far * np.cos(ends * surface.turn)
    off = [x * np.cos(edge) - y * np.sin(edge) for x, y in (start, beyond)]
    share = off[0] / (off[0] - off[1])
    away = float(np.hypot(*(a + share * (b - a) for a, b in zip(start, beyond, strict=True))))
    seam = [(away * float(np.sin(angle)), away * float(np.cos(angle))) for angle in (edge, other)]
    return [[start, seam[0]], [seam[1], end]]
