"""What physics says beside a test voltage: advice with its source and where it holds, never a verdict.

A brush is no uniform field and the gap is the film at the flaw: no standard is called wrong by these figures.
"""

from __future__ import annotations

from math import isfinite, sqrt
from typing import NamedTuple

from accounts.wording import noted, say

STANDARD_PRESSURE_BAR = 1.01325
LEAST_PD_BAR_CM = 0.01
PASCHEN_MINIMUM_VOLTS = 327
PASCHEN_PD_TORR_CM = 0.57
_TORR_PER_BAR = 750.0617
KUFFEL = noted("Kuffel, Zaengl, Kuffel, High Voltage Engineering: Fundamentals, from memory")
NOT_A_VERDICT = noted(
    "Advice, not a verdict: the allowed band is the ruling document's alone. A brush is no uniform field, and the gap "
    "is the film at the flaw."
)


class Advice(NamedTuple):
    """A figure in V (None outside where it holds), how it was reckoned, where it holds, and its source."""

    volts: float | None
    words: str
    holds: str
    source: str


def spark_over(gap_um: float, pressure_bar: float = STANDARD_PRESSURE_BAR, air_c: float = 20.0) -> Advice:
    """Return the voltage at which an air gap as thick as the film sparks over in a uniform field.

    Parameters
    ----------
    gap_um : the film's thickness, um, above 0.
    pressure_bar : air pressure, 0.3 to 1.2 bar.
    air_c : air temperature, -60 to 80 degC.

    Notes
    -----
    V[kV] = 24.36 pd + 6.72 sqrt(pd), pd in bar cm at 20 degC, above about 0.01 bar cm; pressure is reduced to 20 degC
    by (273 + 20) / (273 + t). No figure below. Raises ValueError naming the argument, its value and what is allowed.

    Examples
    --------
    >>> round(spark_over(1000, pressure_bar=1).volts)
    4561
    """
    _check("gap_um", gap_um, 0, 1_000_000, "above 0 and at most 1000000 um")
    _check("pressure_bar", pressure_bar, 0.3, 1.2, "from 0.3 to 1.2 bar")
    _check("air_c", air_c, -60, 80, "from -60 to 80 degC")
    pd = pressure_bar * 293 / (273 + air_c) * gap_um / 10_000
    holds = say("uniform field in air, pd above about {least} bar·cm", least=LEAST_PD_BAR_CM)
    if pd < LEAST_PD_BAR_CM:
        least_um = gap_um * LEAST_PD_BAR_CM / pd
        words = say(
            "No figure: pd is {pd:.4f} bar·cm, and the formula holds above about {least} bar·cm ({um:.0f} µm in this air).",
            pd=pd,
            least=LEAST_PD_BAR_CM,
            um=least_um,
        )
        return Advice(None, words, holds, KUFFEL)
    volts = 1000 * (24.36 * pd + 6.72 * sqrt(pd))
    words = say(
        "24.36·pd + 6.72·√pd kV, pd = {pd:.4f} bar·cm: an air gap of {um:g} µm sparks over at {volts:.0f} V.",
        pd=pd,
        um=gap_um,
        volts=volts,
    )
    return Advice(volts, words, holds, KUFFEL)


def least_spark(pressure_bar: float = STANDARD_PRESSURE_BAR) -> Advice:
    """Return the Paschen minimum of air: below it no gap sparks over, however thin.

    pressure_bar : 0.3 to 1.2 bar. Raises ValueError outside.
    """
    _check("pressure_bar", pressure_bar, 0.3, 1.2, "from 0.3 to 1.2 bar")
    gap_um = PASCHEN_PD_TORR_CM / _TORR_PER_BAR / pressure_bar * 10_000
    words = say(
        "Below about {volts} V no air gap sparks over; the minimum lies near {pd} Torr·cm, a gap of {um:.1f} µm in this air.",
        volts=PASCHEN_MINIMUM_VOLTS,
        pd=PASCHEN_PD_TORR_CM,
        um=gap_um,
    )
    return Advice(PASCHEN_MINIMUM_VOLTS, words, say("uniform field in air"), KUFFEL)


def film_strength(strength_kv_per_mm: float | None, thinnest_um: float, share: float = 0.5) -> Advice:
    """Return the voltage the film itself is said to bear: its stated strength, the thinnest film, and a margin.

    Parameters
    ----------
    strength_kv_per_mm : what the product data sheet states, above 0; None when it states none.
    thinnest_um : 5th percentile of the readings, um, above 0.
    share : margin: the share of the strength that is used, above 0 and at most 1.

    Raises ValueError naming the argument, its value and what is allowed.
    """
    holds = say("only as far as the product data sheet's strength holds for this film, its age and its wetness")
    source = noted("product data sheet; the margin is chosen, not published")
    if strength_kv_per_mm is None:
        words = say("No figure: the product data sheet states no dielectric strength.")
        return Advice(None, words, holds, source)
    _check("strength_kv_per_mm", strength_kv_per_mm, 0, 1000, "above 0 and at most 1000 kV/mm")
    _check("thinnest_um", thinnest_um, 0, 1_000_000, "above 0 and at most 1000000 um")
    _check("share", share, 0, 1, "above 0 and at most 1")
    volts = strength_kv_per_mm * thinnest_um * share
    words = say(
        "{strength:g} kV/mm on the thinnest film, {um:g} µm, times {share:g}: {volts:.0f} V. Too high a voltage burns good "
        "coating.",
        strength=strength_kv_per_mm,
        um=thinnest_um,
        share=share,
        volts=volts,
    )
    return Advice(volts, words, holds, source)


def _check(name: str, value: float, low: float, high: float, allowed: str) -> None:
    inside = isfinite(value) and low <= value <= high and not (low == 0 and value == 0)
    if not inside:
        raise ValueError(f"{name} is {value}; it must be {allowed}")
