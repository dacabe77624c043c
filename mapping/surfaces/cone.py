"""The cone, whole or cut off below its apex: roofs, hoppers, reducers, spoken by azimuth and slant distance.

The plane is the sector that the cone unrolls into, in true metres: the apex (virtual where it is cut off) is the
origin, azimuth 0 runs along y, azimuths turn clockwise seen from above; the seam turns the plane instead of shifting
it. No Django.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, ClassVar

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon, affinity
from shapely.geometry.base import BaseGeometry

from accounts.wording import say
from mapping.positions import Chainage
from mapping.surfaces.plane import TOUCH, Areal, Place, SurfaceError, areal, circle, edges_on, sound
from mapping.surfaces.polar import Polar
from mapping.surfaces.sizes import check_names, check_numbers, one_of, within

DIAMETERS = (0.05, 200.0)
HEIGHTS = (0.001, 100.0)
BESIDE = 0.001  # of a turn: beside the seam
MITRE = 1.5  # a square corner grows to a square corner, a sharper one is cut


@dataclass(frozen=True, kw_only=True)
class Cone(Polar):
    """A cone.

    Parameters
    ----------
    diameter : m, of its wide end, over the coating (outside face) or inside the lining (inside face).
    cut_diameter : m, of its narrow end; 0 where it runs to the apex.
    height : m from one end to the other, along the axis.
    viewed : from "above" or "below".
    face : "outside" or "inside".
    chainage : how the asset writes lengths.

    Examples
    --------
    >>> Cone(diameter=6, height=4).print_place(0.0, 2.5)
    '0.00 deg, slant 2.50 m'
    """

    kind: ClassVar[str] = "cone"
    word: ClassVar[str] = "slant"
    ring_lanes: ClassVar[bool] = True

    diameter: float
    height: float
    cut_diameter: float = 0.0
    viewed: str = "above"
    face: str = "inside"
    chainage: Chainage = field(default_factory=Chainage)

    def __post_init__(self) -> None:
        within("diameter", self.diameter, *DIAMETERS)
        within("height", self.height, *HEIGHTS)
        within("cut_diameter", self.cut_diameter, 0.0, self.diameter)
        if self.diameter - self.cut_diameter < self.height / 500:
            raise SurfaceError(
                "cut_diameter",
                say(
                    "cut_diameter {cut_diameter!r} is not allowed: a cone narrows by at least 1 in 500 of its height",
                    cut_diameter=self.cut_diameter,
                ),
            )
        one_of("viewed", self.viewed, "above", "below")
        one_of("face", self.face, "outside", "inside")

    @classmethod
    def from_json(cls, json: Mapping[str, Any], face: str, chainage: Chainage) -> Cone:
        """The cone of `{"diameter", "height", "cut_diameter", "viewed"}`, in metres; the last two may be left out.

        Raises
        ------
        SurfaceError
            Naming the field that is missing, unknown, no number or out of range.
        """
        check_names(say("a cone"), json, ("diameter", "height"), ("cut_diameter", "viewed"))
        check_numbers(json, ("diameter", "height", "cut_diameter"))
        return cls(**json, face=face, chainage=chainage)

    def to_json(self) -> dict[str, Any]:
        return {
            "diameter": self.diameter,
            "height": self.height,
            "cut_diameter": self.cut_diameter,
            "viewed": self.viewed,
        }

    @cached_property
    def _sine(self) -> float:
        """Sine of half the opening angle: radius over slant distance."""
        narrowing = (self.diameter - self.cut_diameter) / 2
        return narrowing / math.hypot(narrowing, self.height)

    @property
    def turn(self) -> float:
        return 2 * math.pi * self._sine

    @property
    def inner(self) -> float:
        return self.cut_diameter / 2 / self._sine

    @property
    def outer(self) -> float:
        return self.diameter / 2 / self._sine

    @property
    def area(self) -> float:
        return math.pi * (self.diameter + self.cut_diameter) / 2 * (self.outer - self.inner)

    @property
    def seen_from(self) -> str:
        return say("{seen_from}, unrolled from azimuth 0", seen_from=super().seen_from)

    def distance(self, ax: ArrayLike, ay: ArrayLike, bx: ArrayLike, by: ArrayLike) -> NDArray[np.float64]:
        """Shortest way on the cone (m): straight on the unrolled plane, by the shorter way around."""
        azimuth, away = self.from_plane(ax, ay)
        other, beyond = self.from_plane(bx, by)
        apart = np.mod(azimuth - other, 1.0)
        angle = np.minimum(apart, 1.0 - apart) * self.turn
        return np.asarray(np.hypot(away - beyond, 2 * np.sqrt(away * beyond) * np.sin(angle / 2)))

    # The seam

    @property
    def has_seam(self) -> bool:
        return True

    def seam_edges(self, piece: Polygon) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        coordinates, ring = shapely.get_coordinates(shapely.get_rings(piece), return_index=True)
        near, far = (self._edges_along(turn, coordinates, ring) for turn in (0.0, self.turn))
        return near, far

    def _edges_along(
        self, turn: float, coordinates: NDArray[np.float64], ring: NDArray[np.int64]
    ) -> NDArray[np.float64]:
        """From and to of the edges that lie on the slant line at this angle in the plane (rad)."""
        x, y = coordinates.T
        off = x * math.cos(turn) - y * math.sin(turn)
        along = x * math.sin(turn) + y * math.cos(turn)
        return edges_on(np.where(along > -1e-9, np.abs(off), math.inf), along, ring)

    def by_seam(self, geometry: Areal) -> tuple[BaseGeometry, BaseGeometry]:
        """Only what lies beside the seam: a flat cone taken once around comes to lie on itself."""
        far = 2 * self.outer
        near = areal(geometry & self.sector(0.0, BESIDE, 0.0, far))
        return self.turned(near, 1), areal(geometry & self.sector(1 - BESIDE, 1.0, 0.0, far))

    def in_space(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        fraction, away = self.from_plane(x, y)
        around, radius = 2 * math.pi * fraction, away * self._sine
        return np.column_stack((radius * np.cos(around), radius * np.sin(around), away * math.sqrt(1 - self._sine**2)))

    def home(self, x: float, y: float) -> Place:
        fraction, away = self.from_plane(x, y)
        return self.to_plane(float(fraction), float(away))

    def turned(self, geometry: BaseGeometry, turns: float) -> BaseGeometry:
        """Turned clockwise about the apex by so many turns of azimuth."""
        return (
            sound(affinity.rotate(geometry, -turns * self.turn, origin=(0, 0), use_radians=True)) if turns else geometry
        )

    def fold(self, geometry: BaseGeometry) -> Areal:
        """A shape of the plane brought onto the zone: what reaches past an edge of the unrolled sector, to the middle
        of what it leaves open, comes back at the other edge."""
        geometry = sound(geometry)
        if geometry.is_empty:
            return areal(geometry)
        far = 2 * (self.outer + float(np.abs(geometry.bounds).max()))
        beyond = (2 * math.pi / self.turn - 1) / 2
        past = self.turned(geometry & self.sector(1.0, 1.0 + beyond, 0.0, far), -1)
        before = self.turned(geometry & self.sector(-beyond, 0.0, 0.0, far), 1)
        return areal(shapely.union_all(shapely.intersection([geometry, past, before], self.outline)))

    def _settled(self, geometry: BaseGeometry, at: float) -> Areal:
        """A shape given about azimuth 0, turned to the azimuth `at` (0 to 1), cut at the seam and at the outline."""
        if geometry.is_empty:
            return areal(geometry)
        far = 2 * (self.outer + float(np.abs(geometry.bounds).max()))
        seam = -at if at < 0.5 else 1 - at
        pieces = []
        for first, second in ((-0.5, seam), (seam, 0.5)):
            if second > first:
                turns = at - math.floor(at + (first + second) / 2)
                pieces.append(self.turned(geometry & self.sector(first, second, 0.0, far), turns))
        return areal(shapely.union_all(shapely.intersection(pieces, self.outline)))

    def footprint(
        self, x: float, y: float, size_x: float, size_y: float, overlap: float, round_: bool = False
    ) -> Areal:
        """A flaw of this size (m; x around, y along the slant) with the overlap: square to azimuth and slant there."""
        fraction, away = (float(value) for value in self.from_plane(x, y))
        if round_:
            shape = circle(0.0, away, max(size_x, size_y) / 2 + overlap)
        else:
            half_x, half_y = size_x / 2 + overlap, size_y / 2 + overlap
            shape = shapely.box(-half_x, away - half_y, half_x, away + half_y)
        return self._settled(shape, fraction)

    def with_margin(self, geometry: Areal, margin: float) -> Areal:
        """The folded shape with a margin (m) on every side, square to its own edges, over the seam."""
        if margin == 0 or geometry.is_empty:
            return geometry
        grown = [geometry]
        for piece in shapely.get_parts(geometry):
            first, second = self.azimuths(piece) or (0.0, 1.0)
            at = (first + second) / 2 % 1.0
            about = self.turned(piece, -at)
            grown.append(self._settled(about.buffer(margin, join_style="mitre", mitre_limit=MITRE), at))
        return areal(shapely.union_all(grown))

    def upright(self, geometry: Areal) -> tuple[Areal, Callable[[float, float], Place]]:
        first, second = self.azimuths(geometry) or (0.0, 0.0)
        at = (first + second) / 2

        def near(x: float, y: float) -> Place:
            fraction, away = (float(value) for value in self.from_plane(x, y))
            angle = ((fraction - at + 0.5) % 1.0 - 0.5) * self.turn
            return Place(away * math.sin(angle), away * math.cos(angle))

        whole = self.turned(self.unroll(geometry), -at).buffer(TOUCH, join_style="mitre")
        return areal(whole.buffer(-TOUCH, join_style="mitre")), near  # without the slit that turning leaves at the seam

    def unroll(self, geometry: Areal) -> Areal:
        span = None if geometry.is_empty else self.azimuths(geometry)
        if span is None or span[1] <= 1:
            return geometry
        pieces = shapely.get_parts(geometry)
        starts = [(self.azimuths(piece) or (0.0, 1.0))[0] for piece in pieces]
        before = span[0] - 1e-9
        moved = [
            self.turned(piece, 1) if start < before else piece for piece, start in zip(pieces, starts, strict=True)
        ]
        return areal(shapely.union_all(moved))
