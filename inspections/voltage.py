"""The allowed band of a test voltage and the outcome of an output check, in whole volts, exactly.

The band is what the ruling document states, plus or minus its tolerance, and nothing else.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor
from typing import Literal, NamedTuple

Setting = Literal["below", "in", "above"]
Outcome = Literal["low", "good", "high"]


class Band(NamedTuple):
    """Lowest and highest setting allowed and the voltage asked for, in V; the ends are allowed."""

    low: int
    high: int
    asked: int


def stated_band(
    stated_volts: int, *, tolerance_percent: float | str | Fraction | None = None, tolerance_volts: int | None = None
) -> Band:
    """Return the band a document allows that states a voltage with a tolerance, in percent or in volts.

    Parameters
    ----------
    stated_volts : V, above 0.
    tolerance_percent : 0 to below 100; a float is taken as the decimal it prints.
    tolerance_volts : V, 0 to below the stated voltage. One of the two tolerances is given.

    Returns
    -------
    The whole volts inside the exact band: the low end is rounded up, the high end down.

    Raises
    ------
    ValueError naming the argument, its value and what is allowed.

    Examples
    --------
    >>> stated_band(3325, tolerance_percent=5)
    Band(low=3159, high=3491, asked=3325)
    """
    if stated_volts <= 0:
        raise ValueError(f"stated_volts is {stated_volts}; it must be above 0")
    if tolerance_volts is not None and tolerance_percent is None:
        if not 0 <= tolerance_volts < stated_volts:
            raise ValueError(f"tolerance_volts is {tolerance_volts}; it must be from 0 to below {stated_volts}")
        return Band(stated_volts - tolerance_volts, stated_volts + tolerance_volts, stated_volts)
    if tolerance_percent is None or tolerance_volts is not None:
        raise ValueError("give tolerance_percent or tolerance_volts: one of the two")
    give = stated_volts * _share(tolerance_percent)
    return Band(ceil(stated_volts - give), floor(stated_volts + give), stated_volts)


def judge_setting(band: Band, set_volts: int) -> Setting:
    """Say whether a set voltage (V) lies below, in or above the band; both ends are in it."""
    if set_volts < band.low:
        return "below"
    return "above" if set_volts > band.high else "in"


def check_tolerance(expected_volts: int, tolerance_percent: float | str | Fraction) -> int:
    """Return a check's tolerance in whole volts, rounded down so that it never allows more than was stated."""
    return floor(expected_volts * _share(tolerance_percent))


def check_outcome(expected: int, measured: int, tolerance: int, *, alarm_seen: bool = True) -> Outcome:
    """Return the outcome of an output check: volts on load, and the alarm on a known bare spot.

    expected, measured and tolerance are whole volts; a reading on the border is good. Without the alarm the check
    failed low whatever the reading. For a wet sponge the same holds of its sensitivity against a known resistor.

    >>> check_outcome(3000, 2850, 150)
    'good'
    """
    if tolerance < 0:
        raise ValueError(f"tolerance is {tolerance} V; it must be from 0 up")
    if measured < expected - tolerance or not alarm_seen:
        return "low"
    return "high" if measured > expected + tolerance else "good"


def _share(percent: float | str | Fraction) -> Fraction:
    try:
        share = Fraction(str(percent)) / 100
    except ValueError:
        raise ValueError(f"tolerance_percent is {percent!r}; it must be a number from 0 to below 100") from None
    if not 0 <= share < 1:
        raise ValueError(f"tolerance_percent is {percent}; it must be from 0 to below 100")
    return share
