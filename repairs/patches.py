"""From flaw footprints to patches: which footprints are one patch, and whether spots are repaired or all is recoated.

Shapes are plane metres, cut at the seam where the surface closes on itself. No Django.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import Any, Literal, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from accounts.wording import noted, say
from mapping.density import AreaUnit, Exact, exact_area
from mapping.surfaces.plane import Areal, Surface

AreaBasis = Literal["flaw", "prepared", "patch"]
Windows = Literal["exact", "down", "up"]

TOUCH_M = 1e-6
# Growing by TOUCH_M makes a corner's contact at most about 3 TOUCH_M long; a longer one is an edge.
_CORNER_M = 4 * TOUCH_M


class Proposal(NamedTuple):
    """Ground proposed as one patch: the ids of its footprints, their union and its area (m2)."""

    ids: tuple[Hashable, ...]
    shape: Areal
    area: float


def merge(footprints: Sequence[tuple[Hashable, Areal]], surface: Surface | None = None) -> list[Proposal]:
    """Merge footprints that overlap or share an edge into patches; touching in a corner alone does not join.

    Parameters
    ----------
    footprints : (id, shape) pairs; a shape over the seam comes cut there, its parts at both sides of it.
    surface : what they lie on, where it may close on itself.

    Returns
    -------
    Proposals in the order of their first footprint, ids in the order given. Edges within 1 um count as shared.

    Raises
    ------
    ValueError for an id given twice or an empty shape.
    """
    ids = [name for name, _ in footprints]
    if len(set(ids)) < len(ids):
        raise ValueError(say("footprints hold an id twice; each must be given once"))
    shapes = np.array([shape for _, shape in footprints], dtype=object)
    for name, shape in footprints:
        if shape.is_empty or not shape.is_valid:
            raise ValueError(say("footprint {name} is empty or crosses itself; it must be a valid area", name=name))
    group = list(range(len(ids)))
    for one, other in _joined_pairs(shapes, surface):
        first, second = sorted((_root(group, one), _root(group, other)))
        group[second] = first
    members: dict[int, list[int]] = {}
    for index in range(len(ids)):
        members.setdefault(_root(group, index), []).append(index)
    return [_proposal([ids[i] for i in which], shapes[which]) for _, which in sorted(members.items())]


def _proposal(ids: Sequence[Hashable], shapes: NDArray[Any]) -> Proposal:
    union = shapely.union_all(shapes)
    return Proposal(tuple(ids), union, float(union.area))


def _joined_pairs(shapes: NDArray[Any], surface: Surface | None) -> Iterator[tuple[int, int]]:
    if not len(shapes):
        return
    yield from _contacts(shapes, shapes)
    if surface is not None and surface.has_seam:
        beyond, before = zip(*(surface.by_seam(shape) for shape in shapes), strict=True)
        yield from _contacts(np.array(beyond, dtype=object), np.array(before, dtype=object))


def _contacts(ones: NDArray[Any], others: NDArray[Any]) -> Iterator[tuple[int, int]]:
    """Pairs of indices that overlap or share an edge, not only a corner."""
    first, second = shapely.STRtree(others).query(ones, predicate="dwithin", distance=TOUCH_M)
    apart = first != second
    first, second = first[apart], second[apart]
    contact = shapely.intersection(shapely.buffer(ones[first], TOUCH_M, quad_segs=2), others[second])
    parts, pair = shapely.get_parts(contact, return_index=True)
    bounds = shapely.bounds(parts)
    long = np.hypot(bounds[:, 2] - bounds[:, 0], bounds[:, 3] - bounds[:, 1]) > _CORNER_M
    for index in np.unique(pair[long]):
        yield int(first[index]), int(second[index])


def _root(group: list[int], index: int) -> int:
    while group[index] != index:
        group[index] = group[group[index]]
        index = group[index]
    return index


@dataclass(frozen=True)
class RecoatRule:
    """When a specification asks for strip and recoat instead of spot repair.

    Parameters
    ----------
    area_percent : share of the testable area, reached at equality; None for no area rule.
    area_basis : which area is meant: the flaws', the prepared ground's or the finished patches'; None where the
        specification is silent.
    count, per, unit : more than `count` spots per `per` of unit, over the whole zone; count None for no count rule.
    windows : how many times `per` a zone holds: exact, rounded down, or up; None where the specification is silent.
    """

    area_percent: Exact | None = None
    area_basis: AreaBasis | None = None
    count: int | None = None
    per: Exact | None = None
    unit: AreaUnit = "m2"
    windows: Windows | None = None

    def __post_init__(self) -> None:
        if self.area_percent is None and self.count is None:
            raise ValueError(say("give area_percent or count; a rule without a limit decides nothing"))
        if self.count is not None and (self.per is None or Fraction(self.per) <= 0 or self.count < 0):
            raise ValueError(
                say(
                    "count is {count} per {per}; count must be from 0 up and per above 0",
                    count=self.count,
                    per=self.per,
                )
            )
        if self.area_percent is not None and Fraction(self.area_percent) <= 0:
            raise ValueError(say("area_percent is {area_percent}; it must be above 0", area_percent=self.area_percent))


class RepairGround(NamedTuple):
    """Spots (patches after merging) and their areas on a zone's testable area, in m2."""

    testable_m2: float
    spots: int
    flaw_m2: float
    prepared_m2: float
    patch_m2: float


class Reading(NamedTuple):
    """The rule under one reading: whether it asks for a recoat, with its arithmetic."""

    rule: Literal["area", "count"]
    reading: str
    recoat: bool
    arithmetic: str


class RecoatAnswer(NamedTuple):
    """verdict follows when all readings of the rules agree; else it depends on the reading, for people to settle."""

    verdict: Literal["spot repair", "recoat", "depends on the reading"]
    readings: tuple[Reading, ...]


_AREA_WORDS: dict[AreaBasis, str] = {
    "flaw": noted("area of the flaws"),
    "prepared": noted("prepared area"),
    "patch": noted("area of the finished patches"),
}
_WINDOW_WORDS: dict[Windows, str] = {
    "exact": noted("zone as it is"),
    "down": noted("windows rounded down"),
    "up": noted("windows rounded up"),
}


def spot_or_recoat(rule: RecoatRule, ground: RepairGround) -> RecoatAnswer:
    """Answer "spot repair or recoat" under each reading the specification leaves open.

    Areas are exact to 0.0001 of their unit. The area rule is reached at equality; the count rule asks for a recoat when
    spots are more than count times the windows. Either rule alone suffices.
    Raises ValueError where there is no testable area.
    """
    if not ground.testable_m2 > 0:
        raise ValueError(say("testable_m2 is {testable_m2}; it must be above 0", testable_m2=ground.testable_m2))
    by_area = tuple(_area_readings(rule, ground))
    by_count = tuple(_count_readings(rule, ground))
    rules = [readings for readings in (by_area, by_count) if readings]
    readings = (*by_area, *by_count)
    if any(all(reading.recoat for reading in one) for one in rules):
        return RecoatAnswer("recoat", readings)
    if not any(reading.recoat for reading in readings):
        return RecoatAnswer("spot repair", readings)
    return RecoatAnswer("depends on the reading", readings)


def _area_readings(rule: RecoatRule, ground: RepairGround) -> Iterator[Reading]:
    if rule.area_percent is None:
        return
    percent = Fraction(rule.area_percent)
    limit = percent / 100 * exact_area(ground.testable_m2, "m2")
    areas: dict[AreaBasis, float] = {
        "flaw": ground.flaw_m2,
        "prepared": ground.prepared_m2,
        "patch": ground.patch_m2,
    }
    for basis, area in areas.items():
        if rule.area_basis in (None, basis):
            reached = exact_area(area, "m2") >= limit
            yield Reading(
                "area",
                say(_AREA_WORDS[basis]),
                reached,
                say(
                    "{area:.4f} m² of {testable:.4f} m²; {percent:g} % is {limit:.4f} m²: {reached}",
                    area=area,
                    testable=ground.testable_m2,
                    percent=float(percent),
                    limit=float(limit),
                    reached=say("reached") if reached else say("not reached"),
                ),
            )


def _count_readings(rule: RecoatRule, ground: RepairGround) -> Iterator[Reading]:
    if rule.count is None or rule.per is None:
        return
    exact = exact_area(ground.testable_m2, rule.unit) / Fraction(rule.per)
    times: dict[Windows, Fraction] = {
        "exact": exact,
        "down": Fraction(floor(exact)),
        "up": Fraction(ceil(exact)),
    }
    unit = {"m2": "m²", "ft2": "ft²"}[rule.unit]
    for windows, number in times.items():
        if rule.windows in (None, windows):
            limit = rule.count * number
            over = ground.spots > limit
            yield Reading(
                "count",
                say(_WINDOW_WORDS[windows]),
                over,
                say(
                    "{spots} spots; {count} per {fraction:g} {unit} × {number:.4f} is {limit:.4f}: {more}",
                    spots=ground.spots,
                    count=rule.count,
                    fraction=float(Fraction(rule.per)),
                    unit=unit,
                    number=float(number),
                    limit=float(limit),
                    more=say("more") if over else say("not more"),
                ),
            )
