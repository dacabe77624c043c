"""The strake (shell course) of a tank: azimuth around it, height above its lower edge, unrolled from the datum.

x is the arc clockwise seen from above from the azimuth datum, whichever face is swept; y the height above the lower
edge. No Django.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any, ClassVar

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon

from accounts.wording import say
from mapping.azimuth import print_azimuth, print_azimuths, read_azimuth, read_azimuths
from mapping.lanes import Lane
from mapping.positions import Chainage, PositionError, quote
from mapping.surfaces.plane import WHOLE_ZONE, Areal, Axis, Place, Sector, Surface, SurfaceError
from mapping.surfaces.sizes import check_around, check_names, check_numbers, length_around, number, one_of, within
from mapping.surfaces.spoken import (
    NOISE,
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

DIAMETERS = (0.5, 200.0)
HEIGHTS = (0.01, 50.0)

_STRAKE = re.compile(r"strake (\d{1,4})", re.ASCII | re.IGNORECASE)
_PLATE = re.compile(r"plate (\d{1,4})", re.ASCII | re.IGNORECASE)
_UP = re.compile(r"(.+?) up", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class Strake(Surface):
    """One strake.

    Parameters
    ----------
    number : counted from 1 at the bottom.
    height : m.
    diameter : m over the coating that is swept (outside face) or inside the lining (inside face).
    circumference : m as measured; where given it rules over pi * diameter, and the two must agree within 0.2 %.
    plates : azimuths in degrees of the vertical seams where plate 1, 2, ... begin, clockwise; may be left out.
    face : "outside" or "inside".
    chainage : how the asset writes lengths.
    """

    kind: ClassVar[str] = "strake"
    wrap_axis: ClassVar[Axis | None] = "x"

    number: int
    height: float
    diameter: float | None = None
    circumference: float | None = None
    plates: tuple[float, ...] = ()
    face: str = "inside"
    chainage: Chainage = field(default_factory=Chainage)

    def __post_init__(self) -> None:
        check_around(say("a strake"), self.diameter, self.circumference, *DIAMETERS)
        within("height", self.height, *HEIGHTS)
        if not (isinstance(self.number, int) and 1 <= self.number <= 999):
            raise SurfaceError(
                "number",
                say("number {number!r} is not allowed: strakes count from 1 at the bottom", number=self.number),
            )
        one_of("face", self.face, "outside", "inside")
        for azimuth in self.plates:
            within("plates", azimuth, 0.0, 360.0, "deg")
        turns = [(second - first) % 360 for first, second in pairwise((*self.plates, *self.plates[:1]))]
        if len(self.plates) > 1 and (min(turns) <= 0 or abs(sum(turns) - 360) > NOISE):
            raise SurfaceError(
                "plates",
                say(
                    "plates {plates!r} is not allowed: the azimuths of the vertical seams, each once, clockwise",
                    plates=list(self.plates),
                ),
            )

    @classmethod
    def from_json(cls, json: Mapping[str, Any], face: str, chainage: Chainage) -> Strake:
        """The strake of `{"number", "height", "diameter" and/or "circumference", "plates"}`, metres and degrees.

        Raises
        ------
        SurfaceError
            Naming the field that is missing, unknown, no number or out of range.
        """
        check_names(say("a strake"), json, ("number", "height"), ("diameter", "circumference", "plates"))
        check_numbers(json, ("number", "height", "diameter", "circumference"))
        plates = json.get("plates") or []
        if not isinstance(plates, list):
            raise SurfaceError(
                "plates", say("plates {plates!r} is not allowed: a list of azimuths in degrees", plates=plates)
            )
        sizes = {**json, "plates": tuple(number("plates", azimuth, "degrees") for azimuth in plates)}
        return cls(**sizes, face=face, chainage=chainage)

    def to_json(self) -> dict[str, Any]:
        sizes = {"diameter": self.diameter, "circumference": self.circumference}
        return {
            "number": self.number,
            "height": self.height,
            **{name: size for name, size in sizes.items() if size is not None},
            **({"plates": list(self.plates)} if self.plates else {}),
        }

    @cached_property
    def period(self) -> float:
        return length_around(self.diameter, self.circumference)

    @property
    def area(self) -> float:
        return self.period * self.height

    @cached_property
    def outline(self) -> Polygon:
        return shapely.box(0.0, 0.0, self.period, self.height)

    @property
    def seen_from(self) -> str:
        if self.face == "inside":
            return say("Inside face, as seen standing inside the tank, azimuth to the right")
        return say("Outside face, as seen standing outside the tank, azimuth to the left")

    def to_view(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Right and down (m): azimuth to the right inside, to the left outside; the datum stays at the edges."""
        x = np.asarray(x, dtype=float)
        return x if self.face == "inside" else self.period - x, self.height - np.asarray(y, dtype=float)

    def from_view(self, right: ArrayLike, down: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        right = np.asarray(right, dtype=float)
        x = right if self.face == "inside" else self.period - right
        return np.mod(x, self.period), self.height - np.asarray(down, dtype=float)

    def limits_text(self) -> str:
        return say(
            "strake {number}, all azimuths, {print_measures} up",
            number=self.number,
            print_measures=print_measures(0.0, self.height, self.chainage),
        )

    def read_place(self, text: str, anywhere: bool = False) -> Place:
        """The place of `strake 3, 127.5 deg, 1.20 m up`; the strake may be left out, but not be another one.

        Raises
        ------
        PositionError
            When a part cannot be read, or it lies off the zone (unless `anywhere`).

        Examples
        --------
        >>> Strake(number=3, height=2.4, circumference=40).read_place("strake 3, 90 deg, 1.20 m up")
        Place(x=10.0, y=1.2)
        """
        parts = self._without_strake(text)
        up = _UP.fullmatch(parts[-1])
        if len(parts) != 2 or up is None:
            raise PositionError(
                say(
                    "position {quote} cannot be read: write strake, azimuth, height, like {print_place}",
                    quote=quote(text),
                    print_place=self.print_place(self.period * 0.354, self.height / 2),
                )
            )
        x = read_azimuth(parts[0]) * self.period
        y = onto_zone(self.chainage.read_measure(up[1]), 0.0, self.height, self.chainage)
        if not (anywhere or 0.0 <= y <= self.height):
            raise refuse_off("position", text, self.limits_text())
        return Place(x, y)

    def _without_strake(self, text: str) -> list[str]:
        parts = parts_of(text)
        if said := _STRAKE.fullmatch(parts[0]):
            if int(said[1]) != self.number:
                raise PositionError(
                    say(
                        "{quote} names strake {said}: this zone is strake {number}",
                        quote=quote(text),
                        said=said[1],
                        number=self.number,
                    )
                )
            parts = parts[1:] or [""]
        return parts

    def print_place(self, x: float, y: float) -> str:
        height = f"{self.chainage.print_measure(y)} {self.chainage.unit_word}"
        return f"strake {self.number}, {print_azimuth(x / self.period)}, {height} up"

    def read_region(self, text: str) -> Areal:
        """The folded shape of a spoken stretch.

        Reads `20 deg to 75 deg` (clockwise from the first to the second; twice the same is the full round) or `plate 7`,
        then `0.00 to 1.20 m up` or `lane 2 of 6, 0.45 m wide`; either may be left out, the strake may be said before,
        and `whole zone`.

        Raises
        ------
        PositionError
            When it cannot be read, has no size, or lies off the zone altogether.
        """
        parts = self._without_strake(text)
        if [part.lower() for part in parts] == [WHOLE_ZONE]:
            return self.outline
        lane = take_lane(parts, self.chainage, text)
        low, high = lane.band(self.height) if lane else (0.0, self.height)
        if lane is None and parts and (up := _UP.fullmatch(parts[-1])):
            heights = read_measures(up[1], self.chainage, text)
            if heights is None:
                raise self._unreadable(text)
            low, high = (to_ends(height, (0.0, self.height), self.chainage) for height in heights)
            parts = parts[:-1]
            if low >= self.height or high <= 0:
                raise refuse_off("stretch", text, self.limits_text())
        elif lane is None and not parts:
            raise self._unreadable(text)
        if len(parts) > 1:
            raise self._unreadable(text)
        first, second = self._read_around(parts[0], text) if parts else (0.0, 1.0)
        return self.fold(shapely.box(first * self.period, low, second * self.period, high))

    def _read_around(self, part: str, text: str) -> tuple[float, float]:
        if plate := _PLATE.fullmatch(part):
            index = int(plate[1])
            if not 1 <= index <= len(self.plates):
                count = (
                    say("plates count from 1 to {count}", count=len(self.plates))
                    if self.plates
                    else say("its plates are not laid out")
                )
                raise PositionError(
                    say(
                        "{quote}: there is no plate {index} on this strake: {count}",
                        quote=quote(text),
                        index=index,
                        count=count,
                    )
                )
            first, second = self.plates[index - 1], self.plates[index % len(self.plates)]
            return first / 360, (second if second > first else second + 360) / 360
        around = read_azimuths(part)
        if around is None:
            raise self._unreadable(text)
        return around

    def _unreadable(self, text: str) -> PositionError:
        up = f"{print_measures(0.0, self.height, self.chainage)} up"
        wide = self.chainage.print_length(0.45)
        return PositionError(
            say(
                'stretch {quote} cannot be read: write it like "20 deg to 75 deg, {up}", "plate 7", '
                '"20 deg to 75 deg, lane 2 of 6, {wide} wide" or "{whole_zone}"',
                quote=quote(text),
                up=up,
                wide=wide,
                whole_zone=WHOLE_ZONE,
            )
        )

    def print_region(self, low: float, high: float, across: Sector | Lane | None = None) -> str:
        """What `read_region` reads, of x from `low` to `high` (m): the full height, a sector of heights or a lane."""
        said = []
        if high - low < self.period - NOISE:
            said.append(print_azimuths(low / self.period, high / self.period))
        if isinstance(across, Lane):
            said.append(across.said)
        elif across is not None:
            said.append(f"{print_measures(*across, self.chainage)} up")
        return ", ".join(said) or WHOLE_ZONE

    def describe_region(self, geometry: Areal) -> str:
        """The smallest spoken stretch that contains the shape, each end printed outwards to its step.

        Raises
        ------
        PositionError
            For an empty shape.
        """
        if geometry.is_empty:
            raise PositionError(say("an empty shape has no place: give a shape with an area"))
        said = []
        if (span := self.span(geometry)) and (
            around := azimuths_outwards(span[0] / self.period, span[1] / self.period)
        ):
            said.append(around)
        low, high = geometry.bounds[1::2]
        if low > NOISE or high < self.height - NOISE:
            said.append(f"{print_measures(*outwards(low, high, self.chainage), self.chainage)} up")
        return ", ".join(said) or WHOLE_ZONE
