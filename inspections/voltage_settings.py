"""Which settings a film's thickness readings ask for: at its percentiles, and the fewest that serve every reading."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple, Protocol

from accounts.wording import say, say_many
from inspections.rule_schema import Rule
from inspections.voltage import Band
from inspections.voltage_formulas import Given, Unit, percentile
from inspections.voltage_rules import Answer, Job, apply

PERCENTILES = (5, 50, 95)


class Says(Protocol):
    """What is said of one thickness: the voltage asked for, the band of settings allowed, and why."""

    @property
    def volts(self) -> int | None: ...
    @property
    def band(self) -> Band | None: ...
    @property
    def why(self) -> str: ...


class AskedAt(NamedTuple):
    """What the document asks for at one percentile of the readings."""

    percent: int
    thickness: Given
    answer: Answer


class Served(NamedTuple):
    """One setting and the readings it serves.

    volts : the document's own figure where one lies in every band, else the nearest to it. low, high : V, every setting
        between them is in the band of every reading served. readings : their places, thinnest first.
    """

    volts: int
    low: int
    high: int
    readings: tuple[int, ...]
    thinnest: Given
    thickest: Given


class Unserved(NamedTuple):
    """A reading for which the document gives no voltage, and why."""

    reading: int
    thickness: Given
    why: str


@dataclass(frozen=True)
class SettingPlan:
    """The fewest settings, lowest first, the readings none can serve, and the proposal in sentences."""

    settings: tuple[Served, ...]
    unserved: tuple[Unserved, ...]
    sentences: tuple[str, ...]

    @property
    def one_serves_all(self) -> bool:
        return len(self.settings) == 1 and not self.unserved


def asked_at_percentiles(
    rule: Rule, readings: Sequence[Given], job: Job, *, tolerance_percent: float | str | Fraction | None = None
) -> tuple[AskedAt, ...]:
    """Return what the ruling document asks for at the 5th, 50th and 95th percentile of the readings.

    readings : as given, all in one unit; percentiles are linear interpolations (type 7 of Hyndman and Fan 1996).
    Raises ValueError without a reading, or for readings in more than one unit.
    """
    unit = _one_unit(readings)
    values = [reading.value for reading in readings]
    found = []
    for percent in PERCENTILES:
        thickness = Given(percentile(values, percent), unit)
        found.append(AskedAt(percent, thickness, apply(rule, thickness, job, tolerance_percent=tolerance_percent)))
    return tuple(found)


def fewest_settings(
    rule: Rule, readings: Sequence[Given], job: Job, *, tolerance_percent: float | str | Fraction | None = None
) -> SettingPlan:
    """Return the fewest settings that serve every reading, each within the band the document allows that reading.

    Parameters
    ----------
    rule, job, tolerance_percent : as for `apply`; without any tolerance a band is the document's figure alone.
    readings : as given, all in one unit.

    Notes
    -----
    Bands are intervals, and the fewest points that stab them all are found by taking the lowest upper end again and
    again. Raises ValueError without a reading, or for readings in more than one unit.
    """
    return settings_for(readings, lambda given: apply(rule, given, job, tolerance_percent=tolerance_percent))


def settings_for(readings: Sequence[Given], says: Callable[[Given], Says]) -> SettingPlan:
    """Return the fewest settings that serve every reading, whatever is said of each: by one document or by several.

    readings : as given, all in one unit. Raises ValueError without a reading, or for readings in more than one unit.
    """
    _one_unit(readings)
    answers = {given: says(given) for given in set(readings)}
    bands = {given: band for given, answer in answers.items() if (band := band_of(answer)) is not None}
    unserved = tuple(
        Unserved(place, given, answers[given].why) for place, given in enumerate(readings) if given not in bands
    )
    places: dict[Given, list[int]] = {}
    for place, given in enumerate(readings):
        places.setdefault(given, []).append(place)
    settings = tuple(_served(group, bands, places) for group in _groups(bands))
    return SettingPlan(settings, unserved, _sentences(settings, unserved, len(readings)))


def band_of(answer: Says) -> Band | None:
    """The settings a reading allows, V; without a tolerance the figure alone, without a figure or band none."""
    if answer.band is not None:
        return answer.band
    return None if answer.volts is None else Band(answer.volts, answer.volts, answer.volts)


def _groups(bands: dict[Given, Band]) -> list[list[Given]]:
    """Thicknesses by the setting they share: greedy stabbing in the order of the upper ends, which is optimal."""
    groups: list[list[Given]] = []
    stab = -1
    for given in sorted(bands, key=lambda given: (bands[given].high, given.um)):
        if not groups or bands[given].low > stab:
            groups.append([])
            stab = bands[given].high
        groups[-1].append(given)
    return groups


def _served(group: list[Given], bands: dict[Given, Band], places: dict[Given, list[int]]) -> Served:
    low, high = max(bands[given].low for given in group), min(bands[given].high for given in group)
    by_thickness = sorted(group, key=lambda given: given.um)
    asked = sorted(bands[given].asked for given in by_thickness for _ in places[given])
    middle = asked[len(asked) // 2]
    readings = tuple(place for given in by_thickness for place in places[given])
    return Served(min(max(middle, low), high), low, high, readings, by_thickness[0], by_thickness[-1])


def _sentences(settings: Sequence[Served], unserved: Sequence[Unserved], count: int) -> tuple[str, ...]:
    found = []
    if len(settings) == 1:
        found.append(say("One setting serves {readings}.", readings=_all(len(settings[0].readings), count)))
    elif settings:
        served = sum(len(setting.readings) for setting in settings)
        found.append(
            say(
                "No single setting serves {readings}: {settings} settings are needed. Split the work by thickness.",
                readings=_all(served, count),
                settings=len(settings),
            )
        )
    for setting in settings:
        between = (
            ""
            if setting.low == setting.high
            else say(" (any from {low} V to {high} V)", low=setting.low, high=setting.high)
        )
        film = (
            f"{setting.thinnest}"
            if setting.thinnest == setting.thickest
            else say("{low} to {high}", low=setting.thinnest, high=setting.thickest)
        )
        found.append(
            say(
                "{volts} V{between} where the film is {film}: {readings}.",
                volts=setting.volts,
                between=between,
                film=film,
                readings=_readings(len(setting.readings)),
            )
        )
    if unserved:
        found.append(
            say_many(
                "{count} reading served by no setting. Ask the specifier.",
                "{count} readings served by no setting. Ask the specifier.",
                len(unserved),
            )
        )
        found += [f"{why}" for why in dict.fromkeys(item.why for item in unserved)]
    return tuple(found)


def _all(served: int, count: int) -> str:
    if served == count:
        return say("the one reading") if count == 1 else say("all {count} readings", count=count)
    return say_many(
        "the {count} reading the document has a voltage for",
        "the {count} readings the document has a voltage for",
        served,
    )


def _readings(count: int) -> str:
    return say_many("{count} reading", "{count} readings", count)


def _one_unit(readings: Sequence[Given]) -> Unit:
    units = sorted({reading.unit for reading in readings})
    if len(units) != 1:
        given = ", ".join(units) or "absent"
        raise ValueError(f"readings are {given}; they must be one or more, all in one unit")
    return readings[0].unit
