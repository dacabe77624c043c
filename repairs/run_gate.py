"""The gate "test runs closed": which run is open, and which of the open ones stands under a permit that ran out. No Django."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Literal, NamedTuple

from accounts.wording import say, say_many


class OpenPermit(NamedTuple):
    """The permit that an open run stands under, by their spoken names, and until when it holds with its renewals."""

    run: str
    permit: str
    expires_at: datetime


class RunFinding(NamedTuple):
    state: Literal["green", "red"]
    sentence: str
    whose: Literal["crew"] | None = None


def judge_runs(open_runs: Sequence[str], names: str, permits: Iterable[OpenPermit], now: datetime) -> RunFinding:
    """Return whether every run is closed; red names those that are open (`names`: as they are listed) and what ran out.

    A permit changes nothing of the verdict: an open run is red with it and without.
    """
    if not open_runs:
        return RunFinding("green", say("All test runs are closed."))
    sentence = say_many(
        "{count} test run is not closed: {names}.",
        "{count} test runs are not closed: {names}.",
        len(open_runs),
        names=names,
    )
    return RunFinding("red", " ".join([sentence, *_ran_out(permits, now)]), "crew")


def _ran_out(permits: Iterable[OpenPermit], now: datetime) -> list[str]:
    return [
        say(
            "Permit {permit} of {run} ran out {hours:.1f} h ago: renew it or close the run.",
            permit=row.permit,
            run=row.run,
            hours=(now - row.expires_at).total_seconds() / 3600,
        )
        for row in permits
        if row.expires_at < now
    ]
