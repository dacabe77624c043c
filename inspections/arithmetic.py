"""A line of arithmetic as data: a sentence with gaps, the figures that fill them, and names.

It is put into words for whoever reads: in their language and units, also long after it was judged. No Django.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from accounts.wording import said_day, say, say_many

Film = Callable[[float], str]
COUNT = "count"


class Figure(NamedTuple):
    """One figure of a line. unit: "um" for film thickness, "m2", "ft2", "m", "%", or "" for a count."""

    name: str
    value: float
    unit: str = ""


DAY = "day"


class Name(NamedTuple):
    """A name in a line: of an area, a spot, a gauge. It is not translated; one called "day" is a day, YYYY-MM-DD."""

    name: str
    text: str


def micrometres(um: float) -> str:
    """A film thickness with at most one decimal, as everybody may read it.

    >>> micrometres(330.0), micrometres(299.94)
    ('330 µm', '299.9 µm')
    """
    return f"{um:.1f}".removesuffix(".0") + " µm"


@dataclass(frozen=True)
class Line:
    """A sentence with gaps; `many` is its form for more than one `count`, where the count decides.

    >>> str(Line("{count} spot, mean {mean}", (Figure("count", 5), Figure("mean", 330.0, "um")), many="{count} spots, mean {mean}"))
    '5 spots, mean 330 µm'
    """

    words: str
    figures: tuple[Figure, ...] = ()
    names: tuple[Name, ...] = ()
    many: str = ""

    def __str__(self) -> str:
        return self.said()

    def said(self, film: Film = micrometres) -> str:
        """The line in the reader's language; `film` puts a thickness in um into their unit."""
        gaps: dict[str, Any] = {figure.name: _shown(figure, film) for figure in self.figures}
        gaps.update((name.name, _named(name)) for name in self.names)
        if not self.many:
            return say(self.words, **gaps)
        count = next(int(figure.value) for figure in self.figures if figure.name == COUNT)
        gaps.pop(COUNT)
        return say_many(self.words, self.many, count, **gaps)


def _named(name: Name) -> str:
    return said_day(date.fromisoformat(name.text)) if name.name == DAY else name.text


def _shown(figure: Figure, film: Film) -> str:
    if figure.unit == "um":
        return film(figure.value)
    decimals = 1 if figure.unit in ("m2", "ft2") else 4
    text = f"{figure.value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    units = {"m2": " m²", "ft2": " ft²", "m": " m", "%": " %", "": ""}
    return text + units[figure.unit]
