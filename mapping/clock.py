"""Clock positions around a pipe, read as a crew speaks them and printed the way they are read back. No Django."""

from __future__ import annotations

import re

from accounts.wording import say
from mapping.positions import NUMBER, PositionError, number_of, plain_text, quote

CLOCK_STEPS = 12 * 60 * 60

_CLOCK = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d))?", re.ASCII)
_TURN = re.compile(rf"(-?) ?({NUMBER}) ?(h|deg|°)", re.ASCII | re.IGNORECASE)


def read_clock(text: str) -> float:
    """Fraction of a turn, 0 <= f < 1, clockwise from 12 o'clock, of `4:30`, `4:30:15`, `4.5 h` or `135 deg`.

    Raises
    ------
    PositionError
        When the text is no clock position, is ambiguous (`4.30`) or out of range.

    Examples
    --------
    >>> read_clock("3:00"), read_clock("12:00"), read_clock("180 deg")
    (0.25, 0.0, 0.5)
    """
    plain = plain_text(text)
    if match := _CLOCK.fullmatch(plain):
        hours, minutes, seconds = (int(part or 0) for part in match.groups())
        if hours > 12 or minutes > 59 or seconds > 59:
            raise PositionError(
                say("clock {quote} is out of range: 0:00 to 12:59, minutes and seconds below 60", quote=quote(text))
            )
        return (hours % 12 * 3600 + minutes * 60 + seconds) / CLOCK_STEPS
    if match := _TURN.fullmatch(plain):
        minus, number, unit = match.groups()
        value = number_of(number)
        if unit.lower() == "h":
            if minus or value >= 13:
                raise PositionError(
                    say("clock {quote} is out of range: decimal hours are 0 to below 13", quote=quote(text))
                )
            return value % 12 / 12
        if minus or value > 360:
            raise PositionError(
                say("clock {quote} is out of range: degrees are 0 to 360, clockwise from the top", quote=quote(text))
            )
        return value % 360 / 360
    if re.fullmatch(NUMBER, plain, re.ASCII):
        raise PositionError(
            say(
                "clock {quote} is ambiguous: write hours and minutes like 4:30, decimal hours like "
                "4.5 h, or degrees like 135 deg",
                quote=quote(text),
            )
        )
    raise PositionError(
        say(
            "clock {quote} cannot be read: write it like 4:30 or 4:30:15 (minutes and seconds "
            "with two digits), 4.5 h or 135 deg",
            quote=quote(text),
        )
    )


def print_clock(fraction: float) -> str:
    """Clock position h:mm:ss with 12 at the top, to one second, of a fraction of a turn (any turn).

    Examples
    --------
    >>> print_clock(0.375), print_clock(0.0)
    ('4:30:00', '12:00:00')
    """
    seconds = round(fraction * CLOCK_STEPS) % CLOCK_STEPS
    return f"{seconds // 3600 or 12}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
