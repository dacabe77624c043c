"""Whether a person's qualification held on a day, and whether it is the one that was asked for. No Django.

Who is qualified for which work is for the specification, the scheme and local rules to say; here days are compared and words.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Literal, NamedTuple

from accounts.wording import said_day, say, say_many

SOON_DAYS = 30
"""So long before a qualification runs out it is said (own choice)."""

Held = Literal["valid", "not asked for", "lapsed", "none"]


class PaperFact(NamedTuple):
    """A card or certificate: it holds from its day of issue to its last day, both included; None: it does not run out."""

    scheme: str
    level: str
    issued: date
    expires: date | None

    @property
    def label(self) -> str:
        return f"{self.scheme}, {self.level}" if self.level else self.scheme


class Asked(NamedTuple):
    """What a specification asks of who sweeps: in its own words, and the papers it takes; empty where it asks nothing.

    A line of `accepted` is a scheme ("Coating inspector"), which takes any level, or a scheme and level
    ("Coating inspector, level 2"). Words without a list take any paper, and a person compares it with them.
    """

    words: str = ""
    accepted: tuple[str, ...] = ()

    @property
    def anything(self) -> bool:
        return bool(self.words or self.accepted)

    @property
    def sentence(self) -> str:
        return self.words or say(" or ").join(self.accepted)


class Shown(NamedTuple):
    """How a person stood on a day, and the paper that says so: the one that holds longest, or ran out last."""

    held: Held
    paper: PaperFact | None


def holds(paper: PaperFact, day: date) -> bool:
    """Whether a paper holds on a day."""
    return paper.issued <= day and (paper.expires is None or day <= paper.expires)


def is_accepted(paper: PaperFact, accepted: Sequence[str]) -> bool:
    """Whether a paper is one of those asked for; letters and spaces may differ. An empty list takes any paper."""
    names = {same(paper.label), same(paper.scheme)}
    return not accepted or any(same(line) in names for line in accepted)


def same(words: str) -> str:
    """Words as they are compared: capitals and spaces do not count."""
    return " ".join(words.casefold().split())


def shown_on(papers: Iterable[PaperFact], day: date, accepted: Sequence[str] = ()) -> Shown:
    """Return how somebody with these papers stood on the day.

    "valid": one that is asked for holds. "lapsed": none does, but one that is asked for ran out before the day. "not asked
    for": what holds is another one. "none": nothing had been issued by then.
    """
    issued = [paper for paper in papers if paper.issued <= day]
    asked = [paper for paper in issued if is_accepted(paper, accepted)]
    for rows, held in ((asked, "valid"), (asked, "lapsed"), (issued, "not asked for")):
        fitting = [row for row in rows if holds(row, day) is (held != "lapsed")]
        if fitting:
            return Shown(held, max(fitting, key=_last_day))  # type: ignore[arg-type]
    return Shown("lapsed", max(issued, key=_last_day)) if issued else Shown("none", None)


def _last_day(paper: PaperFact) -> date:
    return paper.expires or date.max


def days_left(paper: PaperFact, today: date) -> int | None:
    """Return how many days a paper still holds after today; negative when it ran out, None when it does not."""
    return None if paper.expires is None else (paper.expires - today).days


def state_of(paper: PaperFact, today: date) -> Literal["valid", "soon", "lapsed", "ahead"]:
    """Return "ahead" before its day of issue, "soon" in its last 30 days, "lapsed" after its last one, else "valid"."""
    left = days_left(paper, today)
    if paper.issued > today:
        return "ahead"
    if left is None or left > SOON_DAYS:
        return "valid"
    return "soon" if left >= 0 else "lapsed"


def state_words(paper: PaperFact, today: date) -> str:
    """Return the same in words."""
    left = days_left(paper, today)
    match state_of(paper, today):
        case "ahead":
            return say("holds from {day}", day=said_day(paper.issued))
        case "lapsed":
            return say_many("ran out {count} day ago", "ran out {count} days ago", -(left or 0))
        case "soon" if left == 0:
            return say("today is its last day")
        case "soon":
            return say_many("runs out in {count} day", "runs out in {count} days", left or 0)
    return say("valid") if left is not None else say("valid; it does not run out")
