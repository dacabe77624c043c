"""May work go on in this air: dew point, margin of the coldest steel, humidity.

Psychrometrics come from psychrolib (ASHRAE Handbook - Fundamentals 2017, chapter 1, equations 5 and 6).
"""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite
from typing import Literal, NamedTuple

import psychrolib

from accounts.wording import noted, say

DEW_POINT_MARGIN_C = 3.0
HIGHEST_HUMIDITY_PERCENT = 85.0
SOURCE = noted("IMO MSC.215(82) and ISO 8502-4, from public copies and summaries")
SEA_LEVEL_PA = 101_325.0
TRIPLE_POINT_C = 0.01

Phase = Literal["water", "ice"]

# psychrolib keeps the unit system in a global: set once, never switched, so safe between threads.
psychrolib.SetUnitSystem(psychrolib.SI)


class DewPoint(NamedTuple):
    """Temperature (degC) at which the vapour of the air condenses; over ice it is the frost point.

    humidity_over: what the humidity was taken relative to, water above 0 degC air temperature and ice below.
    """

    celsius: float
    over: Phase
    humidity_over: Phase


class WorkVerdict(NamedTuple):
    """may_go_on with the reasons against it (none when it may) and what the screen has to say beside it.

    margin_c: coldest steel less dew point (degC); None without a steel reading.
    """

    may_go_on: bool
    reasons: tuple[str, ...]
    dew_point: DewPoint
    humidity_percent: float
    coldest_steel_c: float | None
    margin_c: float | None
    notes: tuple[str, ...]
    source: str = SOURCE


def dew_point(air_c: float, humidity_percent: float) -> DewPoint:
    """Return the dew point, or the frost point where the air is saturated only below 0 degC.

    Parameters
    ----------
    air_c : air temperature, -60 to 80 degC.
    humidity_percent : relative humidity, above 0 to 100 %; below 0 degC relative to ice.

    Raises
    ------
    ValueError naming the argument, its value and what is allowed.

    Examples
    --------
    >>> round(dew_point(25, 80).celsius, 2)
    21.31
    """
    _check_air(air_c)
    if not (isfinite(humidity_percent) and 0 < humidity_percent <= 100):
        raise ValueError(
            say(
                "humidity_percent is {humidity_percent}; it must be above 0 and at most 100",
                humidity_percent=humidity_percent,
            )
        )
    celsius = float(psychrolib.GetTDewPointFromRelHum(float(air_c), humidity_percent / 100))
    return DewPoint(celsius, _phase(celsius), _phase(air_c))


def humidity_from_wet_bulb(air_c: float, wet_bulb_c: float, pressure_pa: float = SEA_LEVEL_PA) -> float:
    """Return the relative humidity (%) from dry and wet bulb (degC) at an air pressure (Pa).

    Raises ValueError for a wet bulb above the air, or so far below it that no vapour would be left.
    """
    _check_air(air_c)
    if not isfinite(wet_bulb_c) or wet_bulb_c > air_c:
        raise ValueError(
            say(
                "wet_bulb_c is {wet_bulb_c}; it must not be above the air, {air_c} degC",
                wet_bulb_c=wet_bulb_c,
                air_c=air_c,
            )
        )
    try:
        humidity = 100 * float(psychrolib.GetRelHumFromTWetBulb(float(air_c), float(wet_bulb_c), pressure_pa))
    except ValueError as error:
        raise ValueError(say("wet_bulb_c is {wet_bulb_c}; {error}", wet_bulb_c=wet_bulb_c, error=error)) from error
    if humidity < 0.1:
        raise ValueError(
            say(
                "wet_bulb_c is {wet_bulb_c}; too far below {air_c} degC to be a wet bulb",
                wet_bulb_c=wet_bulb_c,
                air_c=air_c,
            )
        )
    return min(humidity, 100.0)


def relative_humidity(air_c: float, humidity_percent: float | None, wet_bulb_c: float | None) -> float:
    """Return the relative humidity (%) that was read, else the one the wet bulb tells.

    Raises ValueError where neither was read, or what was read cannot be.
    """
    if humidity_percent is not None:
        return humidity_percent
    if wet_bulb_c is None:
        raise ValueError(say("humidity_percent is absent, and so is wet_bulb_c; one of the two is needed"))
    return humidity_from_wet_bulb(air_c, wet_bulb_c)


def iced_bulb(wet_bulb_c: float) -> bool:
    """Say whether a wet bulb (degC) is taken as covered with ice: at and below the triple point of water, 0.01 degC.

    So PsychroLib chooses between equations 33 (water) and 35 (ice) of the ASHRAE chapter.
    """
    return wet_bulb_c <= TRIPLE_POINT_C


def work_may_go_on(
    air_c: float,
    humidity_percent: float,
    steel_c: Iterable[float],
    *,
    least_margin_c: float = DEW_POINT_MARGIN_C,
    highest_humidity_percent: float = HIGHEST_HUMIDITY_PERCENT,
) -> WorkVerdict:
    """Say whether work may go on: coldest steel at least 3 degC above the dew point, humidity at most 85 %.

    Both limits are inclusive. steel_c holds one or more steel readings (degC); the coldest counts, and without one
    work may not go on. Raises ValueError for air, humidity or steel that cannot be.
    """
    dew = dew_point(air_c, humidity_percent)
    steel = tuple(steel_c)
    for reading in steel:
        if not (isfinite(reading) and -60 <= reading <= 120):
            raise ValueError(say("steel_c holds {reading}; it must be from -60 to 120 degC", reading=reading))
    coldest = min(steel, default=None)
    margin = None if coldest is None else coldest - dew.celsius
    name = say("frost point") if dew.over == "ice" else say("dew point")
    reasons = []
    if margin is None:
        reasons.append(say("No steel temperature was read."))
    elif margin < least_margin_c:
        reasons.append(
            say(
                "The coldest steel ({coldest:.1f} °C) is {margin:.2f} °C above the {name} "
                "({celsius:.1f} °C); at least {least_margin_c:g} °C are asked.",
                coldest=coldest,
                margin=margin,
                name=name,
                celsius=dew.celsius,
                least_margin_c=least_margin_c,
            )
            if margin >= 0
            else say(
                "The coldest steel ({coldest:.1f} °C) is below the {name} ({celsius:.1f} °C): it is wet.",
                coldest=coldest,
                name=name,
                celsius=dew.celsius,
            )
        )
    if humidity_percent > highest_humidity_percent:
        reasons.append(
            say(
                "Humidity is {humidity_percent:g} %; at most {highest_humidity_percent:g} % are allowed.",
                humidity_percent=humidity_percent,
                highest_humidity_percent=highest_humidity_percent,
            )
        )
    return WorkVerdict(not reasons, tuple(reasons), dew, humidity_percent, coldest, margin, _notes(dew))


def _notes(dew: DewPoint) -> tuple[str, ...]:
    notes = []
    if dew.humidity_over == "ice":
        notes.append(say("Below 0 °C humidity is taken relative to ice."))
    if dew.over == "ice":
        notes.append(say("Shown is the frost point, over ice."))
    else:
        notes.append(say("The dew point is over water."))
    return tuple(notes)


def _phase(celsius: float) -> Phase:
    return "ice" if celsius < 0 else "water"


def _check_air(air_c: float) -> None:
    if not (isfinite(air_c) and -60 <= air_c <= 80):
        raise ValueError(say("air_c is {air_c}; it must be from -60 to 80 degC", air_c=air_c))
