"""The pipe: chainage along it, clock positions around it, unrolled from the top clockwise.

y is the arc clockwise from 12 o'clock looking in the direction of increasing chainage, whichever face is swept.
No Django.
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

from accounts.wording import say
from mapping.clock import CLOCK_STEPS, print_clock, read_clock
from mapping.lanes import Lane
from mapping.positions import Chainage, PositionError, plain_text, quote
from mapping.surfaces.plane import (
    WHOLE_ZONE,
    Areal,
    Axis,
    Place,
    Sector,
    Surface,
    SurfaceError,
)
from mapping.surfaces.sizes import DIAMETERS, check_around, check_names, check_numbers, length_around, one_of
from mapping.surfaces.spoken import NOISE, onto_zone, take_lane, to_ends


@dataclass(frozen=True, kw_only=True)
class Pipe(Surface):
    """A stretch of pipe.

    Parameters
    ----------
    start, end : continuous metres along the asset; both ends belong to the zone.
    diameter : m over the coating that is swept (outside face) or inside the lining (inside face).
    circumference : m as measured; where given it rules over pi * diameter, and the two must agree within 0.2 %.
    face : "outside" or "inside".
    chainage : how the asset writes chainage.
    """

    kind: ClassVar[str] = "pipe"
    wrap_axis: ClassVar[Axis | None] = "y"

    start: float
    end: float
    diameter: float | None = None
    circumference: float | None = None
    face: str = "outside"
    chainage: Chainage = field(default_factory=Chainage)

    def __post_init__(self) -> None:
        check_around(say("a pipe"), self.diameter, self.circumference, *DIAMETERS)
        if not (math.isfinite(self.start) and math.isfinite(self.end) and self.start < self.end):
            raise SurfaceError(
                "end",
                say("end {end!r} is not allowed: metres above the start, {start!r}", end=self.end, start=self.start),
            )
        if self.start < self.chainage.start * self.chainage.unit - self.chainage.step / 2:
            raise SurfaceError(
                "start",
                say(
                    "start {print} is not allowed: the asset begins at {print_2}",
                    print=self.chainage.print(self.start),
                    print_2=self.chainage.print(self.chainage.start * self.chainage.unit),
                ),
            )
        one_of("face", self.face, "outside", "inside")

    @classmethod
    def from_json(cls, json: Mapping[str, Any], face: str, chainage: Chainage) -> Pipe:
        """The pipe of `{"diameter" and/or "circumference", "start", "end"}`, in metres.

        Raises
        ------
        SurfaceError
            Naming the field that is missing, unknown, no number or out of range.
        """
        check_names(say("a pipe"), json, ("start", "end"), ("diameter", "circumference"))
        check_numbers(json, tuple(json))
        return cls(**json, face=face, chainage=chainage)

    def to_json(self) -> dict[str, Any]:
        sizes = {"diameter": self.diameter, "circumference": self.circumference}
        return {name: size for name, size in sizes.items() if size is not None} | {
            "start": self.start,
            "end": self.end,
        }

    @cached_property
    def period(self) -> float:
        return length_around(self.diameter, self.circumference)

    @property
    def area(self) -> float:
        return (self.end - self.start) * self.period

    @cached_property
    def outline(self) -> Polygon:
        return shapely.box(self.start, 0.0, self.end, self.period)

    @property
    def stretch_length(self) -> float:  # type: ignore[override]
        return 25.0

    @property
    def seen_from(self) -> str:
        if self.face == "outside":
            return say("Outside face, as seen standing at the 3 o'clock side, chainage to the right")
        return say("Inside face, as seen from inside facing the 9 o'clock side, chainage to the right")

    def to_view(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Right and down (m): down the page 12-3-6-9-12 outside, 12-9-6-3-12 inside; the seam stays at the edges."""
        y = np.asarray(y, dtype=float)
        return np.asarray(x, dtype=float), y if self.face == "outside" else self.period - y

    def from_view(self, right: ArrayLike, down: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        down = np.asarray(down, dtype=float)
        y = down if self.face == "outside" else self.period - down
        return np.asarray(right, dtype=float), np.mod(y, self.period)

    def limits_text(self) -> str:
        return say("{ends}, both ends included, all clock positions", ends=self._ends())

    def _ends(self) -> str:
        return f"{self.chainage.print(self.start)} to {self.chainage.print(self.end)}"

    def read_along(self, text: str, anywhere: bool = False) -> float:
        """x of a spoken chainage; one within half a printed step beyond an end of the zone is that end.

        Raises
        ------
        PositionError
            When it cannot be read or lies off the zone (unless `anywhere`).
        """
        x = onto_zone(self.chainage.read(text), self.start, self.end, self.chainage)
        if not (anywhere or self.start <= x <= self.end):
            raise PositionError(
                say(
                    "chainage {quote} is off this zone: it runs {limits_text}",
                    quote=quote(text),
                    limits_text=self.limits_text(),
                )
            )
        return x

    def read_place(self, text: str, anywhere: bool = False) -> Place:
        """The place of `1+250.40 @ 4:30:00`; a comma and a space may stand for the @.

        Raises
        ------
        PositionError
            When either part cannot be read, or it lies off the zone (unless `anywhere`).

        Examples
        --------
        >>> Pipe(start=1000, end=1500, circumference=2.4).read_place("1+250.40 @ 3:00")
        Place(x=1250.4, y=0.6)
        """
        plain = plain_text(text)
        parts = plain.split("@") if "@" in plain else plain.split(", ")
        if len(parts) != 2:
            raise PositionError(
                say(
                    "position {quote} cannot be read: write chainage @ clock, like {example_place}",
                    quote=quote(text),
                    example_place=self._example_place(),
                )
            )
        along, clock = (part.strip() for part in parts)
        return Place(self.read_along(along, anywhere), read_clock(clock) * self.period)

    def _example_place(self) -> str:
        return self.print_place((self.start + self.end) / 2, 0.375 * self.period)

    def print_place(self, x: float, y: float) -> str:
        return f"{self.chainage.print(x)} @ {print_clock(y / self.period)}"

    def read_region(self, text: str) -> Areal:
        """The folded shape of a spoken stretch; what of it lies off the zone counts nowhere.

        Reads `1+084.00 to 1+096.00` (full round), `1+084.00 to 1+096.00, 9:00 to 2:00` (clockwise from the first to the
        second clock; twice the same clock is the full round), `1+084.00 to 1+096.00, lane 3 of 8, 0.45 m wide` and
        `whole zone`.

        Raises
        ------
        PositionError
            When it cannot be read, has no length, or lies off the zone altogether.
        """
        plain = plain_text(text)
        if plain.lower() == WHOLE_ZONE:
            return self.outline
        along, *rest = (part.strip() for part in plain.split(", "))
        ends = re.split(r" to ", along, flags=re.IGNORECASE)
        if len(ends) != 2:
            raise self._unreadable(text)
        low, high = sorted(to_ends(self.chainage.read(end), (self.start, self.end), self.chainage) for end in ends)
        if high - low < NOISE:
            raise PositionError(say("stretch {quote} has no length: its ends must differ", quote=quote(text)))
        if low >= self.end or high <= self.start:
            raise PositionError(
                say(
                    "stretch {quote} is off this zone: it runs {limits_text}",
                    quote=quote(text),
                    limits_text=self.limits_text(),
                )
            )
        first, second = self._read_across(rest, text)
        return self.fold(shapely.box(low, first, high, second))

    def _read_across(self, rest: list[str], text: str) -> tuple[float, float]:
        if not rest:
            return 0.0, self.period
        if len(rest) == 1:
            clocks = re.split(r" to ", rest[0], flags=re.IGNORECASE)
            if len(clocks) != 2:
                raise self._unreadable(text)
            first, second = (read_clock(clock) * self.period for clock in clocks)
            return first, second if second > first else second + self.period
        lane = take_lane(rest, self.chainage, text)
        if lane is None or rest:
            raise self._unreadable(text)
        return lane.band(self.period, closed=True)

    def _unreadable(self, text: str) -> PositionError:
        ends = self._ends()
        return PositionError(
            say(
                'stretch {quote} cannot be read: write it like "{ends}", "{ends}, 9:00 to 2:00", '
                '"{ends}, lane 3 of 8, {print_length} wide" or "{whole_zone}"',
                quote=quote(text),
                ends=ends,
                print_length=self.chainage.print_length(0.45),
                whole_zone=WHOLE_ZONE,
            )
        )

    def print_region(self, low: float, high: float, across: Sector | Lane | None = None) -> str:
        """What `read_region` reads, of x from `low` to `high` (m): the full round, a sector or a lane."""
        along = f"{self.chainage.print(low)} to {self.chainage.print(high)}"
        if across is None:
            return along
        if isinstance(across, Lane):
            return f"{along}, {across.said}"
        first, second = (round(y / self.period * CLOCK_STEPS) for y in across)
        if first == second and across.first != across.second:
            second += 1  # twice the same clock would be read as the full round
        return f"{along}, {print_clock(first / CLOCK_STEPS)} to {print_clock(second / CLOCK_STEPS)}"

    def describe_region(self, geometry: Areal) -> str:
        """The smallest spoken stretch that contains the shape, each end printed outwards to its step.

        Raises
        ------
        PositionError
            For an empty shape.
        """
        if geometry.is_empty:
            raise PositionError(say("an empty shape has no place: give a shape with an area"))
        low, high = geometry.bounds[0::2]
        outwards = self.chainage.step / 2 - NOISE
        along = f"{self.chainage.print(low - outwards)} to {self.chainage.print(high + outwards)}"
        span = self.span(geometry)
        if span is None:
            return along
        first = math.floor(span[0] / self.period * CLOCK_STEPS + NOISE)
        second = math.ceil(span[1] / self.period * CLOCK_STEPS - NOISE)
        if second - first >= CLOCK_STEPS:
            return along
        return f"{along}, {print_clock(first / CLOCK_STEPS)} to {print_clock(second / CLOCK_STEPS)}"
