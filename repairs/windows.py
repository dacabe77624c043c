"""What comes next on a patch, when it opens and when it closes: prepared, coated, cured, handed over, retest.

Hours come from the specification and the product data sheet; a missed window is said, never bent. No Django.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal, NamedTuple

from accounts.wording import say
from inspections.terms import RepairCoat

StepKind = Literal["prepared", "coated", "cured", "handed over"]
NextKind = Literal["prepared", "coated", "cured", "handed over", "retest"]
Status = Literal["workable now", "opens at", "closes at", "missed"]

_RANK: dict[StepKind, int] = {"prepared": 0, "coated": 1, "cured": 2, "handed over": 3}


@dataclass(frozen=True)
class WorkRules:
    """Waiting times in hours. Each coat says how long to wait after it, at least and at most, before the next one.

    primer_within_h: the first coat follows preparation within so many hours; None for no limit. cure_h: from the last
    coat until the patch may be retested.
    """

    coats: tuple[RepairCoat, ...]
    primer_within_h: float | None = None
    cure_h: float = 0.0

    def __post_init__(self) -> None:
        if not self.coats:
            raise ValueError(say("coats is empty; a repair needs at least one coat"))
        for coat in self.coats:
            if coat.maximum_wait_h is not None and coat.maximum_wait_h < coat.minimum_wait_h:
                raise ValueError(
                    say(
                        "maximum_wait_h of {coat} is {maximum_wait_h}; it must not be below its minimum, "
                        "{minimum_wait_h}",
                        coat=coat.name,
                        maximum_wait_h=coat.maximum_wait_h,
                        minimum_wait_h=coat.minimum_wait_h,
                    )
                )


@dataclass(frozen=True)
class StepDone:
    """One recorded step; coat counts from 1 and belongs to "coated" only."""

    kind: StepKind
    at: datetime
    coat: int | None = None


class NextStep(NamedTuple):
    """The next step of a patch. status "closes at": may be done now, until closes_at.

    opens_at, closes_at: None where nothing limits. words name the step, sentence says what to do or why it is missed.
    """

    kind: NextKind
    coat: int | None
    words: str
    status: Status
    opens_at: datetime | None
    closes_at: datetime | None
    sentence: str


class Breach(NamedTuple):
    """A step that was recorded outside its window or its turn; it stays recorded and is flagged."""

    step: StepDone
    words: str


def next_step(rules: WorkRules, done: Iterable[StepDone], now: datetime) -> NextStep:
    """Return what comes next in one cycle of work, with its window as seen at `now`.

    Steps may come in any order; they count by time. After a missed window the surface is prepared again: preparation
    between coats takes the closing of the recoat window away (common practice, no source) and keeps the coats that are
    on; after the last coat it begins anew. Both ends of a window belong to it.
    """
    steps = sorted(done, key=lambda step: (step.at, _RANK[step.kind], step.coat or 0))
    kind, coat, opens_at, closes_at = _due(rules, steps)
    words = _words(rules, kind, coat)
    if opens_at is not None and now < opens_at:
        status: Status = "opens at"
        sentence = say("{words} in {hours}.", words=words, hours=_hours(opens_at - now))
    elif closes_at is None:
        status, sentence = "workable now", say("{words} now.", words=words)
    elif now <= closes_at:
        status, sentence = (
            "closes at",
            say("{words} now; {hours} left.", words=words, hours=_hours(closes_at - now)),
        )
    else:
        status = "missed"
        sentence = say(
            "{words} was due {hours} ago: the window is missed, prepare the surface again.",
            words=words,
            hours=_hours(now - closes_at),
        )
    return NextStep(kind, coat, words, status, opens_at, closes_at, sentence)


def breaches(rules: WorkRules, done: Iterable[StepDone]) -> tuple[Breach, ...]:
    """Return the steps made too early, too late or out of turn; preparing again is never out of turn."""
    steps = sorted(done, key=lambda step: (step.at, _RANK[step.kind], step.coat or 0))
    found = []
    for index, step in enumerate(steps):
        if step.kind == "prepared":
            continue
        due = next_step(rules, steps[:index], step.at)
        name = _words(rules, step.kind, step.coat)
        if (due.kind, due.coat) != (step.kind, step.coat):
            found.append(Breach(step, say("{name} came where this was next: {due}", name=name, due=due.words)))
        elif due.opens_at is not None and due.status == "opens at":
            found.append(
                Breach(step, say("{name} came {hours} too early", name=name, hours=_hours(due.opens_at - step.at)))
            )
        elif due.closes_at is not None and due.status == "missed":
            found.append(
                Breach(step, say("{name} came {hours} too late", name=name, hours=_hours(step.at - due.closes_at)))
            )
    return tuple(found)


def _due(rules: WorkRules, steps: Sequence[StepDone]) -> tuple[NextKind, int | None, datetime | None, datetime | None]:
    """The next step with the times it opens and closes."""
    if not steps:
        return "prepared", None, None, None
    last = steps[-1]
    coats = [step for step in steps if step.kind == "coated"]
    if last.kind == "prepared":
        return _after_preparation(rules, last, coats)
    cured_at = coats[-1].at + timedelta(hours=rules.cure_h) if coats else last.at
    if last.kind == "handed over":
        return "retest", None, cured_at, None
    if last.kind == "cured":
        return "handed over", None, cured_at, None
    number = last.coat or 1
    if number >= len(rules.coats):
        return "cured", None, cured_at, None
    opens_at, closes_at = _recoat_window(rules, last)
    return "coated", number + 1, opens_at, closes_at


def _after_preparation(
    rules: WorkRules, prepared: StepDone, coats: Sequence[StepDone]
) -> tuple[NextKind, int | None, datetime | None, datetime | None]:
    on = coats[-1].coat or 1 if coats else 0
    if 0 < on < len(rules.coats):
        opens_at, _ = _recoat_window(rules, coats[-1])
        return "coated", on + 1, max(opens_at, prepared.at), None
    within = rules.primer_within_h
    return "coated", 1, prepared.at, None if within is None else prepared.at + timedelta(hours=within)


def _recoat_window(rules: WorkRules, step: StepDone) -> tuple[datetime, datetime | None]:
    coat = rules.coats[(step.coat or 1) - 1]
    most = coat.maximum_wait_h
    opens_at = step.at + timedelta(hours=coat.minimum_wait_h)
    return opens_at, None if most is None else step.at + timedelta(hours=most)


def _words(rules: WorkRules, kind: NextKind, coat: int | None) -> str:
    if kind == "coated" and coat is not None and 1 <= coat <= len(rules.coats):
        return say("Coat {coat} of {count}, {name}", coat=coat, count=len(rules.coats), name=rules.coats[coat - 1].name)
    return {
        "prepared": say("Preparation"),
        "coated": say("Coat {coat}", coat=coat),
        "cured": say("Cure"),
        "handed over": say("Handing over"),
        "retest": say("Retest"),
    }[kind]


def _hours(wait: timedelta) -> str:
    minutes = round(wait.total_seconds() / 60)
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes / 60:.1f} h" if minutes < 48 * 60 else say("{minutes:.1f} days", minutes=minutes / 1440)
