"""Words for people, ready for another language: a sentence with named gaps is looked up first and filled afterwards.

No Django here, so the computation may speak too. Until `speak` names a catalogue, and in a notebook, it is English.
What is stored or hashed is never looked up: it stays English whoever acts.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any, NamedTuple

Lookup = Callable[[str], str]
LookupMany = Callable[[str, str, int], str]
DayWords = Callable[[date], str]
MomentWords = Callable[[datetime], str]


def _english(sentence: str) -> str:
    return sentence


def _english_many(one: str, many: str, count: int) -> str:
    return one if count == 1 else many


def _english_day(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"


def _english_moment(moment: datetime) -> str:
    return f"{_english_day(moment)}, {moment:%H:%M}"


_lookup: Lookup = _english
_lookup_many: LookupMany = _english_many
_day: DayWords = _english_day
_moment: MomentWords = _english_moment


def speak(
    lookup: Lookup, lookup_many: LookupMany, day: DayWords = _english_day, moment: MomentWords = _english_moment
) -> None:
    """Take sentences from a catalogue: the singular form, and the form that fits a count; and how days are written."""
    global _lookup, _lookup_many, _day, _moment
    _lookup, _lookup_many, _day, _moment = lookup, lookup_many, day, moment


def say(sentence: str, /, **gaps: Any) -> str:
    """The sentence in the reader's language, its gaps `{name}` or `{name:.1f}` filled.

    >>> say("{area:.1f} m² not tested", area=21.44)
    '21.4 m² not tested'
    """
    return _lookup(sentence).format(**gaps) if gaps else _lookup(sentence)


def say_many(one: str, many: str, count: int, /, **gaps: Any) -> str:
    """The form of the sentence that fits `count`, which fills the gap {count}.

    >>> say_many("{count} flaw open", "{count} flaws open", 3)
    '3 flaws open'
    """
    return _lookup_many(one, many, count).format(count=count, **gaps)


def noted(sentence: str) -> str:
    """The sentence as it is, noted for translation: for tables of words that are looked up with `say` when shown."""
    return sentence


def said_day(day: date) -> str:
    """A day as the reader writes it.

    >>> said_day(date(2031, 5, 14))
    '14 May 2031'
    """
    return _day(day)


def said_moment(moment: datetime) -> str:
    """A day and hour as the reader writes them, on the moment's own clock."""
    return _moment(moment)


class Day(NamedTuple):
    """A day in a gap, written when the sentence is said."""

    day: date

    def __format__(self, spec: str) -> str:
        return said_day(self.day)


class Moment(NamedTuple):
    """A day and hour in a gap, written when the sentence is said."""

    moment: datetime

    def __format__(self, spec: str) -> str:
        return said_moment(self.moment)
