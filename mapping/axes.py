"""The two ways in which places on each kind of surface are spoken: their words, lines across them, and the way from a
landmark to a place as a painter measures it. No Django."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from accounts.wording import noted, say
from mapping.azimuth import print_azimuth
from mapping.clock import print_clock
from mapping.lines import AROUND
from mapping.positions import PositionError, quote
from mapping.surfaces.deck import Deck
from mapping.surfaces.local import Sphere
from mapping.surfaces.plane import Place, Surface
from mapping.surfaces.polar import Polar

Unit = Literal["m", "deg", "h"]
Which = Literal[0, 1]
SAME = 0.005  # m: no difference on a tape

_LETTER = re.compile(r"(?:line )?([A-Z]{1,3})(?: ([+-] ?[\d.,]+(?: ?(?:m|mm|ft|in))?))?", re.ASCII | re.IGNORECASE)
_NUMBER = re.compile(r"(?:line )?(\d{1,4})(?: ([+-] ?[\d.,]+(?: ?(?:m|mm|ft|in))?))?", re.ASCII | re.IGNORECASE)


class Axis(NamedTuple):
    """One way of speaking a place: its name, the unit it is counted in, how lying on more or less of it is said of a
    landmark, and the word for a size along it."""

    name: str
    unit: Unit
    more: str
    less: str
    size: str


class Gridline(NamedTuple):
    """A line across a surface: the same everywhere on one axis (0 the first, 1 the second), at this value of it."""

    axis: Which
    at: float


class Mark(NamedTuple):
    """What somebody measures from: its name, a place on it, and the axis it is a line across; None for a point."""

    name: str
    x: float
    y: float
    axis: Which | None


class Bearing(NamedTuple):
    """How a place lies from a landmark: metres, the way in words, and which way that is."""

    distance: float
    words: str
    side: tuple[int, bool]


_CLOCKWISE = noted("{length} clockwise from {mark}"), noted("{length} counterclockwise from {mark}")
_UP = noted("{length} above {mark}"), noted("{length} below {mark}")
_OUT = noted("{length} further out than {mark}"), noted("{length} further in than {mark}")
_SLANT = noted("{length} further from the apex than {mark}"), noted("{length} nearer the apex than {mark}")
_ALONG = Axis(noted("chainage"), "m", noted("{length} past {mark}"), noted("{length} before {mark}"), noted("along"))
_CLOCK = Axis(noted("clock"), "h", *_CLOCKWISE, noted("around"))
_AROUND = Axis(noted("azimuth"), "m", *_CLOCKWISE, noted("around"))
_TURN = Axis(noted("azimuth"), "deg", *_CLOCKWISE, noted("around"))
_HEIGHT = Axis(noted("height"), "m", *_UP, noted("up"))
_RADIUS = Axis(noted("distance from the middle"), "m", *_OUT, noted("towards azimuth 0"))
_FLOOR = _TURN._replace(size=noted("towards azimuth 90"))

AXES: dict[str, tuple[Axis, Axis]] = {
    "pipe": (_ALONG, _CLOCK),
    "bend": (_ALONG, _CLOCK),
    "strake": (_AROUND, _HEIGHT),
    "sphere": (_TURN, _HEIGHT),
    "disk": (_FLOOR, _RADIUS),
    "annulus": (_FLOOR, _RADIUS),
    "head": (_FLOOR, _RADIUS),
    "cone": (_TURN, Axis(noted("distance from the apex"), "m", *_SLANT, noted("along the slant"))),
    "deck": (
        Axis(
            noted("lettered lines"),
            "m",
            noted("{length} towards the next letters from {mark}"),
            noted("{length} towards the earlier letters from {mark}"),
            noted("across the lettered lines"),
        ),
        Axis(
            noted("numbered lines"),
            "m",
            noted("{length} towards the next numbers from {mark}"),
            noted("{length} towards the earlier numbers from {mark}"),
            noted("across the numbered lines"),
        ),
    ),
    "panel": (
        Axis(noted("x"), "m", noted("{length} right of {mark}"), noted("{length} left of {mark}"), noted("across")),
        Axis(noted("y"), "m", *_UP, noted("up")),
    ),
}


def size_words(surface: Surface) -> tuple[str, str]:
    """What the two sizes of a flaw or patch are called on this surface, as a reader reads them."""
    first, second = AXES[surface.kind]
    return say(first.size), say(second.size)


def spoken(surface: Surface, x: float, y: float) -> tuple[float, float]:
    """The two figures by which a plane point is spoken, each in the unit of its axis: m, degrees, or hours of a clock."""
    if isinstance(surface, Polar):
        fraction, away = surface.from_plane(x, y)
        return float(fraction) * 360, float(away) / surface.scale
    if isinstance(surface, Sphere):
        return x / surface.period * 360, surface.height_of(y)
    if surface.wrap_axis == "y" and surface.period:
        return x, y / surface.period * 12
    return x, y


def placed(surface: Surface, first: float, second: float) -> Place:
    """The plane point of two spoken figures (see `spoken`), over the seam where they say so."""
    if isinstance(surface, Polar):
        return surface.to_plane(first / 360, second * surface.scale)
    if isinstance(surface, Sphere):
        return Place(first / 360 * surface.period % surface.period, surface.y_of(second))
    if surface.wrap_axis == "y" and surface.period:
        return surface.home(first, second / 12 * surface.period)
    return surface.home(first, second)


def offsets(surface: Surface, start: Place, end: Place) -> tuple[float, float]:
    """Metres from `start` to `end` along each axis, as a tape shows them: the shorter way around, at the end's place."""
    (a, b), (c, d) = spoken(surface, *start), spoken(surface, *end)
    if isinstance(surface, Polar):
        return _shorter((c - a) / 360) * surface.turn * d, d - b
    if isinstance(surface, Sphere):
        return _shorter((c - a) / 360) * surface.period * math.sin(d / surface.radius), d - b
    around = _shorter(((end.x - start.x) if surface.wrap_axis == "x" else (end.y - start.y)) / (surface.period or 1.0))
    if surface.wrap_axis == "x" and surface.period:
        return around * surface.period, d - b
    if surface.wrap_axis == "y" and surface.period:
        return c - a, around * surface.period
    return c - a, d - b


def _shorter(turns: float) -> float:
    return (turns + 0.5) % 1.0 - 0.5


# Lines


def read_gridline(surface: Surface, text: str) -> Gridline:
    """The line of a spoken chainage, clock, azimuth, height, radius, lettered or numbered line, alone.

    Raises
    ------
    PositionError
        When it is none of these on this surface.

    Examples
    --------
    >>> from mapping.surfaces.strake import Strake
    >>> read_gridline(Strake(number=1, height=2.4, circumference=36), "90 deg")
    Gridline(axis=0, at=9.0)
    """
    for axis in (0, 1):
        try:
            place = surface.read_place(_framed(surface, text, axis), anywhere=True)
        except PositionError:
            continue
        return Gridline(axis, spoken(surface, *place)[axis])  # type: ignore[arg-type]
    point = surface.outline.representative_point()
    first, second = spoken(surface, point.x, point.y)
    raise PositionError(
        say(
            'line {said} cannot be read: write it like "{first}" or "{second}"',
            said=quote(text),
            first=print_gridline(surface, Gridline(0, first)),
            second=print_gridline(surface, Gridline(1, second)),
        )
    )


def _framed(surface: Surface, text: str, axis: int) -> str:
    """The place where a line of this axis crosses the other axis somewhere, in words."""
    text = text.strip()
    match surface.kind:
        case "pipe" | "bend":
            start = surface.chainage.print(surface.outline.bounds[0])
            return f"{text} @ 12:00" if axis == 0 else f"{start} @ {text}"
        case "strake" | "sphere":
            return f"{text}, 0 m up" if axis == 0 else f"0 deg, {text}"
        case "deck":
            return _on_grid(surface, text, axis)  # type: ignore[arg-type]
        case "panel":
            return f"{text} y 0" if axis == 0 else f"x 0 {text}"
    assert isinstance(surface, Polar)
    away = surface.chainage.print_measure((surface.inner + surface.outer) / 2 / surface.scale)
    return f"{text}, {surface.word} {away}" if axis == 0 else f"0 deg, {text}"


def _on_grid(surface: Deck, text: str, axis: int) -> str:
    found = (_LETTER if axis == 0 else _NUMBER).fullmatch(text)
    if found is None:
        return text
    offset = found[2] or "+0"
    if axis == 0:
        return f"{found[1]}-{surface.numbered.names[0]} {offset} +0"
    return f"{surface.lettered.names[0]}-{found[1]} +0 {offset}"


def print_gridline(surface: Surface, line: Gridline) -> str:
    """The line as `read_gridline` reads it."""
    chainage = surface.chainage
    if isinstance(surface, Deck):
        lines = surface.lettered if line.axis == 0 else surface.numbered
        name, offset = lines.print(line.at, chainage)
        return f"{name} {offset}"
    if surface.kind == "panel":
        return f"{'xy'[line.axis]} {chainage.print_measure(line.at)}"
    if line.axis == 0:
        if surface.kind in ("pipe", "bend"):
            return chainage.print(line.at)
        return print_azimuth(
            line.at / 360 if AXES[surface.kind][0].unit == "deg" else line.at / (surface.period or 1.0)
        )
    if surface.kind in ("pipe", "bend"):
        return print_clock(line.at / 12)
    measure = f"{chainage.print_measure(line.at)} {chainage.unit_word}"
    return f"{surface.word} {measure}" if isinstance(surface, Polar) else f"{measure} up"


def gridline_shape(surface: Surface, line: Gridline) -> BaseGeometry:
    """The line in the plane (m), where it lies on the zone; empty where it does not."""
    low_x, low_y, high_x, high_y = surface.outline.bounds
    if isinstance(surface, Polar):
        if line.axis == 0:
            ends = [surface.to_plane(line.at / 360, away) for away in (surface.inner, surface.outer)]
            return shapely.intersection(LineString(ends), surface.outline.buffer(SAME))
        turns = np.linspace(0.0, 1.0, 361) * surface.turn
        away = line.at * surface.scale
        ring = LineString(np.column_stack((away * np.sin(turns), away * np.cos(turns))))
        return shapely.intersection(ring, surface.outline.buffer(SAME))
    place = placed(surface, *((line.at, 0.0) if line.axis == 0 else (low_x, line.at)))
    across = [(place.x, low_y), (place.x, high_y)] if line.axis == 0 else [(low_x, place.y), (high_x, place.y)]
    return shapely.intersection(LineString(across), surface.outline)


def as_way(surface: Surface, line: Gridline) -> str:
    """The line as `mapping.lines.read_line` reads it: all around, or from one end of it on the zone to the other."""
    if line.axis == (0 if surface.wrap_axis == "y" else 1) and (surface.has_seam or isinstance(surface, Polar)):
        return f"{print_gridline(surface, line)}, {AROUND}"
    shape = gridline_shape(surface, line)
    ends = (shape.coords[0], shape.coords[-1]) if isinstance(shape, LineString) and not shape.is_empty else ()
    return " to ".join(surface.print_place(*end) for end in ends)


def on_gridline(surface: Surface, line: Gridline) -> Place:
    """A place in the middle of the line, or where it would be beyond the zone."""
    shape = gridline_shape(surface, line)
    if not shape.is_empty:
        point = shape.interpolate(0.5, normalized=True) if shape.geom_type == "LineString" else shape.centroid
        return Place(float(point.x), float(point.y))
    middle = surface.outline.representative_point()
    first, second = spoken(surface, middle.x, middle.y)
    return placed(surface, *((line.at, second) if line.axis == 0 else (first, line.at)))


# From a landmark


def bearing(surface: Surface, mark: Mark, place: Place) -> Bearing:
    """How a place lies from a landmark, along the axes of the surface.

    Examples
    --------
    >>> from mapping.surfaces.panel import Panel
    >>> bearing(Panel(width=3, height=2), Mark("bracket 4", 1.0, 0.5, None), Place(1.4, 1.25)).words
    '0.40 m right of bracket 4 and 0.75 m above it'
    """
    start = Place(mark.x, mark.y)
    if mark.axis is not None:
        own, there = spoken(surface, *start), spoken(surface, *place)
        start = placed(surface, *((own[0], there[1]) if mark.axis == 0 else (there[0], own[1])))
    away = offsets(surface, start, place)
    far = [(which, metres) for which, metres in enumerate(away) if abs(metres) >= SAME and mark.axis in (None, which)]
    if not far:
        return Bearing(0.0, say("at {mark}", mark=mark.name), (mark.axis or 0, True))
    said = []
    for place_in_words, (which, metres) in enumerate(far):
        axis = AXES[surface.kind][which]
        name = mark.name if place_in_words == 0 else say("it")
        length = surface.chainage.print_length(abs(round(metres / surface.chainage.step) * surface.chainage.step))
        said.append(say(axis.more if metres > 0 else axis.less, length=length, mark=name))
    words = said[0] if len(said) == 1 else say("{first} and {second}", first=said[0], second=said[1])
    distance = float(surface.distance(start.x, start.y, place.x, place.y))
    which, metres = max(far, key=lambda each: abs(each[1]))
    return Bearing(distance, words, (which, metres > 0))


def two_bearings(surface: Surface, marks: Sequence[Mark], place: Place) -> list[Bearing]:
    """The way from the nearest landmark, and from the nearest one that lies another way, so that a mirror slip shows."""
    near = sorted((bearing(surface, mark, place) for mark in marks), key=lambda each: each.distance)
    if not near:
        return []
    other = next((each for each in near[1:] if each.side != near[0].side), None)
    return [each for each in (near[0], other or (near[1] if len(near) > 1 else None)) if each]
