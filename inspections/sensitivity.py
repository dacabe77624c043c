"""The wet sponge: whether it alarms at the resistance it should, and through how thick a film it reaches at all.

Its voltage is low and is no setting of the crew's, so a check is made against a known resistor. No database.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import floor
from types import MappingProxyType
from typing import NamedTuple

from accounts.ohms import in_ohms
from accounts.wording import noted, say
from inspections.causes import Outcome

USUAL_OHM = 80_000
USUAL_TOLERANCE_PERCENT = 10.0
USUAL_SOURCE = noted("ASTM D5162, method A, from memory: the specification is silent")

REACHES_UM: Mapping[str, float] = MappingProxyType({"water": 254.0, "water with wetting agent": 508.0})
"""Thickest film (um) a wet sponge reaches through: 10 mil with water, 20 mil with a wetting agent; published."""
REACH_SOURCE = noted("published: 10 mil (0.254 mm) with water, 20 mil (0.508 mm) with a wetting agent")


class Sensitivity(NamedTuple):
    """At which resistance between sponge and return the alarm has to sound, and the tolerance, in whole ohms."""

    ohm: int
    tolerance: int

    @property
    def low(self) -> int:
        return self.ohm - self.tolerance

    @property
    def high(self) -> int:
        return self.ohm + self.tolerance


class ProvesNothing(ValueError):
    """What was seen at this resistor says nothing about the sensitivity that is asked for."""


def asked_sensitivity(ohm: int | None, tolerance_percent: float | None) -> Sensitivity:
    """Return the sensitivity a specification asks for; where it is silent, 80 kohm and 10 % (ASTM D5162, from memory).

    The tolerance is rounded down to whole ohms, so that it never allows more than was stated.

    >>> asked_sensitivity(None, None)
    Sensitivity(ohm=80000, tolerance=8000)
    """
    share = Fraction(str(USUAL_TOLERANCE_PERCENT if tolerance_percent is None else tolerance_percent)) / 100
    whole = USUAL_OHM if ohm is None else ohm
    return Sensitivity(whole, floor(whole * share))


def sensitivity_outcome(asked: Sensitivity, resistor_ohm: int, alarm: bool) -> Outcome:
    """Return the outcome of a check against a known resistor.

    Parameters
    ----------
    asked : where the alarm has to sound.
    resistor_ohm : the resistor between sponge and return, whole ohms, above 0; the ends of the range are in it.
    alarm : whether it sounded.

    Returns
    -------
    "good" with an alarm inside the range; "low" without one inside or below it (not sensitive enough); "high" with one
    above it (more sensitive than asked: sound film may alarm).

    Raises
    ------
    ProvesNothing for an alarm below the range or silence above it, naming the range.

    Examples
    --------
    >>> sensitivity_outcome(Sensitivity(80000, 8000), 82000, True)
    'good'
    """
    if resistor_ohm < asked.low and alarm:
        raise ProvesNothing(
            say(
                "{ohm} is below the {low} to {high} asked for: an alarm there does not show that it would sound at the "
                "higher resistance. Check with a resistor of {low} to {high}.",
                ohm=in_ohms(resistor_ohm),
                low=in_ohms(asked.low),
                high=in_ohms(asked.high),
            )
        )
    if resistor_ohm > asked.high and not alarm:
        raise ProvesNothing(
            say(
                "{ohm} is above the {low} to {high} asked for: silence there is as it should be and proves nothing. "
                "Check with a resistor of {low} to {high}.",
                ohm=in_ohms(resistor_ohm),
                low=in_ohms(asked.low),
                high=in_ohms(asked.high),
            )
        )
    if not alarm:
        return "low"
    return "high" if resistor_ohm > asked.high else "good"


def too_thick(film_um: float | None, medium: str) -> bool:
    """Whether a film is thicker than a wet sponge reaches through with this medium; the limit itself is reached."""
    limit = REACHES_UM.get(medium)
    return limit is not None and film_um is not None and film_um > limit
