"""A film thickness as somebody said it, "20 mil", read exactly and with its unit: a voltage rule has a form for each."""

from __future__ import annotations

from fractions import Fraction

from accounts.units import FILM, NotRead, read
from accounts.wording import say
from inspections.voltage_formulas import Given, thickness_given


def thickness_said(said: str, units: str = "si", basis: str = "") -> Given:
    """The thickness; a bare number is in the reader's unit. Raises ValueError naming what was said and what can be."""
    try:
        number, unit = read(said, FILM)
    except NotRead as problem:
        raise ValueError(
            say('"{said}" {problem}. Write a film thickness, such as 500 µm or 20 mil.', said=said, problem=problem)
        ) from None
    name = unit.name if unit else FILM.us if units == "us" else FILM.si.name
    return thickness_given(Fraction(number), name, basis)
