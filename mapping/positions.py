"""Positions along and around a surface, read as a crew speaks them and printed the way they are read back.

Chainage (metric, or imperial stations, with station equations) and plain lengths; clock positions are in mapping.clock.
Never knows a zone's limits: a surface adds those. No Django.
"""

from __future__ import annotations

import math
import re
import unicodedata
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from accounts.wording import say

# NIST SP 811 (2008), B.6: the international foot, and the US survey foot of 1200/3937 m.
FOOT = {"international": 0.3048, "survey": 1200 / 3937}
ROUNDING = 1e-9

_MINUS = "\u2212\u2010\u2011\u2012\u2013\u2014\u2015\ufe63\uff0d"
NUMBER = r"\d{1,9}(?:[.,]\d{1,12})?"
_CHAINAGE = re.compile(
    rf"(-?) ?(?:(\d{{1,6}}) ?\+ ?)?({NUMBER}) ?(m|ft)?(?: (back|ahead))?",
    re.ASCII | re.IGNORECASE,
)
_THOUSANDS = re.compile(r"\d+,\d{3}", re.ASCII)
_LENGTH = re.compile(rf"({NUMBER}) ?(mm|m|ft|in)", re.ASCII | re.IGNORECASE)
_MEASURE = re.compile(rf"([+-]?) ?({NUMBER})(?: ?(mm|m|ft|in))?", re.ASCII | re.IGNORECASE)


class PositionError(ValueError):
    """A position that cannot be read; the message names the value and what is allowed."""


class StationEquation(NamedTuple):
    """Where stationing jumps: `back` ends the stations before it, `ahead` begins those after it."""

    back: float
    ahead: float


class _Section(NamedTuple):
    """Stations that run on without a jump, in written units; x = station * unit + shift, in metres."""

    low: float
    high: float
    shift: float


def plain_text(text: str) -> str:
    """Text with unicode spaces, minus signs and digits in their plain form, spaces collapsed.

    Raises
    ------
    PositionError
        For a comma that is neither a decimal comma (between digits) nor a separator (followed by a space).
    """
    plain = "".join(_plain_character(character) for character in text)
    plain = " ".join(plain.split())
    if re.search(r",(?! )(?!(?<=\d,)\d)", plain):
        raise PositionError(
            say(
                "{quote} has a stray comma: a comma stands between digits as decimal comma, or "
                "before a space to separate",
                quote=quote(text),
            )
        )
    return plain


def quote(text: str) -> str:
    """The text in quotes, shortened when very long, for messages."""
    return f'"{text}"' if len(text) <= 60 else f'"{text[:57]}..."'


def _plain_character(character: str) -> str:
    if character in _MINUS:
        return "-"
    if character.isspace():
        return " "
    digit = unicodedata.decimal(character, None)
    return character if digit is None else str(digit)


def number_of(text: str) -> float:
    """What `NUMBER` matched, with a decimal point or comma."""
    return float(text.replace(",", "."))


@dataclass(frozen=True)
class Chainage:
    """How one asset writes distance along itself.

    Parameters
    ----------
    system : "metric" (`1+250.40` is km + m) or "imperial" (`12+34.5` is 100-ft stations + ft).
    foot : which foot an imperial asset means.
    equations : station equations in order along the asset, in written units (metres or feet), to 0.01.
    start : lowest chainage of the asset in written units, to 0.01; below zero it allows negative chainage.

    Notes
    -----
    Continuous metres are the chainage itself up to the first equation and run on without jumps after it.
    No chainage may occur more than twice, or "back" and "ahead" would not tell them apart.

    Examples
    --------
    >>> Chainage().read("1+250.40")
    1250.4
    >>> Chainage().print(1250.4)
    '1+250.40'
    """

    system: str = "metric"
    foot: str = "international"
    equations: tuple[StationEquation, ...] = ()
    start: float = 0.0

    def __post_init__(self) -> None:
        if self.system not in ("metric", "imperial"):
            raise PositionError(say("system {system!r} is not allowed: metric or imperial", system=self.system))
        if self.foot not in FOOT:
            raise PositionError(say("foot {foot!r} is not allowed: international or survey", foot=self.foot))
        low = _on_step("start", self.start)
        equations = []
        for number, (written_back, written_ahead) in enumerate(self.equations, 1):
            name = say(
                "station equation {number} ({written_back} back = {written_ahead} ahead)",
                number=number,
                written_back=written_back,
                written_ahead=written_ahead,
            )
            back, ahead = _on_step(name, written_back), _on_step(name, written_ahead)
            if back == ahead:
                raise PositionError(say("{name} does not jump: back and ahead must differ", name=name))
            if back <= low:
                raise PositionError(
                    say(
                        "{name} is out of order: back must be above {low:g}, where its section begins",
                        name=name,
                        low=low,
                    )
                )
            equations.append(StationEquation(back, ahead))
            low = ahead
        object.__setattr__(self, "equations", tuple(equations))
        for section in self._sections:
            if sum(other.low <= section.low <= other.high for other in self._sections) > 2:
                raise PositionError(
                    say(
                        "station equations make chainage {written} occur more than twice: at most twice is "
                        "allowed, so that back and ahead tell them apart",
                        written=self._written(section.low),
                    )
                )

    @property
    def unit(self) -> float:
        """Metres in one written unit."""
        return 1.0 if self.system == "metric" else FOOT[self.foot]

    @property
    def step(self) -> float:
        """The printed step in metres: 0.01 m or 0.01 ft."""
        return 0.01 * self.unit

    @cached_property
    def _sections(self) -> tuple[_Section, ...]:
        sections, low, shift = [], self.start, 0.0
        for back, ahead in self.equations:
            sections.append(_Section(low, back, shift))
            shift += (back - ahead) * self.unit
            low = ahead
        return (*sections, _Section(low, math.inf, shift))

    @cached_property
    def _jumps(self) -> list[float]:
        return [section.high * self.unit + section.shift for section in self._sections[:-1]]

    def read(self, text: str) -> float:
        """Continuous metres of a spoken chainage.

        Raises
        ------
        PositionError
            When the text is no chainage, is ambiguous, lies below the asset's start, does not occur, or
            occurs twice and does not say "back" or "ahead".
        """
        plain = plain_text(text)
        match = _CHAINAGE.fullmatch(plain)
        if match is None:
            raise PositionError(
                say(
                    "chainage {quote} cannot be read: write it like {examples}",
                    quote=quote(text),
                    examples=self._examples(),
                )
            )
        minus, station, offset, unit, side = match.groups()
        if unit and unit.lower() != self.unit_word:
            raise PositionError(
                say(
                    "chainage {quote} is in {unit}: this asset is chained in {unit_word}",
                    quote=quote(text),
                    unit=unit,
                    unit_word=self.unit_word,
                )
            )
        if station is None and _THOUSANDS.fullmatch(offset):
            raise PositionError(
                say(
                    "chainage {quote} is ambiguous: a comma before exactly three digits may be a decimal "
                    "comma or a thousands comma; write {replace} or {replace_2}",
                    quote=quote(text),
                    replace=offset.replace(",", ""),
                    replace_2=offset.replace(",", "."),
                )
            )
        written = number_of(offset)
        if station is not None:
            if written >= self._per_station:
                raise PositionError(
                    say(
                        "chainage {quote}: what follows the + must be below {per_station}",
                        quote=quote(text),
                        per_station=self._per_station,
                    )
                )
            written += int(station) * self._per_station
        return self._continuous(-written if minus else written, side and side.lower(), text)

    def _continuous(self, written: float, side: str | None, text: str) -> float:
        found = [
            (index, section)
            for index, section in enumerate(self._sections)
            if section.low - ROUNDING <= written <= section.high + ROUNDING
        ]
        if not found:
            raise PositionError(
                say(
                    "chainage {quote} does not occur on this asset: {occurring}",
                    quote=quote(text),
                    occurring=self._occurring(),
                )
            )
        if len(found) == 2:
            if side is None:
                raise PositionError(
                    say(
                        'chainage {quote} occurs twice on this asset: say "{written} back" or "{written} ahead"',
                        quote=quote(text),
                        written=self._written(written),
                    )
                )
            index, section = found[0] if side == "back" else found[1]
        else:
            index, section = found[0]
            if (side == "back" and index == len(self.equations)) or (side == "ahead" and index == 0):
                raise PositionError(
                    say(
                        'chainage {quote} occurs once and no station equation lies on its "{side}" side: '
                        "write it without {side}",
                        quote=quote(text),
                        side=side,
                    )
                )
        return written * self.unit + section.shift

    def print(self, metres: float) -> str:
        """The chainage at continuous metres, to 0.01 m or 0.01 ft, with back or ahead where it occurs twice."""
        index = bisect_right(self._jumps, metres)
        written = round((metres - self._sections[index].shift) / self.unit, 2)
        same = [i for i, section in enumerate(self._sections) if section.low <= written <= section.high]
        if len(same) < 2:
            return self._written(written)
        return f"{self._written(written)} {'back' if index == same[0] else 'ahead'}"

    def _written(self, written: float) -> str:
        hundredths = round(abs(written) * 100)
        station, offset = divmod(hundredths, self._per_station * 100)
        digits = len(str(self._per_station)) - 1
        sign = "-" if written < 0 and hundredths else ""
        return f"{sign}{station}+{offset // 100:0{digits}d}.{offset % 100:02d}"

    def read_length(self, text: str) -> float:
        """Metres of a length that names its unit: m, mm, ft or in (this asset's foot)."""
        match = _LENGTH.fullmatch(plain_text(text))
        if match is None:
            raise PositionError(
                say('length {quote} cannot be read: write it like "0.45 m", "450 mm" or "1.5 ft"', quote=quote(text))
            )
        return number_of(match[1]) * self._metres_in(match[2])

    def read_measure(self, text: str) -> float:
        """Metres of what a tape shows, with its sign: `1.20` or `+1.20` in the asset's unit, or with m, mm, ft or in."""
        match = _MEASURE.fullmatch(plain_text(text))
        if match is None:
            raise PositionError(
                say(
                    'length {quote} cannot be read: write it like "1.20" or "1.20 {unit_word}"',
                    quote=quote(text),
                    unit_word=self.unit_word,
                )
            )
        metres = number_of(match[2]) * self._metres_in(match[3] or self.unit_word)
        return -metres if match[1] == "-" else metres

    def print_measure(self, metres: float) -> str:
        """What a tape shows, to 0.01 of the asset's unit, without the unit."""
        return f"{round(metres / self.unit, 2) + 0.0:.2f}"

    def _metres_in(self, unit: str) -> float:
        foot = FOOT[self.foot]
        return {"m": 1.0, "mm": 0.001, "ft": foot, "in": foot / 12}[unit.lower()]

    def print_length(self, metres: float) -> str:
        """A length in the asset's unit, to a millionth where it needs so many places, else two."""
        whole, places = f"{metres / self.unit:.6f}".split(".")
        return f"{whole}.{places.rstrip('0'):0<2} {self.unit_word}"

    @property
    def unit_word(self) -> str:
        """The written unit: "m" or "ft"."""
        return "m" if self.system == "metric" else "ft"

    @property
    def _per_station(self) -> int:
        return 1000 if self.system == "metric" else 100

    def _examples(self) -> str:
        if self.system == "metric":
            return say("1+250.40 (km + m) or 1250.4 (metres)")
        return say("12+34.5 (100-ft stations + ft) or 1234.5 (feet)")

    def _occurring(self) -> str:
        runs = [f"{self._written(low)} to {self._written(high)}" for low, high, _ in self._sections[:-1]]
        return say("it runs ") + ", ".join(
            [*runs, say("from {written} up", written=self._written(self._sections[-1].low))]
        )


def _on_step(name: str, written: float) -> float:
    """The number as it is printed, so that no section of stations ends between two printed steps."""
    if not math.isfinite(written) or abs(round(written, 2) - written) > ROUNDING:
        raise PositionError(
            say("{name}: {written!r} is not allowed: a number written to 0.01", name=name, written=written)
        )
    return round(written, 2)
