"""What the spoken stretches of all surfaces share: their parts, lengths from and to, and lanes. No Django."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from accounts.wording import say
from mapping.azimuth import STEPS, print_azimuths
from mapping.lanes import lane_band
from mapping.positions import Chainage, PositionError, plain_text, quote

NOISE = 1e-6  # m: less than this is rounding

_LANE = re.compile(r"lane (\d{1,6}) of (\d{1,6})", re.ASCII | re.IGNORECASE)
_TRAILING_UNIT = re.compile(r"\d ?(mm|m|ft|in)$", re.ASCII | re.IGNORECASE)


class SaidLane(NamedTuple):
    """A lane as it was said; `electrode` is its width in metres."""

    number: int
    of: int
    electrode: float
    text: str

    def band(self, width: float, *, closed: bool = False) -> tuple[float, float]:
        """Low and high side (m) across a width, as `lane_band`. Raises PositionError for a number beyond the lanes."""
        try:
            return lane_band(self.number, self.of, width, self.electrode, closed=closed)
        except ValueError as error:
            raise PositionError(say("stretch {quote}: {error}", quote=quote(self.text), error=error)) from error


def parts_of(text: str) -> list[str]:
    """The parts of what was said, in plain text, between commas followed by a space."""
    return [part.strip() for part in plain_text(text).split(", ")]


def ends_of(part: str) -> list[str]:
    """What stands before and after each "to"."""
    return [end.strip() for end in re.split(r" to ", part, flags=re.IGNORECASE)]


def take_lane(parts: list[str], chainage: Chainage, text: str) -> SaidLane | None:
    """The lane that ends the parts (`lane 3 of 8`, `0.45 m wide`), taken off them; None where there is none."""
    if len(parts) < 2 or not parts[-1].lower().endswith(" wide"):
        return None
    lane = _LANE.fullmatch(parts[-2])
    if lane is None:
        return None
    electrode = chainage.read_length(parts[-1][: -len(" wide")])
    if electrode <= 0:
        raise PositionError(say("stretch {quote}: the lane's width must be above 0", quote=quote(text)))
    del parts[-2:]
    return SaidLane(int(lane[1]), int(lane[2]), electrode, text)


def read_measures(part: str, chainage: Chainage, text: str) -> tuple[float, float] | None:
    """Low and high (m) of `0.40 to 1.20 m`: a unit at the end goes for both; None where there is no single "to"."""
    ends = ends_of(part)
    if len(ends) != 2:
        return None
    if (unit := _TRAILING_UNIT.search(ends[1])) and not _TRAILING_UNIT.search(ends[0]):
        ends[0] += f" {unit[1]}"
    low, high = sorted(chainage.read_measure(end) for end in ends)
    if high - low < NOISE:
        raise PositionError(say("stretch {quote} has no width: its ends must differ", quote=quote(text)))
    return low, high


def print_measures(low: float, high: float, chainage: Chainage) -> str:
    """What `read_measures` reads, each end rounded to its step."""
    return f"{chainage.print_measure(low)} to {chainage.print_measure(high)} {chainage.unit_word}"


def outwards(low: float, high: float, chainage: Chainage) -> tuple[float, float]:
    """The ends (m) moved so that rounding them to their step goes outwards."""
    more = chainage.step / 2 - NOISE
    return low - more, high + more


def azimuths_outwards(first: float, second: float) -> str | None:
    """A sector (fractions of a turn) printed outwards to its step; None where that is the full turn."""
    low, high = math.floor(first * STEPS + NOISE), math.ceil(second * STEPS - NOISE)
    return print_azimuths(low / STEPS, high / STEPS) if high - low < STEPS else None


def to_ends(value: float, ends: tuple[float, ...], chainage: Chainage) -> float:
    """The end of a stretch (m), or the end of the zone that it means: one within half a printed step."""
    near = chainage.step / 2 + NOISE
    return next((end for end in ends if abs(value - end) <= near), value)


def onto_zone(value: float, low: float, high: float, chainage: Chainage) -> float:
    """The place (m), brought to the end of the zone where it lies at most half a printed step beyond it."""
    inside = min(max(value, low), high)
    return inside if abs(value - inside) <= chainage.step / 2 + NOISE else value


def refuse_off(what: str, text: str, limits: str) -> PositionError:
    """The refusal of what lies off the zone, with the zone's limits."""
    return PositionError(
        say("{what} {quote} is off this zone: it runs {limits}", what=what, quote=quote(text), limits=limits)
    )
