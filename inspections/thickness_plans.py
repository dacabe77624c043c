"""How many thickness readings a standard asks for, with the arithmetic, and which are still missing and where.

SSPC-PA 2 in metric and customary units (two systems, never converted), ISO 19840, and the 90/10 rule.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, isfinite
from typing import Literal, NamedTuple

from accounts.wording import noted, say, say_many
from inspections.thickness import READINGS_PER_SPOT, SPOTS_PER_AREA

System = Literal["metric", "customary"]

PA2_SOURCE = noted("SSPC-PA 2, public summaries")
ISO_SOURCE = noted("ISO 19840, from memory")
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
            how = say("one for every {area} {unit} or part", area=small, unit=unit)
        elif area <= large:
            count, how = 3, say("three from {low} to {high} {unit}", low=few, high=large, unit=unit)
        else:
            further = ceil((area - large) / large)
            count = 3 + further
            how = say(
                "three for the first {area} {unit} and {further} for {more} {unit} more",
                area=large,
                unit=unit,
                further=further,
                more=_show(area - large),
            )
        lines.append(
            say_many(
                "Shift {shift}: {area} {unit}, {how}: {count} area measurement.",
                "Shift {shift}: {area} {unit}, {how}: {count} area measurements.",
                count,
                shift=shift,
                area=_show(area),
                unit=unit,
                how=how,
            )
        )
        start = len(places) + 1
        places += [
            Place(number, shift, SPOTS_PER_AREA, SPOTS_PER_AREA * READINGS_PER_SPOT)
            for number in range(start, start + count)
        ]
    spots = len(places) * SPOTS_PER_AREA
    lines.append(
        say(
            "{areas} x {each} spots = {spots} spots; {spots} x {least} = {readings} readings at least.",
            areas=len(places),
            each=SPOTS_PER_AREA,
            spots=spots,
            least=READINGS_PER_SPOT,
            readings=spots * READINGS_PER_SPOT,
        )
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
        lines.append(
            say(
                "{surface} m² is above {most} m²: {parts} equal parts of {area} m².",
                surface=_show(surface),
                most=_ISO_LARGEST_M2,
                parts=parts,
                area=_show(area),
            )
        )
    count = next((readings for most, readings in _ISO_STEPS if area <= most), None)
    each = say(" each") if parts > 1 else ""
    if count is None:
        last, base = _ISO_STEPS[-1]
        further = ceil((area - last) / 100)
        count = base + 10 * further
        lines.append(
            say(
                "{base} for the first {first} m² + 10 x {further} for {more} m² more: {count}{each}.",
                base=base,
                first=last,
                further=further,
                more=_show(area - last),
                count=count,
                each=each,
            )
        )
    else:
        most = next(most for most, _ in _ISO_STEPS if area <= most)
        lines.append(
            say("{area} m², to {most} m²: {count} readings{each}.", area=_show(area), most=most, count=count, each=each)
        )
    if parts > 1:
        lines.append(say("{parts} x {count} = {all} readings.", parts=parts, count=count, all=parts * count))
    return Plan(tuple(Place(part, part, None, count) for part in range(1, parts + 1)), tuple(lines), ISO_SOURCE)


def ninety_ten_plan(flat_m2: float) -> Plan:
    """Return the readings the 90/10 rule asks for on flat surface (m2, above 0): one for every 5 m2, rounded up.

    IMO MSC.215(82). Raises ValueError for a surface not above 0.
    """
    surface = _surface("flat_m2", flat_m2)
    count = ceil(surface / M2_PER_READING)
    line = say_many(
        "{surface} m² of flat surface / {each} m², rounded up: {count} reading.",
        "{surface} m² of flat surface / {each} m², rounded up: {count} readings.",
        count,
        surface=_show(surface),
        each=M2_PER_READING,
    )
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
            need.append(
                say(
                    "{readings} at {spots}",
                    readings=say_many("{count} reading", "{count} readings", more),
                    spots=say_many("{count} spot begun", "{count} spots begun", len(begun)),
                )
            )
        if new:
            need.append(
                say_many(
                    "{count} new spot of {least} readings",
                    "{count} new spots of {least} readings",
                    new,
                    least=READINGS_PER_SPOT,
                )
            )
        sentence = say(
            "Area {area} (shift {shift}): {complete} of {asked} spots; take {need}.",
            area=place.number,
            shift=place.within,
            complete=complete,
            asked=place.spots,
            need=say(" and ").join(need),
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
            sentence = say_many(
                "Place {place}: {have} of {asked} readings; take {count} more reading.",
                "Place {place}: {have} of {asked} readings; take {count} more readings.",
                more,
                place=place.number,
                have=have,
                asked=place.readings,
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
