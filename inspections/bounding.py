"""How far a failed thickness area reaches: spots in eight directions until two in a row conform.

SSPC-PA 2, from memory: a spot every 1.5 m (5 ft); a direction ends at the first of the two conforming spots.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import cos, isfinite, pi, sin
from typing import NamedTuple

from accounts.wording import noted, say

# Directions on the surface as its plane is stored: "right" is +x, "up" is +y; each with its angle in eighths of a turn.
DIRECTIONS = {
    noted("right"): 0,
    noted("right and up"): 1,
    noted("up"): 2,
    noted("left and up"): 3,
    noted("left"): 4,
    noted("left and down"): 5,
    noted("down"): 6,
    noted("right and down"): 7,
}
STEP_M = {"metric": 1.5, "customary": 5 * 0.3048}
SOURCE = noted("SSPC-PA 2, from memory")


@dataclass(frozen=True)
class Ray:
    """Spot means (um) along one direction, outwards, one a step; `edge_m` is where the surface ends, None if it does not."""

    spots_um: tuple[float, ...] = ()
    edge_m: float | None = None


class Reach(NamedTuple):
    """How far the failed area reaches one way.

    ends_m : where it ends; None while not known. next_m : where the next spot is to be taken; None when known.
    """

    direction: str
    ends_m: float | None
    next_m: float | None
    sentence: str


@dataclass(frozen=True)
class Bounding:
    """The eight directions; `corners_m` are the ends as offsets (x, y) from the failed area, once all are known."""

    reaches: tuple[Reach, ...]
    corners_m: tuple[tuple[float, float], ...] | None
    source: str = SOURCE

    @property
    def is_bounded(self) -> bool:
        return self.corners_m is not None


def bound(
    rays: Mapping[str, Ray], low_um: float | Fraction, high_um: float | Fraction | None, *, system: str = "metric"
) -> Bounding:
    """Return how far a failed area reaches in each of the eight directions, and where the next spots are to be taken.

    Parameters
    ----------
    rays : by direction (a key of DIRECTIONS); a direction left out has no spot yet.
    low_um, high_um : the range a spot mean conforms in, um, ends included (see `thickness.spot_range`); None: no maximum.
    system : "metric" (1.5 m) or "customary" (5 ft).

    Raises ValueError naming the argument, its value and what is allowed.
    """
    if system not in STEP_M:
        raise ValueError(f'system is "{system}"; it must be metric or customary')
    for direction in rays:
        if direction not in DIRECTIONS:
            raise ValueError(f'rays names "{direction}"; it must be one of: {", ".join(DIRECTIONS)}')
    if high_um is not None and high_um < low_um:
        raise ValueError(f"high_um is {high_um}; it must not be below low_um, {low_um}")
    low, high = Fraction(str(low_um)), None if high_um is None else Fraction(str(high_um))
    reaches = tuple(_reach(name, rays.get(name, Ray()), low, high, STEP_M[system]) for name in DIRECTIONS)
    return Bounding(reaches, _corners(reaches))


def _reach(direction: str, ray: Ray, low: Fraction, high: Fraction | None, step: float) -> Reach:
    if ray.edge_m is not None and not (isfinite(ray.edge_m) and ray.edge_m >= 0):
        raise ValueError(f"edge_m is {ray.edge_m} ({direction}); it must be from 0 m up")
    conform = [_conforms(spot, low, high, direction) for spot in ray.spots_um]
    for at, pair in enumerate(zip(conform, conform[1:], strict=False), 1):
        if all(pair):
            ends = round(at * step, 4)
            sentence = say(
                "{direction}: ends at {ends:g} m, the first of two conforming spots.",
                direction=say(direction),
                ends=ends,
            )
            return Reach(direction, ends, None, sentence)
    ahead = round((len(conform) + 1) * step, 4)
    if ray.edge_m is not None and ahead > ray.edge_m:
        sentence = say(
            "{direction}: reaches the edge of the surface at {edge:g} m.", direction=say(direction), edge=ray.edge_m
        )
        return Reach(direction, ray.edge_m, None, sentence)
    sentence = say("{direction}: take a spot at {ahead:g} m.", direction=say(direction), ahead=ahead)
    return Reach(direction, None, ahead, sentence)


def _conforms(spot_um: float, low: Fraction, high: Fraction | None, direction: str) -> bool:
    if not (isfinite(spot_um) and spot_um >= 0):
        raise ValueError(f"spots_um holds {spot_um} ({direction}); a spot mean is a number from 0 um up")
    spot = Fraction(str(spot_um))
    return low <= spot and (high is None or spot <= high)


def _corners(reaches: Sequence[Reach]) -> tuple[tuple[float, float], ...] | None:
    corners = []
    for reach in reaches:
        if reach.ends_m is None:
            return None
        angle = DIRECTIONS[reach.direction] * pi / 4
        corners.append((reach.ends_m * cos(angle), reach.ends_m * sin(angle)))
    return tuple(corners)
