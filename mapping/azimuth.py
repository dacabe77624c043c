"""Azimuths around a tank, read as a crew speaks them and printed the way they are read back. No Django."""

from __future__ import annotations

import re

from accounts.wording import say
from mapping.positions import PositionError, plain_text, quote

STEPS = 36_000
"""Printed steps of 0.01 deg in a turn."""

_AZIMUTH = re.compile(r"(-?) ?(\d{1,9}(?:[.,]\d{1,12})?) ?(?:deg|°)", re.ASCII | re.IGNORECASE)
_BARE = re.compile(r"\d{1,9}(?:[.,]\d{1,12})?", re.ASCII)


def read_azimuth(text: str) -> float:
    """Fraction of a turn, 0 <= f < 1, clockwise seen from above from the datum, of `127.5 deg` or `127.5°`.

    Raises
    ------
    PositionError
        When the text is no azimuth, is negative or above 360 deg.

    Examples
    --------
    >>> read_azimuth("90 deg"), read_azimuth("360°")
    (0.25, 0.0)
    """
    plain = plain_text(text)
    match = _AZIMUTH.fullmatch(plain)
    if match is None:
        raise PositionError(say("azimuth {quote} cannot be read: write it like 127.5 deg", quote=quote(text)))
    degrees = float(match[2].replace(",", "."))
    if match[1] or degrees > 360:
        raise PositionError(
            say("azimuth {quote} is out of range: 0 to 360 deg, clockwise seen from above", quote=quote(text))
        )
    return degrees % 360 / 360


def read_azimuths(text: str) -> tuple[float, float] | None:
    """First and second of `20 deg to 75 deg` (or `20 to 75 deg`) as fractions of a turn; None for other words.

    Clockwise from the first to the second, which is past 1 where it lies beyond the datum; twice the same azimuth is
    the full turn.
    """
    plain = plain_text(text)
    ends = re.split(r" to ", plain, flags=re.IGNORECASE)
    if len(ends) != 2 or not re.search(r"(?:deg|°)$", plain, re.IGNORECASE):
        return None
    first = read_azimuth(f"{ends[0]} deg" if _BARE.fullmatch(ends[0]) else ends[0])
    second = read_azimuth(ends[1])
    return first, second if second > first else second + 1


def print_azimuth(fraction: float) -> str:
    """Azimuth to 0.01 deg of a fraction of a turn (any turn).

    Examples
    --------
    >>> print_azimuth(0.25), print_azimuth(1.0)
    ('90.00 deg', '0.00 deg')
    """
    return _printed(round(fraction * STEPS))


def print_azimuths(first: float, second: float) -> str:
    """What `read_azimuths` reads; a sector below one step is not printed as the full turn."""
    low, high = round(first * STEPS), round(second * STEPS)
    return f"{_printed(low)} to {_printed(high + (low == high and first != second))}"


def _printed(step: int) -> str:
    step %= STEPS
    return f"{step // 100}.{step % 100:02d} deg"
