"""The bridge deck: a grid of lettered and numbered lines under an outline that may be skewed or curved.

x runs across the lettered lines, y across the numbered ones. No Django.
"""

from __future__ import annotations

import math
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
from mapping.grid import Lines, letters_from
from mapping.lanes import Lane
from mapping.positions import Chainage, PositionError, quote
from mapping.surfaces.corners import LARGEST, Corner, outline_of, read_corner, stored_corner
from mapping.surfaces.plane import WHOLE_ZONE, Areal, Place, Sector, Surface, SurfaceError
from mapping.surfaces.sizes import check_names, number, one_of
from mapping.surfaces.spoken import NOISE, ends_of, outwards, parts_of, refuse_off, take_lane

_OFFSET = r"[+-] ?\d[\d.,]*(?: ?(?:mm|m|ft|in))?"
_SPOT = re.compile(rf"([a-z]{{1,3}}) ?-? ?(\d{{1,4}})(?: ?({_OFFSET}) ({_OFFSET}))?", re.ASCII | re.IGNORECASE)
_BAYS = re.compile(r"bays? (.+)", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class Deck(Surface):
    """A bridge deck.

    Parameters
    ----------
    letters, numbers : places of the lettered lines along x, and of the numbered ones along y, m, rising.
    first_letter, first_number : name of the first line of each.
    skip : letters that are left out, such as "IO".
    numbers_run : "up" or "down" the page, seen from above, with letters running right: the handedness.
    corners : the outline over the grid; left out, it is that of the outer lines.
    viewed : from "above" or "below".
    face : "outside" or "inside".
    chainage : how the asset writes lengths.
    """

    kind: ClassVar[str] = "deck"

    letters: tuple[float, ...]
    numbers: tuple[float, ...]
    first_letter: str = "A"
    first_number: int = 1
    skip: str = ""
    numbers_run: str = "up"
    corners: tuple[Corner, ...] = ()
    viewed: str = "above"
    face: str = "outside"
    chainage: Chainage = field(default_factory=Chainage)

    def __post_init__(self) -> None:
        for name, at in (("letters", self.letters), ("numbers", self.numbers)):
            if len(at) < 2 or not all(abs(place) <= LARGEST for place in at):
                raise SurfaceError(
                    name,
                    say(
                        "{name} {at!r} is not allowed: the places of two lines or more, in metres",
                        name=name,
                        at=list(at),
                    ),
                )
            if any(second - first < 0.1 for first, second in pairwise(at)):
                raise SurfaceError(
                    name, say("{name} {at!r} is not allowed: rising, at least 0.1 m apart", name=name, at=list(at))
                )
        one_of("skip", self.skip, "", "I", "O", "IO")
        if not (isinstance(self.first_number, int) and 0 <= self.first_number <= 9000):
            raise SurfaceError(
                "first_number",
                say("first_number {first_number!r} is not allowed: 0 to 9000", first_number=self.first_number),
            )
        one_of("numbers_run", self.numbers_run, "up", "down")
        one_of("viewed", self.viewed, "above", "below")
        one_of("face", self.face, "outside", "inside")
        try:
            names = letters_from(self.first_letter, len(self.letters), self.skip)
        except ValueError as error:
            raise SurfaceError("first_letter", say("first_letter {error}", error=error)) from error
        if len(names[-1]) > 3:
            raise SurfaceError(
                "letters", say("letters run to {names}: names of up to three letters are allowed", names=names[-1])
            )
        shape = self.outline
        if not shape.is_valid or shape.area < 0.01:
            raise SurfaceError(
                "corners", say("corners do not go around one piece of ground: give them in order, uncrossed")
            )

    @classmethod
    def from_json(cls, json: Mapping[str, Any], face: str, chainage: Chainage) -> Deck:
        """The deck of its stored form, in metres.

        `{"letters": [0, 6.1, 12.2], "numbers": [0, 4], "first_letter": "A", "first_number": 1, "skip": "IO",
        "numbers_run": "up", "corners": [[0, 0], [12.2, 0], {"through": [13, 2], "to": [12.2, 4]}, [0, 4]],
        "viewed": "above"}`; only the first two are needed.

        Raises
        ------
        SurfaceError
            Naming the field that is missing, unknown, no number or out of range.
        """
        optional = ("first_letter", "first_number", "skip", "numbers_run", "corners", "viewed")
        check_names(say("a deck"), json, ("letters", "numbers"), optional)
        sizes = dict(json)
        for name in ("letters", "numbers"):
            if not isinstance(json[name], list):
                raise SurfaceError(
                    name, say("{name} {json!r} is not allowed: a list of places in metres", name=name, json=json[name])
                )
            sizes[name] = tuple(number(name, place) for place in json[name])
        if not isinstance(json.get("first_letter", ""), str):
            raise SurfaceError(
                "first_letter",
                say("first_letter {first_letter!r} is not allowed: letters", first_letter=json["first_letter"]),
            )
        if isinstance(json.get("first_number"), bool):
            raise SurfaceError(
                "first_number",
                say("first_number {first_number!r} is not allowed: a whole number", first_number=json["first_number"]),
            )
        corners = json.get("corners") or []
        if not isinstance(corners, list):
            raise SurfaceError("corners", say("corners {corners!r} is not allowed: a list", corners=corners))
        sizes["corners"] = tuple(read_corner(corner) for corner in corners)
        return cls(**sizes, face=face, chainage=chainage)

    def to_json(self) -> dict[str, Any]:
        stored: dict[str, Any] = {
            "letters": list(self.letters),
            "numbers": list(self.numbers),
            "first_letter": self.first_letter,
            "first_number": self.first_number,
            "skip": self.skip,
            "numbers_run": self.numbers_run,
            "viewed": self.viewed,
        }
        if self.corners:
            stored["corners"] = [stored_corner(corner) for corner in self.corners]
        return stored

    @property
    def period(self) -> float | None:
        return None

    @cached_property
    def outline(self) -> Polygon:
        if not self.corners:
            return shapely.box(self.letters[0], self.numbers[0], self.letters[-1], self.numbers[-1])
        return outline_of(self.corners)

    @property
    def area(self) -> float:
        return float(self.outline.area)

    @cached_property
    def lettered(self) -> Lines:
        return Lines(letters_from(self.first_letter, len(self.letters), self.skip), self.letters)

    @cached_property
    def numbered(self) -> Lines:
        names = (str(self.first_number + step) for step in range(len(self.numbers)))
        return Lines(tuple(names), self.numbers)

    @property
    def seen_from(self) -> str:
        way = say(
            "letters to the {more}, numbers {numbers_run} the page",
            more="right" if self.viewed == "above" else "left",
            numbers_run=self.numbers_run,
        )
        return say("As seen from {viewed}, {way}", viewed=self.viewed, way=way)

    def to_view(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Right and down (m): letters to the right from above, mirrored from below; numbers up or down as stated."""
        x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
        return x if self.viewed == "above" else -x, -y if self.numbers_run == "up" else y

    def from_view(self, right: ArrayLike, down: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return self.to_view(right, down)

    def limits_text(self) -> str:
        (a, b), (c, d) = ((lines.names[0], lines.names[-1]) for lines in (self.lettered, self.numbered))
        past = say(", past the outer lines up to the outline") if self.corners else say(", both ends included")
        return say("lines {a} to {b} and {c} to {d}{past}", a=a, b=b, c=c, d=d, past=past)

    def read_place(self, text: str, anywhere: bool = False) -> Place:
        """The place of `C-7 +0.40 +1.10`; without offsets it is the crossing of the lines.

        Raises
        ------
        PositionError
            When it cannot be read, an offset leaves its bay, or it lies off the zone (unless `anywhere`).

        Examples
        --------
        >>> Deck(letters=(0, 6, 12), numbers=(0, 4)).read_place("B-1 +0.40 +1.10")
        Place(x=6.4, y=1.1)
        """
        parts = parts_of(text)
        spot = _SPOT.fullmatch(parts[0]) if len(parts) == 1 else None
        if spot is None:
            raise PositionError(
                say(
                    "position {quote} cannot be read: write lines and offsets towards the next lines, "
                    "like {print_place}",
                    quote=quote(text),
                    print_place=self.print_place(*self.outline.representative_point().coords[0]),
                )
            )
        place = self._spot(spot, text)
        if anywhere:
            return place
        low_x, low_y, high_x, high_y = self.outline.bounds
        place = Place(
            min(max(place.x, low_x), high_x) if _near(place.x, low_x, high_x, self.chainage) else place.x,
            min(max(place.y, low_y), high_y) if _near(place.y, low_y, high_y, self.chainage) else place.y,
        )
        if self.outline.distance(shapely.Point(place)) > self.chainage.step / math.sqrt(2) + NOISE:
            raise refuse_off("position", text, self.limits_text())
        return place

    def _spot(self, spot: re.Match[str], text: str) -> Place:
        letter, line, right, up = spot.groups()
        dx, dy = (self.chainage.read_measure(offset) if offset else 0.0 for offset in (right, up))
        x = self.lettered.read(letter.upper(), dx, self.chainage, text)
        return Place(x, self.numbered.read(str(int(line)), dy, self.chainage, text))

    def print_place(self, x: float, y: float) -> str:
        letter, right = self.lettered.print(x, self.chainage)
        line, up = self.numbered.print(y, self.chainage)
        return f"{letter}-{line} {right} {up}"

    def read_region(self, text: str) -> Areal:
        """The shape of a spoken stretch.

        Reads `bay C-7`, `bays C-7 to D-9` (both included), `C-7 to D-9` (from place to place, offsets allowed), each
        perhaps with `lane 2 of 6, 0.45 m wide`, a lane alone, and `whole zone`. A bay is the ground whose places are
        named from that crossing. Lanes run along x and count across what is named before them, or the whole deck.

        Raises
        ------
        PositionError
            When it cannot be read, has no ground, or lies off the zone altogether.
        """
        parts = parts_of(text)
        if [part.lower() for part in parts] == [WHOLE_ZONE]:
            return self.outline
        lane = take_lane(parts, self.chainage, text)
        if len(parts) > 1 or not (parts or lane):
            raise self._unreadable(text)
        low_x, low_y, high_x, high_y = self._rectangle(parts[0], text) if parts else self.outline.bounds
        if lane is not None:
            near, far = lane.band(high_y - low_y)
            low_y, high_y = low_y + near, low_y + far
        if high_x - low_x < NOISE or high_y - low_y < NOISE:
            raise PositionError(
                say(
                    "stretch {quote} has no ground: it runs {limits_text}",
                    quote=quote(text),
                    limits_text=self.limits_text(),
                )
            )
        region = self.fold(shapely.box(low_x, low_y, high_x, high_y))
        if region.is_empty:
            raise refuse_off("stretch", text, self.limits_text())
        return region

    def _rectangle(self, part: str, text: str) -> tuple[float, float, float, float]:
        bays = _BAYS.fullmatch(part)
        spots = [_SPOT.fullmatch(end) for end in ends_of(bays[1] if bays else part)]
        if len(spots) > 2 or None in spots or not (bays or len(spots) == 2):
            raise self._unreadable(text)
        if bays:
            low_x, low_y, high_x, high_y = self.outline.bounds
            found = []
            for spot in spots:
                if spot is None or spot[3]:
                    raise self._unreadable(text)
                found.append(
                    (
                        *self.lettered.bay(spot[1].upper(), low_x, high_x, text),
                        *self.numbered.bay(str(int(spot[2])), low_y, high_y, text),
                    )
                )
            a, b, c, d = zip(*found, strict=True)
            return min(a), min(c), max(b), max(d)
        places = [self._spot(spot, text) for spot in spots if spot]
        xs, ys = zip(*places, strict=True)
        return min(xs), min(ys), max(xs), max(ys)

    def _unreadable(self, text: str) -> PositionError:
        first = f"{self.lettered.names[0]}-{self.numbered.names[0]}"
        last = f"{self.lettered.names[-1]}-{self.numbered.names[-1]}"
        return PositionError(
            say(
                'stretch {quote} cannot be read: write it like "bay {first}", "{first} to {last}", '
                '"bay {first}, lane 2 of 6, {print_length} wide" or "{whole_zone}"',
                quote=quote(text),
                first=first,
                last=last,
                print_length=self.chainage.print_length(0.45),
                whole_zone=WHOLE_ZONE,
            )
        )

    def print_region(self, low: float, high: float, across: Sector | Lane | None = None) -> str:
        """What `read_region` reads, of x from `low` to `high` (m): all across, y from and to (m), or a lane."""
        low_x, low_y, high_x, high_y = self.outline.bounds
        first, second = across if isinstance(across, Sector) else (low_y, high_y)
        whole = low <= low_x + NOISE and high >= high_x - NOISE
        said = [] if whole and not isinstance(across, Sector) else [self._corners(low, first, high, second)]
        if isinstance(across, Lane):
            said.append(across.said)
        return ", ".join(said) or WHOLE_ZONE

    def _corners(self, low_x: float, low_y: float, high_x: float, high_y: float) -> str:
        return f"{self.print_place(low_x, low_y)} to {self.print_place(high_x, high_y)}"

    def describe_region(self, geometry: Areal) -> str:
        """The smallest rectangle from place to place that contains the shape, printed outwards to its step.

        Raises
        ------
        PositionError
            For an empty shape.
        """
        if geometry.is_empty:
            raise PositionError(say("an empty shape has no place: give a shape with an area"))
        if np.allclose(geometry.bounds, self.outline.bounds, rtol=0, atol=NOISE):
            return WHOLE_ZONE
        low_x, low_y, high_x, high_y = geometry.bounds
        (left, right), (near, far) = (outwards(*ends, self.chainage) for ends in ((low_x, high_x), (low_y, high_y)))
        return self._corners(left, near, right, far)


def _near(value: float, low: float, high: float, chainage: Chainage) -> bool:
    return low - chainage.step / 2 - NOISE <= value <= high + chainage.step / 2 + NOISE
