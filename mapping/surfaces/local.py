"""Bends, dished heads and spheres, which do not unroll: spoken positions, a stated area, local distances.

Each keeps a plane whose whole area is the stated one; footprints lie in the tangent plane at the flaw. Distances and
areas of parts are local: true near a place, not from one end to the other. No Django.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, ClassVar

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon

from accounts.wording import noted, say
from mapping.azimuth import print_azimuth, print_azimuths, read_azimuth, read_azimuths
from mapping.lanes import Lane
from mapping.positions import Chainage, PositionError, quote
from mapping.surfaces.disk import Disk
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import WHOLE_ZONE, Areal, Axis, Place, Sector, Surface
from mapping.surfaces.sizes import check_names, check_numbers, one_of, within
from mapping.surfaces.spoken import (
    NOISE,
    azimuths_outwards,
    onto_zone,
    outwards,
    parts_of,
    print_measures,
    read_measures,
    refuse_off,
    to_ends,
)

LOCAL = noted("This surface does not unroll: distances are local, true near a place only.")
AREAS = (0.001, 1_000_000.0)
REACHES = (0.01, 100.0)

_UP = re.compile(r"(.+?) up", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class Bend(Pipe):
    """A bend, spoken as the pipe it belongs to: chainage along its centre line and clock position.

    Its way around is the stated area over the length of the centre line (Pappus's centroid theorem: the area of a bend
    is centre line times circumference).
    """

    kind: ClassVar[str] = "bend"
    distance_note: ClassVar[str] = LOCAL

    stated: float

    def __post_init__(self) -> None:
        within("area", self.stated, *AREAS, "m2")
        if self.end > self.start:
            object.__setattr__(self, "circumference", self.stated / (self.end - self.start))
        super().__post_init__()

    @classmethod
    def from_json(cls, json: Mapping[str, Any], face: str, chainage: Chainage) -> Bend:
        """The bend of `{"start", "end", "area"}`: continuous metres along the centre line, and m2 as stated."""
        check_names(say("a bend"), json, ("start", "end", "area"))
        check_numbers(json, ("start", "end", "area"))
        return cls(
            start=json["start"], end=json["end"], circumference=1.0, stated=json["area"], face=face, chainage=chainage
        )

    def to_json(self) -> dict[str, Any]:
        return {"start": self.start, "end": self.end, "area": self.stated}

    @property
    def area(self) -> float:
        return self.stated


@dataclass(frozen=True, kw_only=True)
class Head(Disk):
    """A dished head, spoken by azimuth and `r`, the distance from its middle measured over the surface.

    `reach` is that distance to its edge (m), `stated` its area (m2); the plane is the disk of that area.
    """

    kind: ClassVar[str] = "head"
    has_lanes: ClassVar[bool] = False
    distance_note: ClassVar[str] = LOCAL

    reach: float
    stated: float

    def __post_init__(self) -> None:
        within("area", self.stated, *AREAS, "m2")
        within("reach", self.reach, *REACHES)
        super().__post_init__()

    @classmethod
    def from_json(cls, json: Mapping[str, Any], face: str, chainage: Chainage) -> Head:
        """The head of `{"reach", "area", "viewed"}`: m over the surface from middle to edge, and m2 as stated."""
        check_names(say("a head"), json, ("reach", "area"), ("viewed",))
        check_numbers(json, ("reach", "area"))
        within("area", json["area"], *AREAS, "m2")
        return cls(
            diameter=2 * math.sqrt(json["area"] / math.pi),
            reach=json["reach"],
            stated=json["area"],
            viewed=json.get("viewed", "above"),
            face=face,
            chainage=chainage,
        )

    def to_json(self) -> dict[str, Any]:
        return {"reach": self.reach, "area": self.stated, "viewed": self.viewed}

    @property
    def scale(self) -> float:
        return self.outer / self.reach

    @property
    def area(self) -> float:
        return self.stated

    def distance(self, ax: ArrayLike, ay: ArrayLike, bx: ArrayLike, by: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(super().distance(ax, ay, bx, by) / self.scale)

    def in_space(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        return super().in_space(x, y) / self.scale


@dataclass(frozen=True, kw_only=True)
class Sphere(Surface):
    """A sphere of this `stated` area (m2), spoken by azimuth and height measured over the surface from its lowest point.

    x is the arc clockwise seen from above at the widest place; y the height of the place above the lowest, so that the
    plane is true in area everywhere (Archimedes: equal heights of a sphere have equal areas).

    Examples
    --------
    >>> Sphere(stated=400).read_place("90 deg, 0.00 m up")
    Place(x=8.862269254527579, y=0.0)
    """

    kind: ClassVar[str] = "sphere"
    has_lanes: ClassVar[bool] = False
    wrap_axis: ClassVar[Axis | None] = "x"
    distance_note: ClassVar[str] = LOCAL

    stated: float
    face: str = "outside"
    chainage: Chainage = field(default_factory=Chainage)

    def __post_init__(self) -> None:
        within("area", self.stated, *AREAS, "m2")
        one_of("face", self.face, "outside", "inside")

    @classmethod
    def from_json(cls, json: Mapping[str, Any], face: str, chainage: Chainage) -> Sphere:
        """The sphere of `{"area"}`, m2 as stated."""
        check_names(say("a sphere"), json, ("area",))
        check_numbers(json, ("area",))
        return cls(stated=json["area"], face=face, chainage=chainage)

    def to_json(self) -> dict[str, Any]:
        return {"area": self.stated}

    @cached_property
    def radius(self) -> float:
        """m."""
        return math.sqrt(self.stated / (4 * math.pi))

    @property
    def top(self) -> float:
        """From the lowest point to the highest, m over the surface."""
        return math.pi * self.radius

    @cached_property
    def period(self) -> float:
        return 2 * math.pi * self.radius

    @property
    def area(self) -> float:
        return self.stated

    @cached_property
    def outline(self) -> Polygon:
        return shapely.box(0.0, 0.0, self.period, 2 * self.radius)

    def y_of(self, up: float) -> float:
        """y of a height measured over the surface."""
        return self.radius * (1 - math.cos(min(max(up, 0.0), self.top) / self.radius))

    def height_of(self, y: float) -> float:
        """Height measured over the surface of a y."""
        return self.radius * math.acos(min(max(1 - y / self.radius, -1.0), 1.0))

    @property
    def seen_from(self) -> str:
        way = "right" if self.face == "inside" else "left"
        return say(
            "{face} face, as seen standing {face_2} the sphere, azimuth to the {way}",
            face=self.face.capitalize(),
            face_2=self.face,
            way=way,
        )

    def to_view(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Right and down (m of the plane, which is wider than the sphere towards its ends)."""
        x = np.asarray(x, dtype=float)
        return x if self.face == "inside" else self.period - x, 2 * self.radius - np.asarray(y, dtype=float)

    def from_view(self, right: ArrayLike, down: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        right = np.asarray(right, dtype=float)
        x = right if self.face == "inside" else self.period - right
        return np.mod(x, self.period), 2 * self.radius - np.asarray(down, dtype=float)

    def distance(self, ax: ArrayLike, ay: ArrayLike, bx: ArrayLike, by: ArrayLike) -> NDArray[np.float64]:
        """Great-circle distance (m), by the haversine formula."""
        a, b = (np.arcsin(np.clip(np.asarray(y, dtype=float) / self.radius - 1, -1, 1)) for y in (ay, by))
        turned = (np.asarray(ax, dtype=float) - np.asarray(bx, dtype=float)) / self.radius
        half = np.sin((a - b) / 2) ** 2 + np.cos(a) * np.cos(b) * np.sin(turned / 2) ** 2
        return np.asarray(2 * self.radius * np.arcsin(np.sqrt(np.clip(half, 0, 1))))

    def in_space(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        around, rise = np.asarray(x, dtype=float) / self.radius, np.asarray(y, dtype=float) - self.radius
        wide = np.sqrt(np.clip(self.radius**2 - rise**2, 0, None))
        return np.column_stack((wide * np.cos(around), wide * np.sin(around), rise))

    def footprint(
        self, x: float, y: float, size_x: float, size_y: float, overlap: float, round_: bool = False
    ) -> Areal:
        """A flaw of this size (m) with the overlap on each side, in the tangent plane, square to azimuth and height."""
        half_x, half_y = size_x / 2 + overlap, size_y / 2 + overlap
        if round_:
            half_x = half_y = max(half_x, half_y) * math.sqrt(math.pi) / 2  # the square of the circle's area
        up = self.height_of(y)
        low, high = self.y_of(up - half_y), self.y_of(up + half_y)
        wide = min(4 * half_x * half_y / (high - low), self.period)
        return self.fold(shapely.box(x - wide / 2, low, x + wide / 2, high))

    def with_margin(self, geometry: Areal, margin: float) -> Areal:
        """The folded shape with a margin (m) on every side of the box around each piece of it."""
        if margin == 0 or geometry.is_empty:
            return geometry
        grown = [geometry]
        for left, low, right, high in shapely.bounds(shapely.get_parts(geometry)):
            near, far = self.height_of(low) - margin, self.height_of(high) + margin
            narrow = self.radius * min(math.sin(min(max(up, 0.0), self.top) / self.radius) for up in (near, far))
            more = margin * self.radius / narrow if narrow * self.period > margin * self.radius else self.period / 2
            grown.append(shapely.box(left - more, self.y_of(near), right + more, self.y_of(far)))
        return self.fold(shapely.union_all(grown))

    def limits_text(self) -> str:
        return say(
            "all azimuths, {print_measures} up over the surface",
            print_measures=print_measures(0.0, self.top, self.chainage),
        )

    def read_place(self, text: str, anywhere: bool = False) -> Place:
        """The place of `127.50 deg, 1.20 m up`. Raises PositionError when it cannot be read or lies off the zone."""
        parts = parts_of(text)
        up = _UP.fullmatch(parts[-1])
        if len(parts) != 2 or up is None:
            example = self.print_place(self.period * 0.354, self.radius)
            raise PositionError(
                say(
                    "position {quote} cannot be read: write azimuth, height up, like {example}",
                    quote=quote(text),
                    example=example,
                )
            )
        height = onto_zone(self.chainage.read_measure(up[1]), 0.0, self.top, self.chainage)
        if not 0 <= height <= self.top:
            raise refuse_off("position", text, self.limits_text())
        return Place(read_azimuth(parts[0]) * self.period, self.y_of(height))

    def print_place(self, x: float, y: float) -> str:
        height = f"{self.chainage.print_measure(self.height_of(y))} {self.chainage.unit_word}"
        return f"{print_azimuth(x / self.period)}, {height} up"

    def read_region(self, text: str) -> Areal:
        """The folded shape of `20 deg to 75 deg, 0.00 to 1.20 m up` (either may be left out) or `whole zone`.

        Raises
        ------
        PositionError
            When it cannot be read, has no size, or lies off the zone altogether.
        """
        parts = parts_of(text)
        if [part.lower() for part in parts] == [WHOLE_ZONE]:
            return self.outline
        low, high, around = 0.0, self.top, (0.0, 1.0)
        up = _UP.fullmatch(parts[-1])
        heights = read_measures(up[1], self.chainage, text) if up else None
        if heights is not None:
            low, high = (to_ends(height, (0.0, self.top), self.chainage) for height in heights)
            parts = parts[:-1]
        sector = read_azimuths(parts[0]) if len(parts) == 1 else None
        if (parts and sector is None) or (up and heights is None):
            raise PositionError(
                say(
                    'stretch {quote} cannot be read: write it like "20 deg to 75 deg, {print_measures} '
                    'up" or "{whole_zone}"',
                    quote=quote(text),
                    print_measures=print_measures(0.0, self.top, self.chainage),
                    whole_zone=WHOLE_ZONE,
                )
            )
        if low >= self.top or high <= 0:
            raise refuse_off("stretch", text, self.limits_text())
        first, second = (turn * self.period for turn in sector or around)
        return self.fold(shapely.box(first, self.y_of(low), second, self.y_of(high)))

    def print_region(self, low: float, high: float, across: Sector | Lane | None = None) -> str:
        """What `read_region` reads, of x from `low` to `high` and y from and to (m). Raises ValueError for a lane."""
        if isinstance(across, Lane):
            raise ValueError(
                say("{across} is not allowed: a sphere has no lanes, it does not unroll", across=across.said)
            )
        first, second = across or (0.0, 2 * self.radius)
        said = [] if high - low > self.period - NOISE else [print_azimuths(low / self.period, high / self.period)]
        if across is not None:
            said.append(f"{print_measures(self.height_of(first), self.height_of(second), self.chainage)} up")
        return ", ".join(said) or WHOLE_ZONE

    def describe_region(self, geometry: Areal) -> str:
        """The smallest spoken stretch that contains the shape, printed outwards. PositionError for an empty shape."""
        if geometry.is_empty:
            raise PositionError(say("an empty shape has no place: give a shape with an area"))
        said = []
        span = self.span(geometry)
        if span and (around := azimuths_outwards(span[0] / self.period, span[1] / self.period)):
            said.append(around)
        low, high = (self.height_of(y) for y in geometry.bounds[1::2])
        if low > NOISE or high < self.top - NOISE:
            said.append(f"{print_measures(*outwards(low, high, self.chainage), self.chainage)} up")
        return ", ".join(said) or WHOLE_ZONE
