"""A run as it went: the facts that questions are asked from, in SI units. No Django."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from inspections.permits import PermitFact
from inspections.questions import Figure, Question, ask


class LaneSaid(NamedTuple):
    """Lane `number` of `of`, `width` wide, on ground `across` wide (m), which is a closed ring or has two edges."""

    number: int
    of: int
    width: float
    across: float
    closed: bool


@dataclass(frozen=True)
class Swept:
    """One swath. area in m2; length in m where a weld or edge was swept (area is 0 then); stands as it is judged now."""

    id: Hashable
    said: str
    started_at: datetime
    ended_at: datetime
    order: int
    area: float
    length: float = 0.0
    hand_timed: bool = False
    lane: LaneSaid | None = None
    stands: bool = False


class Reading(NamedTuple):
    """A check of the output, V; None where it was of the sensitivity, which alarms at the same resistor every time.

    hand_timed : it was written down afterwards, its time typed in.
    """

    id: Hashable
    at: datetime
    order: int
    measured: int | None
    hand_timed: bool = False


class Change(NamedTuple):
    """The battery was changed."""

    id: Hashable
    at: datetime


class Air(NamedTuple):
    """Air and steel (degC). sun: whether sun may have warmed the steel; None where that is not known. inside: a lining."""

    id: Hashable
    at: datetime
    air: float
    steel: tuple[float, ...]
    sun: bool | None = None
    inside: bool = False


class SpotRead(NamedTuple):
    """A thickness spot with its readings as they were given."""

    id: Hashable
    said: str
    at: datetime
    readings: tuple[str, ...]


@dataclass(frozen=True)
class Course:
    """A run as it went. Widths in m, speed in m/s; permits empty where none is named; airs are those of its coating."""

    id: Hashable
    electrical: bool
    opened_at: datetime
    closed_at: datetime | None
    electrode: float | None
    speed_limit: float
    overlap: float = 0.0
    swept: tuple[Swept, ...] = ()
    checks: tuple[Reading, ...] = ()
    batteries: tuple[Change, ...] = ()
    permits: tuple[PermitFact, ...] = ()
    airs: tuple[Air, ...] = ()


def ask_of_run(
    code: str,
    course: Course,
    about: Iterable[Hashable],
    since: datetime,
    sentence: str,
    arithmetic: str,
    figures: dict[str, Figure],
) -> Question:
    """A question of a run, asked of these rows."""
    return ask(code, course.id, about, since, sentence, arithmetic, figures)


def seconds_of(swath: Swept) -> float:
    """How long a swath took (s); 0 where its clock runs backwards."""
    return max((swath.ended_at - swath.started_at).total_seconds(), 0.0)


def in_order(swaths: Iterable[Swept]) -> list[Swept]:
    """Swaths in order of recording."""
    return sorted(swaths, key=lambda swath: (swath.order, swath.ended_at, str(swath.id)))


def places_of(rows: Sequence[Swept | SpotRead], most: int = 3) -> Figure:
    """Where swaths or spots were, the first few named."""
    places = list(dict.fromkeys(row.said for row in rows))
    more = f" … (+{len(places) - most})" if len(places) > most else ""
    return Figure(f"{', '.join(places[:most])}{more}", "words")
