"""May work go on in this air: dew point, margin of the coldest steel, humidity.

Psychrometrics come from psychrolib (ASHRAE Handbook - Fundamentals 2017, chapter 1, equations 5 and 6).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
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


class Degrees(NamedTuple):
    """How a temperature, and a difference of temperatures, both given in degC, are said to the reader."""

    of: Callable[[float], str]
    apart: Callable[[float], str]


def _short(celsius: float) -> str:
    """Two decimals, because the second decides at the limit; zeros at the end are left out."""
    return f"{celsius:.2f}".rstrip("0").rstrip(".")


CELSIUS = Degrees(lambda celsius: f"{celsius:.1f} °C", lambda celsius: f"{_short(celsius)} °C")
FAHRENHEIT = Degrees(lambda celsius: f"{1.8 * celsius + 32:.1f} °F", lambda celsius: f"{_short(1.8 * celsius)} °F")


class WorkVerdict(NamedTuple):
    """may_go_on, and the figures it rests on; the limits are inclusive.

    margin_c: coldest steel less dew point (degC); None without a steel reading.
    """

    may_go_on: bool
    dew_point: DewPoint
    humidity_percent: float
    coldest_steel_c: float | None
    margin_c: float | None
    least_margin_c: float
    highest_humidity_percent: float
    source: str = SOURCE

    def reasons(self, degrees: Degrees = CELSIUS) -> tuple[str, ...]:
        """What speaks against work, none where it may go on; `degrees` puts temperatures into the reader's words."""
        name = say("frost point") if self.dew_point.over == "ice" else say("dew point")
        reasons = []
        if self.margin_c is None or self.coldest_steel_c is None:
            reasons.append(say("No steel temperature was read."))
        elif self.margin_c < 0:
            reasons.append(
                say(
                    "The coldest steel ({coldest}) is below the {name} ({dew}): it is wet.",
                    coldest=degrees.of(self.coldest_steel_c),
                    name=name,
                    dew=degrees.of(self.dew_point.celsius),
                )
            )
        elif self.margin_c < self.least_margin_c:
            reasons.append(
                say(
                    "The coldest steel ({coldest}) is {margin} above the {name} ({dew}); at least {least} is asked.",
                    coldest=degrees.of(self.coldest_steel_c),
                    margin=degrees.apart(self.margin_c),
                    name=name,
                    dew=degrees.of(self.dew_point.celsius),
                    least=degrees.apart(self.least_margin_c),
                )
            )
        if self.humidity_percent > self.highest_humidity_percent:
            reasons.append(
                say(
                    "Humidity is {humidity:g} %; at most {most:g} % is allowed.",
                    humidity=round(self.humidity_percent, 1),
                    most=self.highest_humidity_percent,
                )
            )
        return tuple(reasons)

    def notes(self, degrees: Degrees = CELSIUS) -> tuple[str, ...]:
        """What the screen has to say beside it."""
        point = (
            say("Shown is the frost point, over ice.")
            if self.dew_point.over == "ice"
            else say("The dew point is over water.")
        )
        if self.dew_point.humidity_over == "ice":
            return (say("Below {freezing} humidity is taken relative to ice.", freezing=freezing(degrees)), point)
        return (point,)


def freezing(degrees: Degrees) -> str:
    """The freezing point of water as a reader writes it, without decimals."""
    return degrees.of(0.0).replace(".0", "")


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
    may = margin is not None and margin >= least_margin_c and humidity_percent <= highest_humidity_percent
    return WorkVerdict(may, dew, humidity_percent, coldest, margin, least_margin_c, highest_humidity_percent)


def _phase(celsius: float) -> Phase:
    return "ice" if celsius < 0 else "water"


def _check_air(air_c: float) -> None:
    if not (isfinite(air_c) and -60 <= air_c <= 80):
        raise ValueError(say("air_c is {air_c}; it must be from -60 to 80 degC", air_c=air_c))
