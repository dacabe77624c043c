"""Questions about what was recorded: what is odd, by which figures, after which rule; and how that is put into words.

A question is asked, never a verdict: somebody who was there answers it, and the answer is recorded with it. No Django.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from math import inf
from typing import Literal, NamedTuple

from accounts.wording import noted, say

Measure = Literal[
    "area", "metres", "speed", "duration", "volts", "celsius", "degrees", "moment", "count", "readings", "words"
]
Mark = Literal["specification", "from memory", "common practice", "own choice"]
Verdict = Literal["explained", "to be corrected", "so it was"]

SPEED_CODES = ("ground_speed", "feature_speed", "together_speed")
"""The questions on which ground hangs: held until they are answered, lost once it was so."""


class Figure(NamedTuple):
    """A figure of a question: m2, m, m/s, s, V, degC (a temperature or a difference), a moment, a count, or words.

    "readings" are film thicknesses as they were given, each with its unit.
    """

    value: float | int | datetime | str | tuple[str, ...]
    measure: Measure


class Kind(NamedTuple):
    """What all questions of one code share: a title, what it rests on, and how well that is known."""

    title: str
    source: str
    mark: Mark


KINDS: Mapping[str, Kind] = {
    "ground_speed": Kind(
        noted("Swept faster than the limit"),
        noted("Least possible time = area / (electrode width × speed), turning not counted; the limit is the specification's."),
        "common practice",
    ),
    "feature_speed": Kind(
        noted("Weld or edge swept faster than the limit"),
        noted("Least possible time = length / speed, turning not counted; the limit is the specification's."),
        "common practice",
    ),
    "together_speed": Kind(
        noted("More swept at once than time allows"),
        noted("One electrode is in one place at a time: what was swept between two moments needs its least times one after the other."),
        "common practice",
    ),
    "lanes_few": Kind(
        noted("Lanes overlap less than asked"),
        noted("Lanes evenly spread over the width; the overlap asked for is the specification's."),
        "specification",
    ),
    "lanes_many": Kind(
        noted("More lanes than the width needs"),
        noted("Lanes = the width over the electrode less the overlap asked for, rounded up."),
        "common practice",
    ),
    "wide_lane": Kind(
        noted("Lane wider than the electrode"), noted("One pass sweeps no wider than the electrode is."), "common practice"
    ),
    "swept_again": Kind(
        noted("Swept again in the same run"),
        noted("A sweep repeated at full voltage harms the film, and what stands needs none."),
        "common practice",
    ),
    "battery": Kind(
        noted("Long on one battery"),
        noted("Batteries last about 8 to 40 h by unit and voltage; asked from 8 h on."),
        "common practice",
    ),
    "after_permit": Kind(
        noted("Swept after the permit ran out"),
        noted("No sweeping past the expiry of a permit without a new one. Barespot never authorises work; the permit does."),
        "common practice",
    ),
    "same_checks": Kind(
        noted("The same reading again and again"),
        noted("Asked once a run, from three readings in a row that are alike to the digit."),
        "own choice",
    ),
    "same_film": Kind(
        noted("The same thickness again and again"),
        noted(
            "Asked where every reading of a spot, or three spots in a row, are alike to a digit that is worth 0.5 % or less."
        ),
        "own choice",
    ),
    "warm_steel": Kind(
        noted("Steel warmer than the air without sun"),
        noted("Asked from 1 °C on, inside, or between 22:00 and 4:00 by the asset's clock."),
        "own choice",
    ),
    "clock_back": Kind(
        noted("The clock goes backwards"),
        noted("The order of recording rules, the clock does not; asked from one minute on."),
        "own choice",
    ),
    "air_missing": Kind(
        noted("Air and steel not measured"),
        noted("Measured before work begins and while it goes on; counted from 4 h before the run was opened."),
        "own choice",
    ),
    "air_old": Kind(
        noted("Air and steel measured long before"),
        noted("Measured again as the day goes on: at least every 4 h."),
        "own choice",
    ),
}  # fmt: skip

MARKS: Mapping[Mark, str] = {
    "specification": noted("by the specification"),
    "from memory": noted("from memory"),
    "common practice": noted("common practice, no source"),
    "own choice": noted("our own choice, no source"),
}


@dataclass(frozen=True)
class Question:
    """One question: `sentence` and `arithmetic` are English with a gap for each of the `figures`.

    key : the code and the rows it is about, so that an answer stays with its question and other rows make another one.
    run : the run it is asked of; None where it hangs on no run. about : ids of the rows. since : when the last of them
    was recorded.
    """

    code: str
    key: str
    run: Hashable | None
    about: tuple[Hashable, ...]
    since: datetime
    sentence: str
    arithmetic: str
    figures: Mapping[str, Figure]

    @property
    def kind(self) -> Kind:
        return KINDS[self.code]

    @property
    def on_ground(self) -> bool:
        """Whether ground hangs on the answer."""
        return self.code in SPEED_CODES


def ask(
    code: str,
    run: Hashable | None,
    about: Iterable[Hashable],
    since: datetime,
    sentence: str,
    arithmetic: str,
    figures: Mapping[str, Figure],
) -> Question:
    """A question, asked of these rows. Raises ValueError for a code that no question has."""
    rows = tuple(sorted(about, key=str))
    return Question(code, key_of(code, rows), run, rows, since, sentence, arithmetic, figures)


def key_of(code: str, about: Iterable[Hashable]) -> str:
    """The key of a question: its code and a digest of the ids of its rows, whatever their order.

    >>> key_of("battery", ["b", "a"]) == key_of("battery", ["a", "b"])
    True

    Raises ValueError for a code that no question has.
    """
    if code not in KINDS:
        raise ValueError(f"code {code!r} is not one of: {', '.join(KINDS)}")
    rows = "\n".join(sorted(map(str, about)))
    return f"{code}:{hashlib.sha256(rows.encode()).hexdigest()[:32]}"


def code_of(key: str) -> str | None:
    """The code that a key names; None where it is no key of a question."""
    code, mark, digest = key.partition(":")
    well_made = mark and len(digest) == 32 and set(digest) <= set("0123456789abcdef")
    return code if code in KINDS and well_made else None


Tell = Callable[[Figure], str]


def plain(figure: Figure) -> str:
    """A figure in SI units and English order, moments by their own clock: for notebooks, tests and what is kept."""
    value, measure = figure
    if isinstance(value, str):
        return value
    if isinstance(value, tuple):
        return ", ".join(value)
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    if measure == "duration":
        return clock(value)
    if measure == "speed" and value == inf:
        return say("none would do")
    return {
        "area": f"{value:.1f} m²" if value >= 0.1 or value == 0 else f"{value:.3f} m²",
        "metres": f"{value:.3g} m",
        "speed": f"{value:.2f} m/s",
        "volts": f"{value:g} V",
        "celsius": f"{value:g} °C",
        "degrees": f"{value:.1f} °C",
    }.get(measure, f"{value:g}")


def clock(seconds: float) -> str:
    """A length of time in hours, minutes and seconds, to the second.

    >>> clock(133.3), clock(31500), clock(0)
    ('2 min 13 s', '8 h 45 min', '0 s')
    """
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    parts = ((hours, "h"), (minutes, "min"), (rest, "s"))
    return " ".join(f"{amount} {unit}" for amount, unit in parts if amount) or "0 s"


def sentence_of(question: Question, tell: Tell = plain) -> str:
    """The question as a sentence in the reader's language, its figures as `tell` says them."""
    return say(question.sentence, **{name: tell(figure) for name, figure in question.figures.items()})


def arithmetic_of(question: Question, tell: Tell = plain) -> str:
    """How it was computed, "" where nothing is."""
    if not question.arithmetic:
        return ""
    return say(question.arithmetic, **{name: tell(figure) for name, figure in question.figures.items()})


def source_of(question: Question) -> str:
    """What it rests on, and how well that is known."""
    kind = question.kind
    return f"{say(kind.source)} ({say(MARKS[kind.mark])})"
