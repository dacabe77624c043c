"""What the checks and certificates of a thickness gauge say about the spots measured with it.

A gauge proves nothing by itself: a spot between the last good check and one that failed is in doubt, as is one measured
after a failed check, before the next good one, and one measured while no certificate was in force. No Django.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, NamedTuple

from accounts.wording import noted
from inspections.arithmetic import DAY, Figure, Line, Name

Outcome = Literal["good", "low", "high"]
Code = Literal["check failed later", "check failed before", "no certificate"]
SOURCE = "common practice: checked on shims before and after use, and what lies between is in doubt when one fails"


@dataclass(frozen=True)
class Checked:
    """A check of a gauge on a shim or zero plate. key: what a decision names it by."""

    key: str
    at: datetime
    outcome: Outcome
    shim_um: float
    measured_um: float
    tolerance_um: float


class Held(NamedTuple):
    """The days a certificate is in force, both included."""

    issued: date
    due: date


@dataclass(frozen=True)
class Doubt:
    """Why a spot is not counted until somebody decides. key: the same doubt has the same key at any time."""

    code: Code
    key: str
    line: Line


def outcome_of(shim_um: float, measured_um: float, tolerance_um: float) -> Outcome:
    """Return whether a gauge read a shim within its tolerance (um, ends included), too low or too high.

    >>> outcome_of(250.0, 246.0, 5.0), outcome_of(250.0, 256.0, 5.0)
    ('good', 'high')
    """
    if abs(measured_um - shim_um) <= tolerance_um + 1e-9:
        return "good"
    return "low" if measured_um < shim_um else "high"


def doubts(
    gauge: str, at: datetime, day: date, checks: Sequence[Checked], certificates: Sequence[Held]
) -> tuple[Doubt, ...]:
    """Return why a spot measured with a gauge is in doubt; nothing where it is not.

    Parameters
    ----------
    gauge : the gauge in words. at, day : when the spot was measured, and that day by the asset's calendar.
    checks : those of this gauge that stand, in any order. A spot at the very moment of a check was measured before it.
    certificates : those of this gauge that stand; none in force on the day is a doubt.
    """
    found = []
    if not any(paper.issued <= day <= paper.due for paper in certificates):
        words = noted("{gauge} has no certificate in force on {day}")
        found.append(Doubt("no certificate", f"no certificate {day}", Line(words, (), _names(gauge, day))))
    ordered = sorted(checks, key=lambda check: (check.at, check.key))
    place = bisect_right([check.at for check in ordered], at)
    while place and ordered[place - 1].at == at:
        place -= 1
    before = ordered[place - 1] if place else None
    after = ordered[place] if place < len(ordered) else None
    if before is not None and before.outcome != "good":
        words = noted(
            "{gauge} failed its check of {day} before this and had passed none since: {measured} on {shim}, ± {tolerance}"
        )
        found.append(Doubt("check failed before", f"check {before.key}", _told(words, gauge, before)))
    if after is not None and after.outcome != "good":
        words = noted("{gauge} failed its next check, on {day}: {measured} on {shim}, ± {tolerance}")
        found.append(Doubt("check failed later", f"check {after.key}", _told(words, gauge, after)))
    return tuple(found)


def around(checks: Sequence[Checked], moments: Sequence[datetime]) -> set[str]:
    """Return the keys of the checks that bear on spots measured at `moments` with one gauge.

    For each spot: the last good check before it, the first one after it, and those between. Without a good one before,
    everything before it. Checks in any order; one at the very moment of a spot came after it.

    >>> made = [Checked(str(day), datetime(2031, 5, day), "good", 250.0, 250.0, 5.0) for day in range(1, 7)]
    >>> sorted(around(made, [datetime(2031, 5, 3, 12)]))
    ['3', '4']
    """
    ordered = sorted(checks, key=lambda check: (check.at, check.key))
    times = [check.at for check in ordered]
    kept: set[str] = set()
    for at in moments:
        after = bisect_left(times, at)
        before = next((place for place in reversed(range(after)) if ordered[place].outcome == "good"), 0)
        kept.update(check.key for check in ordered[before : after + 1])
    return kept


def _told(words: str, gauge: str, check: Checked) -> Line:
    figures = (
        Figure("measured", check.measured_um, "um"),
        Figure("shim", check.shim_um, "um"),
        Figure("tolerance", check.tolerance_um, "um"),
    )
    return Line(words, figures, _names(gauge, check.at.date()))


def _names(gauge: str, day: date) -> tuple[Name, ...]:
    return (Name("gauge", gauge), Name(DAY, day.isoformat()))
