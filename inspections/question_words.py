"""Figures of a question in the reader's units, on the clock of the asset."""

from __future__ import annotations

from datetime import datetime, tzinfo
from math import inf

from accounts.languages import moment_words
from accounts.units import FILM, read, show, to_si
from accounts.wording import say
from inspections.questions import Figure, Tell, clock

FAHRENHEIT_PER_CELSIUS = 1.8


def tell_to(units: str, zone: tzinfo) -> Tell:
    """How figures are told to a reader of these units ("si" or "us"), moments on this clock."""

    def tell(figure: Figure) -> str:
        value, measure = figure
        if isinstance(value, datetime):
            return moment_words(value.astimezone(zone))
        if isinstance(value, str):
            return value
        if isinstance(value, tuple):
            return ", ".join(_film(said, units) for said in value)
        if measure == "duration":
            return clock(value)
        if measure == "count":
            return f"{value:g}"
        if measure == "speed" and value == inf:
            return say("none would do")
        if measure == "degrees":
            return f"{value * FAHRENHEIT_PER_CELSIUS:.1f} °F" if units == "us" else f"{value:.1f} °C"
        return show(value, measure, units, decimals=3 if measure == "metres" else None)

    return tell


def _film(said: str, units: str) -> str:
    number, unit = read(said, FILM)
    return show(to_si(number, unit or FILM.si), "film", units)
