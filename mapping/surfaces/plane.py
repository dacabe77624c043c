"""What every unrolled surface can do: fold shapes over its seam, measure, and speak places both ways.

A surface is a part of a plane in metres; where it closes on itself one axis wraps. No Django.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any, ClassVar, Literal, NamedTuple, TypeAlias

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import MultiPolygon, Polygon, affinity
from shapely.geometry.base import BaseGeometry

from accounts.wording import say
from mapping.lanes import Lane
from mapping.positions import Chainage

Areal: TypeAlias = Polygon | MultiPolygon
Axis = Literal["x", "y"]

WHOLE_ZONE = "whole zone"
CIRCLE_SIDES = 128
MOST_TURNS = 10_000
STRETCH_AREA = 300.0  # m2
DUST = 1e-12  # m2: what rounding leaves along a seam, never ground
# m: contacts and necks narrower than this are rounding or corners, not edges
TOUCH = 1e-6


class SurfaceError(ValueError):
    """A surface that cannot be: `field` names what is wrong, the message says what is allowed."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


class Place(NamedTuple):
    """A point of the unrolled plane, in metres."""

    x: float
    y: float


class Sector(NamedTuple):
    """Part of the way across a stretch, from `first` to `second`.

    Metres on the pipe (clockwise), the strake (upwards) and the panel; degrees (clockwise) where azimuths are spoken.
    """

    first: float
    second: float


def areal(geometry: BaseGeometry) -> Areal:
    """The polygons of a geometry, oriented; lines, points and dust below 1e-12 m2 are dropped."""
    pieces = shapely.get_parts(shapely.get_parts(geometry))
    pieces = pieces[(shapely.get_dimensions(pieces) == 2) & (shapely.area(pieces) > DUST)]
    pieces = shapely.orient_polygons(pieces)
    return pieces[0] if len(pieces) == 1 else MultiPolygon(list(pieces))


def sound(geometry: BaseGeometry) -> BaseGeometry:
    """The shape, made valid. Raises SurfaceError when a coordinate is not a number."""
    if not np.isfinite(shapely.get_coordinates(geometry)).all():
        raise SurfaceError("shape", say("shape has a coordinate that is not a number: finite metres are allowed"))
    return geometry if geometry.is_valid else shapely.make_valid(geometry, method="structure", keep_collapsed=False)


def circle(x: float, y: float, radius: float) -> Polygon:
    """A many-sided polygon with exactly the area of the circle of this radius (m)."""
    turn = 2 * math.pi / CIRCLE_SIDES
    angles = np.arange(CIRCLE_SIDES) * turn
    reach = radius * math.sqrt(turn / math.sin(turn))
    return Polygon(np.column_stack((x + reach * np.cos(angles), y + reach * np.sin(angles))))


def grow_square(geometry: Areal, margin: float) -> Areal:
    """The shape and everything within `margin` (m) of it along both axes: swept by a square of 2 * margin."""
    if margin == 0 or geometry.is_empty:
        return geometry
    rings = shapely.get_rings(shapely.get_parts(geometry))
    coordinates, ring = shapely.get_coordinates(rings, return_index=True)
    edge = ring[:-1] == ring[1:]
    ends = np.stack((coordinates[:-1][edge], coordinates[1:][edge]), axis=1)
    corners = margin * np.array([(-1, -1), (-1, 1), (1, 1), (1, -1)])
    swept = (ends[:, :, None, :] + corners).reshape(len(ends), 8, 2)
    hulls = shapely.convex_hull(shapely.multipoints(shapely.points(swept)))
    return areal(shapely.union_all([geometry, *hulls]))


class Surface(ABC):
    """An unrolled surface: `outline` in plane metres; `period` is the length of the wrapping axis or None."""

    kind: ClassVar[str]
    wrap_axis: ClassVar[Axis | None] = None
    distance_note: ClassVar[str] = ""
    """What a screen says beside distances and areas of parts, where they are not exact."""
    has_lanes: ClassVar[bool] = True
    """Whether it is swept in lanes: what does not unroll has none that are true from end to end."""
    face: str
    chainage: Chainage

    @property
    @abstractmethod
    def period(self) -> float | None:
        """Metres after which the wrapping axis comes back to its beginning."""

    @property
    @abstractmethod
    def area(self) -> float:
        """True area in m2."""

    @property
    @abstractmethod
    def outline(self) -> Polygon:
        """The whole zone in the plane."""

    @property
    @abstractmethod
    def seen_from(self) -> str:
        """From where a drawing shows the surface, in words."""

    @classmethod
    @abstractmethod
    def from_json(cls, json: Mapping[str, Any], face: str, chainage: Chainage) -> Surface:
        """The surface of its stored form, in metres. Raises SurfaceError, naming the field that is wrong."""

    @abstractmethod
    def to_json(self) -> dict[str, Any]:
        """What `from_json` reads back, in metres."""

    @abstractmethod
    def limits_text(self) -> str:
        """The zone's limits in words."""

    @abstractmethod
    def read_place(self, text: str, anywhere: bool = False) -> Place:
        """The place of a spoken position; off the zone it is refused, except `anywhere` (landmarks)."""

    @abstractmethod
    def print_place(self, x: float, y: float) -> str:
        """The spoken position of a place."""

    @abstractmethod
    def read_region(self, text: str) -> Areal:
        """The folded shape of a spoken stretch, lane or "whole zone"."""

    @abstractmethod
    def print_region(self, low: float, high: float, across: Sector | Lane | None = None) -> str:
        """The spoken form of a stretch from `low` to `high` (m along the lanes), all across or part of it."""

    @abstractmethod
    def describe_region(self, geometry: Areal) -> str:
        """The smallest spoken stretch that contains the shape, printed outwards."""

    @abstractmethod
    def to_view(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Metres to the right and down the page, as seen facing the surface."""

    @abstractmethod
    def from_view(self, right: ArrayLike, down: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """x, y of what is drawn `right` and `down` the page (m)."""

    @cached_property
    def across(self) -> float:
        """Metres to sweep across the lanes, which run along x."""
        low, high = self.outline.bounds[1::2]
        return float(high - low)

    @property
    def lanes_from(self) -> float:
        """Where the first lane begins, metres across."""
        return float(self.outline.bounds[1])

    @property
    def closed(self) -> bool:
        """Whether the lanes close to a ring."""
        return self.wrap_axis == "y"

    def distance(self, ax: ArrayLike, ay: ArrayLike, bx: ArrayLike, by: ArrayLike) -> NDArray[np.float64]:
        """Shortest way on the surface (m) between places, over the seam where there is one; arrays broadcast."""
        dx = np.abs(np.asarray(ax, dtype=float) - np.asarray(bx, dtype=float))
        dy = np.abs(np.asarray(ay, dtype=float) - np.asarray(by, dtype=float))
        if self.period is not None:
            if self.wrap_axis == "x":
                dx = _shorter_way(dx, self.period)
            else:
                dy = _shorter_way(dy, self.period)
        return np.asarray(np.hypot(dx, dy))

    def fold(self, geometry: BaseGeometry) -> Areal:
        """A shape of the endless unrolled plane, brought onto the zone.

        Wrapped as often as it crosses the seam, split there, clipped at the outline, valid and oriented;
        empty when nothing of it lies on the zone.

        Raises
        ------
        SurfaceError
            When a coordinate is not a number or the shape goes around more than 10 000 times.
        """
        geometry = sound(geometry)
        if self.period is None or geometry.is_empty:
            return areal(geometry.intersection(self.outline))
        low, high = geometry.bounds[0::2] if self.wrap_axis == "x" else geometry.bounds[1::2]
        first, last = math.floor(low / self.period), math.floor(high / self.period)
        if last - first > MOST_TURNS:
            raise SurfaceError(
                "shape",
                say(
                    "shape goes around {last} times: at most {most_turns} are allowed",
                    last=last - first,
                    most_turns=MOST_TURNS,
                ),
            )
        turns = [self.turned(geometry, -turn) for turn in range(first, last + 1)]
        return areal(shapely.union_all(shapely.intersection(turns, self.outline)))

    def turned(self, geometry: BaseGeometry, turns: int) -> BaseGeometry:
        """The shape of the endless plane, taken so many times around.

        Far from the seam coordinates are coarser: a needle may close there, and what it leaves is made valid.
        """
        if turns == 0 or self.period is None:
            return geometry
        way = turns * self.period
        return sound(affinity.translate(geometry, *((way, 0) if self.wrap_axis == "x" else (0, way))))

    def footprint(
        self,
        x: float,
        y: float,
        size_x: float,
        size_y: float,
        overlap: float,
        round_: bool = False,
    ) -> Areal:
        """A flaw of this size (m) with the overlap on each side: square to the axes, or round.

        The round one has the longer side plus twice the overlap as diameter; its area is true to 0.01 %.
        """
        if round_:
            return self.fold(circle(x, y, max(size_x, size_y) / 2 + overlap))
        half_x, half_y = size_x / 2 + overlap, size_y / 2 + overlap
        return self.fold(shapely.box(x - half_x, y - half_y, x + half_x, y + half_y))

    def with_margin(self, geometry: Areal, margin: float) -> Areal:
        """The folded shape with a margin (m) on every side, square to the axes, over the seam."""
        return self.fold(grow_square(geometry, margin))

    @property
    def has_seam(self) -> bool:
        """Whether the unrolled surface closes on itself somewhere."""
        return self.period is not None

    def seam_edges(self, piece: Polygon) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """From and to, in metres along the seam, of each edge of the piece that lies on its near side, and on its far
        side; shape (n, 2) each."""
        wrapping = 0 if self.wrap_axis == "x" else 1
        coordinates, ring = shapely.get_coordinates(shapely.get_rings(piece), return_index=True)
        across, along = coordinates[:, wrapping], coordinates[:, 1 - wrapping]
        return edges_on(np.abs(across), along, ring), edges_on(np.abs(across - (self.period or 0.0)), along, ring)

    def by_seam(self, geometry: Areal) -> tuple[BaseGeometry, BaseGeometry]:
        """The shape taken once around, to beyond the far side of the seam, and what it may meet there of itself."""
        return self.turned(geometry, 1), geometry

    def in_space(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        """Points in space (m, shape (n, 3)) no further apart than the places are on the surface, for quick searches."""
        x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
        if self.period is None:
            return np.column_stack((x, y, np.zeros_like(x)))
        around, along = (x, y) if self.wrap_axis == "x" else (y, x)
        radius = self.period / (2 * math.pi)
        return np.column_stack((radius * np.cos(around / radius), radius * np.sin(around / radius), along))

    def home(self, x: float, y: float) -> Place:
        """The same place brought over the seam onto the zone, where there is a seam."""
        if self.period is None:
            return Place(x, y)
        return Place(x % self.period, y) if self.wrap_axis == "x" else Place(x, y % self.period)

    @cached_property
    def stretch_length(self) -> float:
        """How long along x the stretches are by which coverage is kept, about: of a few hundred m2 each."""
        low, _, high, _ = self.outline.bounds
        return float(STRETCH_AREA * (high - low) / self.outline.area)

    @cached_property
    def stretch_edges(self) -> NDArray[np.float64]:
        """Where along x (m) the stretches begin and end by which coverage is kept; the same surface always gives the same."""
        low, _, high, _ = self.outline.bounds
        return np.linspace(low, high, max(1, round((high - low) / self.stretch_length)) + 1)

    def stretch(self, number: int) -> Areal:
        """The ground of one stretch, counted from 0 along x."""
        _, low, _, high = self.outline.bounds
        begin, end = self.stretch_edges[number : number + 2]
        return areal(shapely.intersection(shapely.box(begin, low, end, high), self.outline))

    @cached_property
    def stretches(self) -> list[Areal]:
        """All stretches in order; kept here because a long zone has many of them."""
        return [self.stretch(number) for number in range(len(self.stretch_edges) - 1)]

    def upright(self, geometry: Areal) -> tuple[Areal, Callable[[float, float], Place]]:
        """The shape in one piece and upright as one stands before it; and where a place near it then lies."""
        whole = self.unroll(geometry)
        middle = whole.centroid

        def near(x: float, y: float) -> Place:
            if self.period is None:
                return Place(x, y)
            if self.wrap_axis == "x":
                return Place(x + round((middle.x - x) / self.period) * self.period, y)
            return Place(x, y + round((middle.y - y) / self.period) * self.period)

        return whole, near

    def span(self, geometry: Areal) -> tuple[float, float] | None:
        """The shortest way around (m on the wrapping axis) that holds the shape; None when that is the full round.

        The first lies on the zone, the second may lie beyond the seam.
        """
        if self.period is None:
            raise SurfaceError("surface", say("a {kind} has no way around", kind=self.kind))
        bounds = shapely.bounds(shapely.get_parts(geometry))
        starts, ends = (bounds[:, 0], bounds[:, 2]) if self.wrap_axis == "x" else (bounds[:, 1], bounds[:, 3])
        return shortest_span(starts, ends, self.period, TOUCH)

    def unroll(self, geometry: Areal) -> Areal:
        """The shape in one piece over the seam, in the endless plane, where it does not go all the way around."""
        if self.period is None or geometry.is_empty:
            return geometry
        span = self.span(geometry)
        if span is None:
            return geometry
        edge = 0 if self.wrap_axis == "x" else 1
        pieces = shapely.get_parts(geometry)
        beyond = shapely.bounds(pieces)[:, edge] < span[0]
        moved = [self.turned(piece, 1) if far else piece for piece, far in zip(pieces, beyond, strict=True)]
        return areal(shapely.union_all(moved))


def shortest_span(
    starts: NDArray[np.float64], ends: NDArray[np.float64], period: float, least: float
) -> tuple[float, float] | None:
    """The shortest way around that holds all the ways from starts to ends; None where no more than `least` is free."""
    order = np.argsort(starts)
    starts, reached = starts[order], np.maximum.accumulate(ends[order])
    free = np.append(starts[1:], starts[0] + period) - reached
    widest = int(np.argmax(free))
    if free[widest] <= least:
        return None
    first = starts[(widest + 1) % len(starts)]
    second = reached[widest] if widest == len(starts) - 1 else reached[widest] + period
    return float(first), float(second)


def edges_on(off: NDArray[np.float64], along: NDArray[np.float64], ring: NDArray[np.int64]) -> NDArray[np.float64]:
    """From and to along a line of each edge of these rings that lies on it; `off` (m) is how far each point is off."""
    on = off <= TOUCH / 1000
    edge = on[:-1] & on[1:] & (ring[:-1] == ring[1:])
    return np.sort(np.column_stack((along[:-1][edge], along[1:][edge])), axis=1)


def _shorter_way(way: NDArray[np.float64], period: float) -> NDArray[np.float64]:
    way = np.mod(way, period)
    return np.minimum(way, period - way)
