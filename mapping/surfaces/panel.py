"""The panel: a flat rectangle with its own x to the right and y up. No Django."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, ClassVar

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon

from accounts.wording import say
from mapping.lanes import Lane
from mapping.positions import Chainage, PositionError, quote
from mapping.surfaces.plane import WHOLE_ZONE, Areal, Place, Sector, Surface
from mapping.surfaces.sizes import check_names, check_numbers, one_of, within
from mapping.surfaces.spoken import (
    NOISE,
    onto_zone,
    outwards,
    parts_of,
    print_measures,
    read_measures,
    refuse_off,
    take_lane,
    to_ends,
)

SIZES = (0.01, 1000.0)

_PLACE = re.compile(r"x (.+?),? y (.+)", re.IGNORECASE)
_AXIS = re.compile(r"([xy]) (.+)", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class Panel(Surface):
    """A panel of this `width` (along x) and `height` (along y), in metres."""

    kind: ClassVar[str] = "panel"

    width: float
    height: float
    face: str = "outside"
    chainage: Chainage = field(default_factory=Chainage)

    def __post_init__(self) -> None:
        within("width", self.width, *SIZES)
        within("height", self.height, *SIZES)
        one_of("face", self.face, "outside", "inside")

    @classmethod
    def from_json(cls, json: Mapping[str, Any], face: str, chainage: Chainage) -> Panel:
        """The panel of `{"width", "height"}`, in metres. Raises SurfaceError naming the field that is wrong."""
        check_names(say("a panel"), json, ("width", "height"))
        check_numbers(json, ("width", "height"))
        return cls(**json, face=face, chainage=chainage)

    def to_json(self) -> dict[str, Any]:
        return {"width": self.width, "height": self.height}

    @property
    def period(self) -> float | None:
        return None

    @property
    def area(self) -> float:
        return self.width * self.height

    @cached_property
    def outline(self) -> Polygon:
        return shapely.box(0.0, 0.0, self.width, self.height)

    @property
    def seen_from(self) -> str:
        return say("As seen facing the panel, x to the right, y up")

    def to_view(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return np.asarray(x, dtype=float), self.height - np.asarray(y, dtype=float)

    def from_view(self, right: ArrayLike, down: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return self.to_view(right, down)

    def limits_text(self) -> str:
        x, y = (print_measures(0.0, size, self.chainage) for size in (self.width, self.height))
        return f"x {x}, y {y}"

    def read_place(self, text: str, anywhere: bool = False) -> Place:
        """The place of `x 1.20 y 0.40`.

        Raises
        ------
        PositionError
            When it cannot be read or lies off the zone (unless `anywhere`).

        Examples
        --------
        >>> Panel(width=2, height=1).read_place("x 1.20 y 0.40")
        Place(x=1.2, y=0.4)
        """
        match = _PLACE.fullmatch(", ".join(parts_of(text)))
        if match is None:
            raise PositionError(
                say(
                    "position {quote} cannot be read: write it like {print_place}",
                    quote=quote(text),
                    print_place=self.print_place(self.width / 2, self.height / 2),
                )
            )
        sizes = (self.width, self.height)
        x, y = (
            onto_zone(self.chainage.read_measure(said), 0.0, size, self.chainage)
            for said, size in zip(match.groups(), sizes, strict=True)
        )
        if not (anywhere or (0 <= x <= self.width and 0 <= y <= self.height)):
            raise refuse_off("position", text, self.limits_text())
        return Place(x, y)

    def print_place(self, x: float, y: float) -> str:
        return f"x {self.chainage.print_measure(x)} y {self.chainage.print_measure(y)}"

    def read_region(self, text: str) -> Areal:
        """The shape of `x 1.20 to 2.00 m, y 0.40 to 0.90 m` (either may be left out), of a lane across what is named
        before it (`lane 2 of 6, 0.45 m wide`), or of `whole zone`.

        Raises
        ------
        PositionError
            When it cannot be read, has no size, or lies off the zone altogether.
        """
        parts = parts_of(text)
        if [part.lower() for part in parts] == [WHOLE_ZONE]:
            return self.outline
        lane = take_lane(parts, self.chainage, text)
        if not (parts or lane):
            raise self._unreadable(text)
        said: dict[str, tuple[float, float]] = {}
        for part in parts:
            axis = _AXIS.fullmatch(part)
            ends = read_measures(axis[2], self.chainage, text) if axis else None
            if axis is None or ends is None or axis[1].lower() in said:
                raise self._unreadable(text)
            size = self.width if axis[1].lower() == "x" else self.height
            low, high = (to_ends(end, (0.0, size), self.chainage) for end in ends)
            if low >= size or high <= 0:
                raise refuse_off("stretch", text, self.limits_text())
            said[axis[1].lower()] = low, high
        (left, right), (low, high) = said.get("x", (0.0, self.width)), said.get("y", (0.0, self.height))
        if lane is not None:
            near, far = lane.band(high - low)
            low, high = low + near, low + far
        return self.fold(shapely.box(left, low, right, high))

    def _unreadable(self, text: str) -> PositionError:
        return PositionError(
            say(
                'stretch {quote} cannot be read: write it like "{limits_text}", "lane 2 of 6, '
                '{print_length} wide" or "{whole_zone}"',
                quote=quote(text),
                limits_text=self.limits_text(),
                print_length=self.chainage.print_length(0.45),
                whole_zone=WHOLE_ZONE,
            )
        )

    def print_region(self, low: float, high: float, across: Sector | Lane | None = None) -> str:
        """What `read_region` reads, of x from `low` to `high` (m): the full height, y from and to (m), or a lane."""
        said = []
        if low > NOISE or high < self.width - NOISE:
            said.append(f"x {print_measures(low, high, self.chainage)}")
        if isinstance(across, Lane):
            said.append(across.said)
        elif across is not None:
            said.append(f"y {print_measures(*across, self.chainage)}")
        return ", ".join(said) or WHOLE_ZONE

    def describe_region(self, geometry: Areal) -> str:
        """The smallest rectangle that contains the shape, each end printed outwards to its step.

        Raises
        ------
        PositionError
            For an empty shape.
        """
        if geometry.is_empty:
            raise PositionError(say("an empty shape has no place: give a shape with an area"))
        low_x, low_y, high_x, high_y = geometry.bounds
        said = [
            f"{axis} {print_measures(*outwards(low, high, self.chainage), self.chainage)}"
            for axis, low, high, size in (("x", low_x, high_x, self.width), ("y", low_y, high_y, self.height))
            if low > NOISE or high < size - NOISE
        ]
        return ", ".join(said) or WHOLE_ZONE
