"""Plates, bays and stretches of a zone, and what is marked on each while sweeping: its lanes, or itself. No Django."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from accounts.wording import say
from mapping.axes import Gridline, print_gridline, spoken
from mapping.lanes import Lane, lanes
from mapping.positions import PositionError
from mapping.surfaces.deck import Deck
from mapping.surfaces.plane import WHOLE_ZONE, Sector, Surface
from mapping.surfaces.polar import Polar
from mapping.surfaces.strake import Strake

SECTORS = 12
"""Into how many sectors a surface without lanes or seams is divided for marking."""

FEWEST_SEAMS = 4
"""Fewer seams than these divide a surface without lanes into stretches too large for one press."""


class Bay(NamedTuple):
    """Ground that is swept lane by lane: its name, how it is said, and metres across where lanes count on it alone."""

    name: str
    said: str
    across: float | None = None


class Strip(NamedTuple):
    """What one press marks: how it is said, its short name, and which band of the bay it is in words."""

    said: str
    name: str
    band: str


def bays_between(surface: Surface, cuts: Sequence[tuple[str, Gridline]]) -> list[Bay]:
    """The bays of a zone: its own plates or the bays of its grid, else from cut to cut (name, line); else the whole zone.

    Cuts are lines across the lanes: girth welds of a pipe, vertical seams of a strake, radial seams of a roof.
    """
    if isinstance(surface, Strake) and surface.plates:
        count = len(surface.plates)
        return [Bay(say("plate {number}", number=number), f"plate {number}") for number in range(1, count + 1)]
    if isinstance(surface, Deck):
        return _grid(surface)
    across = sorted((line.at, name) for name, line in cuts if line.axis == 0)
    if surface.kind in ("pipe", "bend") or (surface.kind == "panel" and across):
        return _along(surface, across)
    if surface.kind == "disk" or (not across and surface.has_lanes):
        return [Bay(say("whole zone"), "")]
    return _around(surface, across)


def _from(name: str) -> str:
    return say("from {name}", name=name) if name else say("from the start")


def _along(surface: Surface, across: Sequence[tuple[float, str]]) -> list[Bay]:
    low, _, high, _ = surface.outline.bounds
    ends = [(low, ""), *((at, name) for at, name in across if low < at < high), (high, "")]
    return [Bay(_from(name), surface.print_region(at, end)) for (at, name), (end, _) in pairwise(ends)]


def _around(surface: Surface, across: Sequence[tuple[float, str]]) -> list[Bay]:
    """Sectors from seam to seam, all the way round."""
    if len(across) < (1 if surface.has_lanes else FEWEST_SEAMS):
        cuts = [(index / SECTORS, "") for index in range(SECTORS)]
    else:
        turn = 360.0 if isinstance(surface, Polar) or surface.kind == "sphere" else surface.period or 1.0
        cuts = sorted({at / turn % 1.0: name for at, name in across}.items())
    bays = []
    for (first, name), (second, _) in zip(cuts, [*cuts[1:], (cuts[0][0] + 1, "")], strict=True):
        if isinstance(surface, Polar):
            said = surface.print_region(surface.inner, surface.outer, Sector(first * 360, second * 360))
        else:
            said = surface.print_region(first * (surface.period or 1.0), second * (surface.period or 1.0))
        bays.append(Bay(say("from {name}", name=name) if name else said, said))
    return bays


def _grid(surface: Deck) -> list[Bay]:
    """Every bay of the lines that has ground, letter by letter."""
    bays = []
    for letter in surface.lettered.names:
        for number in surface.numbered.names:
            said = f"bay {letter}-{number}"
            try:
                surface.read_region(said)
            except ValueError:
                continue  # beyond the last line there is ground only under an outline that reaches so far
            _left, bottom, _right, top = surface.outline.bounds
            low, high = surface.numbered.bay(number, bottom, top, said)
            bays.append(Bay(said, said, high - low))
    return bays


def strips_of(surface: Surface, bay: Bay, electrode: float, overlap: float) -> list[Strip]:
    """What is marked on a bay with an electrode and an overlap (m): its lanes, or itself where there are none."""
    if not surface.has_lanes:
        return [Strip(bay.said or WHOLE_ZONE, bay.name, "")]
    strips = []
    own = set(surface.describe_region(surface.read_region(bay.said or WHOLE_ZONE)).split(", "))
    for said, lane in lanes_of(surface, bay, electrode, overlap):
        name = say("Lane {number} of {of}", number=lane.number, of=lane.of)
        try:
            strips.append(Strip(said, name, _band(surface, said, lane.low, lane.high, own)))
        except PositionError:
            continue  # a curved or skewed outline leaves no ground in this lane
    return strips


def lanes_of(surface: Surface, bay: Bay, electrode: float, overlap: float) -> Iterator[tuple[str, Lane]]:
    """The lanes of a bay, each with how it is said; a curved or skewed outline may leave no ground in some."""
    across = bay.across if bay.across is not None else surface
    for lane in lanes(across, electrode, overlap, chainage=surface.chainage):
        yield f"{bay.said}, {lane.said}" if bay.said else lane.said, lane


def _band(surface: Surface, said: str, low: float, high: float, own: set[str]) -> str:
    if isinstance(surface, Polar) and not surface.ring_lanes:
        measure = surface.chainage.print_measure
        low, high = (max(min(edge, surface.outer), -surface.outer) for edge in (low, high))
        side = say("towards azimuth 0") if low + high >= 0 else say("towards azimuth 180")
        near, far = sorted((abs(low), abs(high)))
        near = 0.0 if low < 0 < high else near
        return say(
            "{near} to {far} {unit} from the middle, {side}",
            near=measure(near),
            far=measure(far),
            unit=surface.chainage.unit_word,
            side=side,
        )
    region = surface.read_region(said)
    if isinstance(surface, Deck):
        _, low_y, _, high_y = region.bounds
        below, above = (print_gridline(surface, Gridline(1, spoken(surface, 0.0, y)[1])) for y in (low_y, high_y))
        return say("{low} to {high}", low=below, high=above)
    parts = surface.describe_region(region).split(", ")
    return ", ".join(part for part in parts if part not in own)
