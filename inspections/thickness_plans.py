"""How many thickness readings a standard asks for, with the arithmetic, and which are still missing and where.

SSPC-PA 2 in metric and customary units (two systems, never converted), ISO 19840, and the 90/10 rule.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, isfinite
from typing import Literal, NamedTuple

from inspections.thickness import READINGS_PER_SPOT, SPOTS_PER_AREA

System = Literal["metric", "customary"]

PA2_SOURCE = "SSPC-PA 2, public summaries"
ISO_SOURCE = "ISO 19840, from memory"
NINETY_TEN_SOURCE = "IMO MSC.215(82)"

# To so many m2, so many readings; above, ten more for each further 100 m2 or part.
_ISO_STEPS = ((1, 5), (3, 10), (10, 15), (30, 20), (100, 30))
_ISO_LARGEST_M2 = 1000
M2_PER_READING = 5


class Place(NamedTuple):
    """One place of a plan: its number, which shift's film or part of the surface it stands in, and its readings.

    number : from 1 through the plan. within : shift or part, from 1. spots : spots asked for (each of at least three
    gauge readings), or None where single readings are counted. readings : gauge readings asked for, at least.
    """

    number: int
    within: int
    spots: int | None
    readings: int


@dataclass(frozen=True)
class Plan:
    """The places to measure, the arithmetic that leads to them, and its source."""

    places: tuple[Place, ...]
    arithmetic: tuple[str, ...]
    source: str

    @property
    def readings(self) -> int:
        return sum(place.readings for place in self.places)


class Missing(NamedTuple):
    """What one place still lacks: whole spots and readings for spots begun, or single readings."""

    place: Place
    spots: int
    readings: int
    sentence: str


def pa2_plan(shift_areas: Sequence[float], system: System = "metric") -> Plan:
    """Return the area measurements SSPC-PA 2 asks for, each of five spots of at least three readings.

    Parameters
    ----------
    shift_areas : surface coated in each shift, in m2 (metric) or ft2 (customary); each above 0.
    system : "metric" or "customary"; two systems of the standard, whose areas are not converted.

    Notes
    -----
    Metric: to 30 m2 one for every 10 m2 or part; to 100 m2 three; above, one more for each further 100 m2 or part.
    Customary: 100, 300 and 1000 ft2 likewise. Raises ValueError naming the argument, its value and what is allowed.
    """
    if system not in ("metric", "customary"):
        raise ValueError(f'system is "{system}"; it must be metric or customary')
    if not shift_areas:
        raise ValueError("shift_areas is empty; give the surface coated in each shift")
    small, few, large = (10, 30, 100) if system == "metric" else (100, 300, 1000)
    unit = "m²" if system == "metric" else "ft²"
    places: list[Place] = []
    lines = []
    for shift, given in enumerate(shift_areas, 1):
        area = _surface("shift_areas", given)
        if area <= few:
            count = ceil(area / small)
            how = f"one for every {small} {unit} or part"
        elif area <= large:
            count, how = 3, f"three from {few} to {large} {unit}"
        else:
            further = ceil((area - large) / large)
            count = 3 + further
            how = f"three for the first {large} {unit} and {further} for {_show(area - large)} {unit} more"
        lines.append(f"Shift {shift}: {_show(area)} {unit}, {how}: {_count(count, 'area measurement')}.")
        start = len(places) + 1
        places += [
            Place(number, shift, SPOTS_PER_AREA, SPOTS_PER_AREA * READINGS_PER_SPOT)
            for number in range(start, start + count)
        ]
    spots = len(places) * SPOTS_PER_AREA
    lines.append(
        f"{len(places)} x {SPOTS_PER_AREA} spots = {spots} spots; {spots} x {READINGS_PER_SPOT} = "
        f"{spots * READINGS_PER_SPOT} readings at least."
    )
    return Plan(tuple(places), tuple(lines), PA2_SOURCE)


def iso19840_plan(surface_m2: float) -> Plan:
    """Return the readings ISO 19840 asks for on a surface (m2, above 0); above 1000 m2 it is split in fewest equal parts.

    To 1 m2 5; to 3 m2 10; to 10 m2 15; to 30 m2 20; to 100 m2 30; above, 10 more for each further 100 m2 or part. From
    memory. Raises ValueError for a surface not above 0.
    """
    surface = _surface("surface_m2", surface_m2)
    parts = ceil(surface / _ISO_LARGEST_M2)
    area = surface / parts
    lines = []
    if parts > 1:
        lines.append(f"{_show(surface)} m² is above {_ISO_LARGEST_M2} m²: {parts} equal parts of {_show(area)} m².")
    count = next((readings for most, readings in _ISO_STEPS if area <= most), None)
    each = " each" if parts > 1 else ""
    if count is None:
        last, base = _ISO_STEPS[-1]
        further = ceil((area - last) / 100)
        count = base + 10 * further
        lines.append(
            f"{base} for the first {last} m² + 10 x {further} for {_show(area - last)} m² more: {count}{each}."
        )
    else:
        most = next(most for most, _ in _ISO_STEPS if area <= most)
        lines.append(f"{_show(area)} m², to {most} m²: {count} readings{each}.")
    if parts > 1:
        lines.append(f"{parts} x {count} = {parts * count} readings.")
    return Plan(tuple(Place(part, part, None, count) for part in range(1, parts + 1)), tuple(lines), ISO_SOURCE)


def ninety_ten_plan(flat_m2: float) -> Plan:
    """Return the readings the 90/10 rule asks for on flat surface (m2, above 0): one for every 5 m2, rounded up.

    IMO MSC.215(82). Raises ValueError for a surface not above 0.
    """
    surface = _surface("flat_m2", flat_m2)
    count = ceil(surface / M2_PER_READING)
    line = f"{_show(surface)} m² of flat surface / {M2_PER_READING} m², rounded up: {_count(count, 'reading')}."
    return Plan(tuple(Place(number, number, None, 1) for number in range(1, count + 1)), (line,), NINETY_TEN_SOURCE)


def spots_missing(plan: Plan, taken: Mapping[int, Sequence[int]]) -> tuple[Missing, ...]:
    """Return what an SSPC-PA 2 plan still lacks, by place.

    taken : by the place's number, the gauge readings taken at each of its spots. A spot with under three does not count;
    the fullest of those begun are completed first. Raises ValueError for a number that is no place of the plan.
    """
    _check_places(plan, taken)
    found = []
    for place in plan.places:
        counts = taken.get(place.number, ())
        complete = sum(count >= READINGS_PER_SPOT for count in counts)
        lacking = max((place.spots or 0) - complete, 0)
        if not lacking:
            continue
        begun = sorted((count for count in counts if 0 < count < READINGS_PER_SPOT), reverse=True)[:lacking]
        more = sum(READINGS_PER_SPOT - count for count in begun)
        new = lacking - len(begun)
        need = []
        if begun:
            need.append(f"{_count(more, 'reading')} at {_count(len(begun), 'spot')} begun")
        if new:
            need.append(f"{_count(new, 'new spot')} of {READINGS_PER_SPOT} readings")
        sentence = (
            f"Area {place.number} (shift {place.within}): {complete} of {place.spots} spots; take {' and '.join(need)}."
        )
        found.append(Missing(place, new, more + new * READINGS_PER_SPOT, sentence))
    return tuple(found)


def readings_missing(plan: Plan, taken: Mapping[int, int]) -> tuple[Missing, ...]:
    """Return what a plan of single readings still lacks, by place.

    taken : by the place's number, the readings taken there. Raises ValueError for a number that is no place of the plan.
    """
    _check_places(plan, taken)
    found = []
    for place in plan.places:
        have = taken.get(place.number, 0)
        if have < place.readings:
            more = place.readings - have
            sentence = (
                f"Place {place.number}: {have} of {place.readings} readings; take {_count(more, 'more reading')}."
            )
            found.append(Missing(place, 0, more, sentence))
    return tuple(found)


def _check_places(plan: Plan, taken: Mapping[int, object]) -> None:
    for number in taken:
        if not 1 <= number <= len(plan.places):
            raise ValueError(f"taken names place {number}; it must be from 1 to {len(plan.places)}")


def _surface(name: str, given: float) -> Fraction:
    if not (isfinite(given) and given > 0):
        raise ValueError(f"{name} holds {given}; a surface must be above 0")
    return Fraction(str(given))


def _show(value: Fraction) -> str:
    return f"{float(value):.4f}".rstrip("0").rstrip(".")


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
