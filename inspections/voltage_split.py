"""Which voltage a zone's thickness readings ask for, part by part along it: what a crew can set from here to there.

Readings belong to spots; a setting is changed between spots, never within one. Places along are in the unit of the zone's
first spoken axis. No Django.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from accounts.wording import noted, say
from inspections.asked_voltage import Asked
from inspections.voltage import Band
from inspections.voltage_formulas import UM_PER, Given, Unit, percentile
from inspections.voltage_settings import PERCENTILES, Served, SettingPlan, Unserved, band_of, settings_for

SOURCE = noted("Fewest parts in a row whose readings share a setting: plain arithmetic on the document's bands.")
_NO_FILM = noted("Nothing is left of the reading after the correction for the profile.")

_STEPS: dict[Unit, int] = {"um": 1, "mm": 4, "mil": 2}  # decimals that a mean is told with

Ask = Callable[[Given], Asked]


class SpotFilm(NamedTuple):
    """The readings of one spot, all in one unit, less the correction. along : where it stands along the zone."""

    id: str
    along: float
    area: str
    readings: tuple[Given, ...]


class Part(NamedTuple):
    """A part of the zone that one setting serves.

    starts, ends : along the zone; None: the zone's own end. area : the area measurement's name, "" along the zone.
    volts : proposed; low, high : V, every setting between them serves every reading of the part. at : the thickness a run
    can rest on, with its basis: the mean of the readings where the setting lies in its band, else the lowest or highest.
    """

    starts: float | None
    ends: float | None
    area: str
    volts: int
    low: int
    high: int
    spots: tuple[str, ...]
    readings: int
    thinnest: Given
    thickest: Given
    at: Given


class AreaSettings(NamedTuple):
    """The settings that one area measurement needs: one where the film is even enough."""

    area: str
    parts: tuple[Part, ...]


class PercentAsked(NamedTuple):
    percent: int
    thickness: Given
    asked: Asked


class Ruled(NamedTuple):
    """How many readings go by one form of one document."""

    document: str
    form: str
    readings: int


@dataclass(frozen=True)
class VoltageProposal:
    """What a film's readings ask for.

    asked : at the 5th, 50th and 95th percentile. plan : the fewest settings, whatever the place. along : the fewest parts
    in a row along the zone. by_area : by the name of the area measurement, where names were given. straddling : spots whose
    own readings, or those of a spot at the same place along, share no setting. unserved : readings without any.
    ruled : the forms the readings go by, most readings first; more than one: a border of the document runs through the film.
    """

    asked: tuple[PercentAsked, ...]
    plan: SettingPlan
    along: tuple[Part, ...]
    by_area: tuple[AreaSettings, ...]
    straddling: tuple[str, ...]
    unserved: tuple[tuple[str, Unserved], ...]
    ruled: tuple[Ruled, ...]

    @property
    def straddles(self) -> bool:
        """Whether readings lie on both sides of a border between branches or documents, or in a gap between two."""
        return len(self.ruled) > 1 or bool(self.ruled and self.unserved)


def propose(spots: Sequence[SpotFilm], ask: Ask) -> VoltageProposal:
    """Return what the readings of a film ask for, at percentiles, at all, and part by part.

    Parameters
    ----------
    spots : one or more, each with one or more readings, all in one unit.
    ask : the voltage the specification asks for at a thickness (see `asked_voltage`).

    Notes
    -----
    Percentiles: linear interpolation, type 7 of Hyndman and Fan 1996. A part is carried on along the zone as long as one
    setting lies in the band of every reading in it; taken greedily from one end this gives the fewest parts, because a
    part that stops earlier never lets a later one reach further. Its border is drawn half way between the spots on either
    side. Spots at one place along the zone stand or fall together. Raises ValueError without a reading, or in two units.
    """
    known: dict[Given, Asked] = {}

    def says(given: Given) -> Asked:
        if given not in known:
            known[given] = ask(given) if given.value > 0 else _nothing(given)
        return known[given]

    readings = [reading for spot in spots for reading in spot.readings]
    plan = settings_for(readings, says)
    owner = [spot.id for spot in spots for _ in spot.readings]
    along, straddling = _along(spots, says)
    names = dict.fromkeys(spot.area for spot in spots if spot.area)
    values = [max(reading.value, Fraction(0)) for reading in readings]
    thicknesses = [Given(percentile(values, percent), readings[0].unit) for percent in PERCENTILES]
    return VoltageProposal(
        asked=tuple(
            PercentAsked(percent, thickness, says(thickness))
            for percent, thickness in zip(PERCENTILES, thicknesses, strict=True)
        ),
        plan=plan,
        along=along,
        by_area=tuple(_of_area(name, [spot for spot in spots if spot.area == name], says) for name in names),
        straddling=straddling,
        unserved=tuple((owner[each.reading], each) for each in plan.unserved),
        ruled=_ruled(readings, says),
    )


def in_unit(um: float, unit: Unit) -> Given:
    """A thickness (um) in a unit, exactly as typed: 0.1 is a tenth.

    >>> str(in_unit(508.0, "mil"))
    '20 mil'
    """
    return Given(Fraction(str(um)) / UM_PER[unit], unit)


def _nothing(given: Given) -> Asked:
    return Asked(None, None, "", "", "", "", given.unit, "", say(_NO_FILM))


def _along(spots: Sequence[SpotFilm], says: Ask) -> tuple[tuple[Part, ...], tuple[str, ...]]:
    """The fewest parts in a row, and the spots that no setting serves whole."""
    columns: dict[float, list[SpotFilm]] = {}
    for spot in spots:
        columns.setdefault(round(spot.along, 3), []).append(spot)
    runs: list[list[float]] = []
    straddling: list[str] = []
    shared: Band | None = None
    for place in sorted(columns):
        bands = [band for spot in columns[place] for given in spot.readings if (band := band_of(says(given)))]
        if not bands:
            continue
        own = _common(bands)
        if own is None:
            straddling += [spot.id for spot in columns[place]]
            continue
        both = own if shared is None else _common([shared, own])
        if both is None or not runs:
            runs.append([])
            both = own
        runs[-1].append(place)
        shared = both
    borders: list[float | None] = [(before[-1] + after[0]) / 2 for before, after in zip(runs, runs[1:], strict=False)]
    parts = [
        _part(starts, ends, "", [spot for place in run for spot in columns[place]], says)
        for run, starts, ends in zip(runs, [None, *borders], [*borders, None], strict=False)
    ]
    return tuple(parts), tuple(straddling)


def _common(bands: Sequence[Band]) -> Band | None:
    low, high = max(band.low for band in bands), min(band.high for band in bands)
    return Band(low, high, low) if low <= high else None


def _part(starts: float | None, ends: float | None, area: str, spots: Sequence[SpotFilm], says: Ask) -> Part:
    given = [reading for spot in spots for reading in spot.readings if band_of(says(reading)) is not None]
    served = settings_for(given, says).settings[0]
    ids = tuple(spot.id for spot in spots)
    return _of(served, area, ids, given, says)._replace(starts=starts, ends=ends)


def _of(served: Served, area: str, ids: tuple[str, ...], given: Sequence[Given], says: Ask) -> Part:
    return Part(
        None,
        None,
        area,
        served.volts,
        served.low,
        served.high,
        ids,
        len(given),
        served.thinnest,
        served.thickest,
        _rests_on(given, served.volts, says),
    )


def _rests_on(given: Sequence[Given], volts: int, says: Ask) -> Given:
    """The mean of the readings, rounded as people say it, where the setting lies in its band; else an end of them."""
    unit = given[0].unit
    mean = round(sum((each.value for each in given), Fraction()) / len(given), _STEPS[unit])
    ends = sorted(given, key=lambda each: each.um)
    found = (
        Given(mean, unit, "measured mean"),
        replace(ends[0], basis="measured minimum"),
        replace(ends[-1], basis="measured maximum"),
    )
    for each in found:
        band = band_of(says(each))
        if band is not None and band.low <= volts <= band.high:
            return each
    return found[1]


def _of_area(name: str, spots: Sequence[SpotFilm], says: Ask) -> AreaSettings:
    readings = [reading for spot in spots for reading in spot.readings]
    owner = [spot.id for spot in spots for _ in spot.readings]
    parts = []
    for served in settings_for(readings, says).settings:
        ids = tuple(dict.fromkeys(owner[place] for place in served.readings))
        parts.append(_of(served, name, ids, [readings[place] for place in served.readings], says))
    return AreaSettings(name, tuple(parts))


def _ruled(readings: Sequence[Given], says: Ask) -> tuple[Ruled, ...]:
    counts: dict[tuple[str, str], int] = {}
    for given in readings:
        asked = says(given)
        if band_of(asked) is not None:
            key = (asked.document, asked.form)
            counts[key] = counts.get(key, 0) + 1
    return tuple(Ruled(*key, count) for key, count in sorted(counts.items(), key=lambda item: (-item[1], item[0])))
