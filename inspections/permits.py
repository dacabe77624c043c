"""How long permits hold: which one is in force at a moment, how renewals follow on, and what was swept under none.

Nothing here authorises entry or work, and nothing changes what counts as tested: the permit does the first, the truth table
of a swath's standing the second. What is found here is said beside the run.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from datetime import datetime
from typing import NamedTuple

SOURCE = "common practice: a permit states until when it holds, and work stops or is permitted anew by then; local codes rule"


class PermitFact(NamedTuple):
    """A permit as it was recorded: it holds from `begins_at` to `expires_at`, both included; `renews` names the one before."""

    id: Hashable
    name: str
    begins_at: datetime
    expires_at: datetime
    renews: Hashable | None = None


class Span(NamedTuple):
    """A stretch of time."""

    start: datetime
    end: datetime


class Work(NamedTuple):
    """Work between two moments, such as a swath."""

    id: Hashable
    start: datetime
    end: datetime


def with_renewals(permits: Iterable[PermitFact], named: Iterable[Hashable]) -> tuple[PermitFact, ...]:
    """Return the named permits and whatever renews them, however often, in order of expiry.

    A permit that renews one which is not named is not among them: each run stands under its own.
    """
    kept = set(named)
    rows = list(permits)
    while more := {row.id for row in rows if row.renews in kept and row.renews is not None} - kept:
        kept |= more
    return tuple(sorted((row for row in rows if row.id in kept), key=lambda row: (row.expires_at, row.begins_at)))


def in_force(permits: Iterable[PermitFact], at: datetime) -> PermitFact | None:
    """Return the permit that holds at the moment, of several the one that holds longest; None when none does."""
    holding = [row for row in permits if row.begins_at <= at <= row.expires_at]
    return max(holding, key=lambda row: row.expires_at, default=None)


def held_until(permits: Iterable[PermitFact], at: datetime) -> datetime | None:
    """Return until when work that goes on at the moment is permitted without a break; None when it is not at all."""
    rows = list(permits)
    until = at
    found = None
    while (row := in_force(rows, until)) is not None and (found is None or row.expires_at > until):
        found = until = row.expires_at
    return found


def not_permitted(permits: Iterable[PermitFact], start: datetime, end: datetime) -> tuple[Span, ...]:
    """Return the stretches between two moments in which no permit holds, in their order.

    Raises
    ------
    ValueError
        When the end lies before the start.
    """
    if end < start:
        raise ValueError(f"end is {end.isoformat()}; it must not lie before the start, {start.isoformat()}")
    bare: list[Span] = []
    reached, begun = start, False
    for row in sorted(permits, key=lambda row: row.begins_at):
        if row.expires_at < start or row.begins_at > end:
            continue
        if row.begins_at > reached:
            bare.append(Span(reached, row.begins_at))
        reached, begun = max(reached, row.expires_at), True
    if reached < end or not begun:
        bare.append(Span(reached, end))
    return tuple(bare)


def work_without_permit(permits: Sequence[PermitFact], work: Iterable[Work]) -> tuple[Work, ...]:
    """Return the work that was not permitted from its start to its end, in the order given.

    Observations stay what they are: what is returned is asked about, not taken away.
    """
    return tuple(each for each in work if not_permitted(permits, each.start, each.end))


def ran_out(permits: Iterable[PermitFact], now: datetime) -> PermitFact | None:
    """Return the permit that ran out last, when none holds at the moment or begins later; else None."""
    rows = list(permits)
    last = max(rows, key=lambda row: row.expires_at, default=None)
    return last if last is not None and last.expires_at < now else None
