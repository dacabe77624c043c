"""What disks, annuli, cones and heads share: azimuth and distance from a centre or apex, rings and sectors.

In the plane azimuth 0 runs along y and azimuths turn clockwise seen from above. Curved edges are polygons with corners
on a grid of azimuths, so that neighbouring rings and sectors share their edges exactly. No Django.
"""

from __future__ import annotations

import math
import re
from abc import abstractmethod
from functools import cached_property
from typing import ClassVar

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon

from accounts.wording import say
from mapping.azimuth import print_azimuth, print_azimuths, read_azimuth, read_azimuths
from mapping.lanes import Lane
from mapping.positions import PositionError, quote
from mapping.surfaces.plane import TOUCH, WHOLE_ZONE, Areal, Place, Sector, Surface, areal, shortest_span
from mapping.surfaces.spoken import (
    NOISE,
    SaidLane,
    azimuths_outwards,
    onto_zone,
    outwards,
    parts_of,
    print_measures,
    read_measures,
    refuse_off,
    take_lane,
    to_ends,
)

CORNERS = 720
"""Corners of a curved edge in a turn of azimuth: the area of any sector is true to 0.002 %."""


class Polar(Surface):
    """A surface spoken by azimuth and distance: `inner` and `outer` in metres from the centre or apex."""

    word: ClassVar[str] = "r"
    ring_lanes: ClassVar[bool] = False
    """Whether lanes run around as rings; else they run straight along x."""
    viewed: str

    @property
    @abstractmethod
    def inner(self) -> float:
        """Where the surface begins, metres from the centre or apex."""

    @property
    @abstractmethod
    def outer(self) -> float:
        """Where the surface ends, metres from the centre or apex."""

    @property
    def turn(self) -> float:
        """The angle in the plane (rad) of a whole turn of azimuth."""
        return 2 * math.pi

    @property
    def scale(self) -> float:
        """Plane metres in a metre as it is spoken: 1 where the surface unrolls."""
        return 1.0

    @property
    def period(self) -> float | None:
        return None

    @cached_property
    def outline(self) -> Polygon:
        return self.sector(0.0, 1.0, self.inner, self.outer)

    @cached_property
    def across(self) -> float:
        return self.outer - self.inner if self.ring_lanes else super().across

    @property
    def lanes_from(self) -> float:
        return self.inner if self.ring_lanes else super().lanes_from

    # Curved edges

    @cached_property
    def _corner(self) -> float:
        return self.turn / CORNERS

    @cached_property
    def _reach(self) -> float:
        """Distance of a corner over the radius it stands for, so that areas are true."""
        return math.sqrt(self._corner / math.sin(self._corner))

    @cached_property
    def _least(self) -> float:
        """Distance of the middle of an edge over the radius it stands for."""
        return self._reach * math.cos(self._corner / 2)

    def _arc(self, radius: float, corners: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points of the curved edge at these corners (and between them), shape (n, 2)."""
        angles = corners * self._corner
        off = (corners - np.floor(corners) - 0.5) * self._corner
        away = radius * self._least / np.cos(off)
        return np.column_stack((away * np.sin(angles), away * np.cos(angles)))

    def sector(self, first: float, second: float, low: float, high: float) -> Polygon:
        """From azimuth `first` to `second` (fractions of a turn) and from `low` to `high` (m), in the endless plane."""
        if self.turn > 2 * math.pi - 1e-9 and second - first >= 1 - 1e-12:
            corners = np.arange(CORNERS, dtype=float)
            return Polygon(self._arc(high, corners), [self._arc(low, corners)] if low > 0 else None)
        between = np.arange(math.floor(first * CORNERS) + 1, math.ceil(second * CORNERS))
        corners = np.concatenate(([first * CORNERS], between, [second * CORNERS]))
        near = self._arc(low, corners)[::-1] if low > 0 else np.zeros((1, 2))
        return Polygon(np.concatenate((self._arc(high, corners), near)))

    def _region(self, first: float, second: float, low: float, high: float) -> Areal:
        if second - first >= 1 - 1e-12:
            return self.sector(0.0, 1.0, low, high)
        if second <= 1 or not self.has_seam:
            return self.sector(first, second, low, high)
        pieces = [self.sector(first, 1.0, low, high), self.sector(0.0, second - 1, low, high)]
        return areal(shapely.union_all(pieces))

    # Azimuth and distance of plane points

    def to_plane(self, fraction: float, away: float) -> Place:
        """The plane point at an azimuth (fraction of a turn, any turn) and a distance (m)."""
        angle = fraction % 1.0 * self.turn
        return Place(away * math.sin(angle), away * math.cos(angle))

    def from_plane(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Azimuth (fraction of a turn, 0 to 1) and distance (m) of plane points."""
        return np.mod(self._fractions(x, y), 1.0), np.hypot(x, y)

    def _fractions(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        """Fractions of a turn, beyond 0 and 1 to the middle of what the unrolled surface leaves open."""
        angles = np.mod(np.arctan2(x, y), 2 * math.pi)
        middle = (self.turn + 2 * math.pi) / 2
        return np.asarray(np.where(angles > middle, angles - 2 * math.pi, angles) / self.turn)

    # Spoken

    def limits_text(self) -> str:
        return say("all azimuths, {ring}", ring=self._ring(self.inner, self.outer))

    def _ring(self, low: float, high: float) -> str:
        """A ring between two plane distances, as it is spoken."""
        return f"{self.word} {print_measures(low / self.scale, high / self.scale, self.chainage)}"

    def read_place(self, text: str, anywhere: bool = False) -> Place:
        """The place of `127.50 deg, r 4.20 m` (on a cone `127.50 deg, slant 4.20 m`).

        Raises
        ------
        PositionError
            When a part cannot be read, or it lies off the zone (unless `anywhere`).
        """
        parts = parts_of(text)
        away = re.fullmatch(rf"{self.word} (.+)", parts[-1], re.IGNORECASE)
        if len(parts) != 2 or away is None:
            example = self.print_place(*self.to_plane(0.354, (self.inner + self.outer) / 2))
            raise PositionError(
                say(
                    "position {quote} cannot be read: write azimuth, {word} like {example}",
                    quote=quote(text),
                    word=self.word,
                    example=example,
                )
            )
        fraction = read_azimuth(parts[0])
        metres = onto_zone(self.chainage.read_measure(away[1]) * self.scale, self.inner, self.outer, self.chainage)
        if metres < 0 or not (anywhere or self.inner <= metres <= self.outer):
            raise refuse_off("position", text, self.limits_text())
        if not anywhere:  # the edge of the zone is on it: onto the polygon, which there is less than 1 mm off
            inner = self.inner * self._reach + NOISE if self.inner > 0 else 0.0
            metres = min(max(metres, inner), self.outer * self._least - NOISE)
        return self.to_plane(fraction, metres)

    def print_place(self, x: float, y: float) -> str:
        fraction, away = (float(value) for value in self.from_plane(x, y))
        if self.outer < away <= self.outer * self._reach + NOISE:
            away = self.outer
        elif self.inner > away >= self.inner * self._least - NOISE:
            away = self.inner
        measure = self.chainage.print_measure(away / self.scale)
        if float(measure) == 0:
            fraction = 0.0  # the middle has no azimuth
        return f"{print_azimuth(fraction)}, {self.word} {measure} {self.chainage.unit_word}"

    def read_region(self, text: str) -> Areal:
        """The folded shape of a spoken stretch.

        Reads `r 2.00 to 4.00 m, 10 deg to 40 deg` (on a cone `slant`): a ring, a sector clockwise from the first to the
        second azimuth, or both; then a lane, `lane 2 of 6, 0.45 m wide`; and `whole zone`. Lanes that run around count
        across the ring named before them; straight ones always across the whole disk.

        Raises
        ------
        PositionError
            When it cannot be read, has no size, or lies off the zone altogether.
        """
        parts = parts_of(text)
        if [part.lower() for part in parts] == [WHOLE_ZONE]:
            return self.outline
        lane = take_lane(parts, self.chainage, text)
        ring: tuple[float, float] | None = None
        around: tuple[float, float] | None = None
        for part in parts:
            if ring is None and (said := re.fullmatch(rf"{self.word} (.+)", part, re.IGNORECASE)):
                ring = read_measures(said[1], self.chainage, text)
                if ring is None:
                    raise self._unreadable(text)
            elif around is None and (around := read_azimuths(part)) is not None:
                continue
            else:
                raise self._unreadable(text)
        ends = (self.inner, self.outer)
        low, high = (to_ends(end * self.scale, ends, self.chainage) for end in ring) if ring else ends
        first, second = around or (0.0, 1.0)
        return self._shape(first, second, low, high, lane, text)

    def _shape(self, first: float, second: float, low: float, high: float, lane: SaidLane | None, text: str) -> Areal:
        if lane is not None and self.ring_lanes:
            near, far = lane.band(high - low)
            low, high = low + near, low + far
        low, high = max(low, self.inner), min(high, self.outer)
        if low >= high:
            raise refuse_off("stretch", text, self.limits_text())
        region = self._region(first, second, low, high)
        if lane is not None and not self.ring_lanes:
            near, far = (self.lanes_from + edge for edge in lane.band(self.across))
            region = areal(region.intersection(shapely.box(-2 * self.outer, near, 2 * self.outer, far)))
        return region

    def _unreadable(self, text: str) -> PositionError:
        ring = self._ring(self.inner, self.outer)
        return PositionError(
            say(
                'stretch {quote} cannot be read: write it like "{ring}, 10 deg to 40 deg", "{ring}", '
                '"lane 2 of 6, {print_length} wide" or "{whole_zone}"',
                quote=quote(text),
                ring=ring,
                print_length=self.chainage.print_length(0.45),
                whole_zone=WHOLE_ZONE,
            )
        )

    def print_region(self, low: float, high: float, across: Sector | Lane | None = None) -> str:
        """What `read_region` reads, of a ring from `low` to `high` (m): all around, a sector in degrees or a lane."""
        said = []
        if low > self.inner + NOISE or high < self.outer - NOISE:
            said.append(self._ring(low, high))
        if isinstance(across, Lane):
            said.append(across.said)
        elif across is not None:
            said.append(print_azimuths(across.first / 360, across.second / 360))
        return ", ".join(said) or WHOLE_ZONE

    def describe_region(self, geometry: Areal) -> str:
        """The smallest ring and sector that contain the shape, each end printed outwards to its step.

        Raises
        ------
        PositionError
            For an empty shape.
        """
        if geometry.is_empty:
            raise PositionError(say("an empty shape has no place: give a shape with an area"))
        said = []
        low = float(shapely.distance(geometry, shapely.Point(0, 0))) / self._least
        high = float(np.hypot(*shapely.get_coordinates(geometry).T).max()) / self._reach
        if low > self.inner + NOISE or high < self.outer - NOISE:
            low, high = outwards(low / self.scale, high / self.scale, self.chainage)
            said.append(self._ring(low * self.scale, high * self.scale))
        if (span := self.azimuths(geometry)) and (around := azimuths_outwards(*span)):
            said.append(around)
        return ", ".join(said) or WHOLE_ZONE

    def azimuths(self, geometry: Areal) -> tuple[float, float] | None:
        """The shortest sector (fractions of a turn) that holds the shape, the second perhaps past 1; None: all round."""
        spans = [self._azimuths_of(piece) for piece in shapely.get_parts(geometry)]
        if None in spans:
            return None
        starts, ends = np.array(spans).T
        return shortest_span(starts, ends, 1.0, TOUCH / (self.outer * self.turn))

    def _azimuths_of(self, piece: Polygon) -> tuple[float, float] | None:
        ring = shapely.get_coordinates(piece.exterior)[:-1]
        centre = np.flatnonzero(np.hypot(*ring.T) < TOUCH)
        if len(centre):
            ring = np.roll(ring, -int(centre[0]) - 1, axis=0)[:-1]
        elif piece.intersects(shapely.Point(0, 0)):
            return None
        else:
            ring = np.vstack((ring, ring[:1]))
        fractions = self._fractions(*ring.T)
        if self.has_seam:
            fractions = np.clip(fractions, 0.0, 1.0)
        else:
            fractions = np.unwrap(fractions, period=1.0)
            if not len(centre) and abs(fractions[-1] - fractions[0]) > 0.5:
                return None  # it goes around the centre
        first = float(fractions.min())
        return first - math.floor(first), float(fractions.max()) - math.floor(first)

    # Drawn

    def to_view(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Right and down (m) from the centre or apex, azimuth 0 up the page; from below mirrored left to right."""
        x = np.asarray(x, dtype=float)
        return x if self.viewed == "above" else -x, -np.asarray(y, dtype=float)

    def from_view(self, right: ArrayLike, down: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return self.to_view(right, down)

    @property
    def seen_from(self) -> str:
        if self.viewed == "above":
            return say("As seen from above, azimuth 0 up the page, azimuths clockwise")
        return say("As seen from below, azimuth 0 up the page, azimuths counterclockwise")
