"""How a zone is divided into lanes for sweeping, and the least time the sweep can take. No Django."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from accounts.wording import say
from mapping.positions import Chainage

if TYPE_CHECKING:
    from mapping.surfaces.plane import Surface

ROUNDING = 1e-9


class Lane(NamedTuple):
    """One lane: `low` and `high` (m across) may reach over the seam or the zone's edge; `said` is how it is spoken."""

    number: int
    of: int
    low: float
    high: float
    said: str


def lane_count(width: float, electrode: float, overlap: float = 0.0, *, closed: bool) -> int:
    """Lanes needed to sweep a width (m) with an electrode and an overlap between lanes (m).

    Open edges: ceil((width - overlap) / (electrode - overlap)), at least 1. A closed ring of that circumference:
    ceil(circumference / (electrode - overlap)), 1 if the electrode spans it.

    Raises
    ------
    ValueError
        For a width or electrode not above 0, or an overlap outside 0 to below the electrode.
    """
    for name, value in (("width", width), ("electrode", electrode)):
        if not (math.isfinite(value) and value > 0):
            raise ValueError(say("{name} {value!r} is not allowed: metres above 0", name=name, value=value))
    if not 0 <= overlap < electrode:
        raise ValueError(
            say(
                "overlap {overlap!r} is not allowed: 0 to below the electrode's {electrode:g} m",
                overlap=overlap,
                electrode=electrode,
            )
        )
    if electrode >= width:
        return 1
    steps = width if closed else width - overlap
    return max(1, math.ceil(steps / (electrode - overlap) - ROUNDING))


def lane_band(number: int, of: int, width: float, electrode: float, *, closed: bool) -> tuple[float, float]:
    """Low and high side (m across) of lane `number`, counted from 1; electrode-wide.

    On a ring each band is centred on its equal share and may reach over the seam. Between open edges the first and
    last are flush with the edges and the rest evenly spaced, so that every overlap is the same.

    Raises
    ------
    ValueError
        For a lane number that is not 1 to `of`.
    """
    if not 1 <= number <= of:
        raise ValueError(
            say(
                "lane {number} of {of} is not allowed: lanes count from 1 to {of_2}",
                number=number,
                of=of,
                of_2=max(of, 1),
            )
        )
    if closed:
        centre = (number - 0.5) * width / of
    elif of == 1:
        centre = width / 2
    else:
        centre = electrode / 2 + (number - 1) * max(width - electrode, 0.0) / (of - 1)
    return centre - electrode / 2, centre + electrode / 2


def lanes(
    across: Surface | float,
    electrode: float,
    overlap: float = 0.0,
    closed: bool = False,
    chainage: Chainage | None = None,
) -> list[Lane]:
    """The lanes that sweep a surface, or a plain width in metres (which says whether it is `closed`).

    Raises
    ------
    ValueError
        As `lane_count`.
    """
    origin = 0.0
    if isinstance(across, (int, float)):
        width, measure = float(across), chainage or Chainage()
    else:
        width, closed, measure = across.across, across.closed, across.chainage
        origin = across.lanes_from
    of = lane_count(width, electrode, overlap, closed=closed)
    wide = f"{measure.print_length(electrode)} wide"
    bands = [lane_band(number, of, width, electrode, closed=closed) for number in range(1, of + 1)]
    return [
        Lane(
            number,
            of,
            origin + low,
            origin + high,
            f"lane {number} of {of}, {wide}",
        )
        for number, (low, high) in enumerate(bands, 1)
    ]


def sweep_seconds(count: int, length: float, speed: float) -> float:
    """Seconds to sweep `count` lanes of `length` (m) at `speed` (m/s); turning is not counted."""
    return count * length / _moving(speed)


def least_seconds(area: float, electrode: float, speed: float) -> float:
    """Least possible seconds to sweep an area (m2) with an electrode (m) at `speed` (m/s), without overlap."""
    if not electrode > 0:
        raise ValueError(say("electrode {electrode!r} is not allowed: metres above 0", electrode=electrode))
    return area / (electrode * _moving(speed))


def _moving(speed: float) -> float:
    if not (math.isfinite(speed) and speed > 0):
        raise ValueError(say("speed {speed!r} is not allowed: metres a second above 0", speed=speed))
    return speed
