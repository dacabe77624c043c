"""Whether swaths can have been swept in the time there was, when their times overlap: one electrode is in one place.

Each swath has to fit its least possible time between its start and its end, and no two at once. That is possible just
when no stretch of the clock holds more least time than it is long (preemptive scheduling on one machine; common
knowledge, no source). No Django.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence
from typing import NamedTuple

import numpy as np

# Times typed by hand are whole minutes, and sums of floats are not exact: what is over by less is no question.
SLACK = 1e-9


class Job(NamedTuple):
    """A swath as work: seconds on any common clock, and its least possible time (s)."""

    id: Hashable
    start: float
    end: float
    least: float


class Crowded(NamedTuple):
    """A stretch of the clock (s) with more in it than fits: the ids of its swaths, and their least times together (s)."""

    start: float
    end: float
    least: float
    ids: tuple[Hashable, ...]


def crowded(jobs: Iterable[Job]) -> list[Crowded]:
    """Stretches of the clock that hold more least time than they are long, the worst first, no swath in two of them.

    Parameters
    ----------
    jobs : swaths in any order, each of which fits its own time (others are left out: they are a question by themselves).

    Returns
    -------
    One entry for each stretch; its ids in order of start. Empty where all of it can have been swept.

    Raises
    ------
    ValueError
        For a swath that ends before it starts, or a least time below 0.
    """
    fitting = []
    for job in jobs:
        if job.end < job.start or not job.least >= 0:
            raise ValueError(
                f"swath {job.id!r} runs from {job.start} to {job.end} with {job.least}: it must run forward"
            )
        if job.least <= (job.end - job.start) * (1 + SLACK):
            fitting.append(job)
    found = [one for cluster in _clusters(fitting) for one in _crowded_in(cluster)]
    return sorted(found, key=lambda one: (-_ratio(one), one.start, one.end))


def _clusters(jobs: Sequence[Job]) -> Iterator[list[Job]]:
    """Swaths whose times hang together; one that stands alone is no cluster."""
    together: list[Job] = []
    until = -np.inf
    for job in sorted(jobs, key=lambda job: (job.start, job.end, str(job.id))):
        if together and job.start >= until:
            if len(together) > 1:
                yield together
            together, until = [], -np.inf
        together.append(job)
        until = max(until, job.end)
    if len(together) > 1:
        yield together


def _crowded_in(jobs: list[Job]) -> Iterator[Crowded]:
    while len(jobs) > 1 and (worst := _worst(jobs)) is not None:
        yield worst
        jobs = [job for job in jobs if job.id not in worst.ids]


def _worst(jobs: list[Job]) -> Crowded | None:
    """The stretch from a start to an end that is most overfull; None where everything fits."""
    starts, ends, least = (np.array(column, dtype=float) for column in list(zip(*jobs, strict=True))[1:])
    order = np.lexsort((ends, -starts))  # the latest start first, so that sums grow as a stretch reaches back
    starts, ends, least = starts[order], ends[order], least[order]
    worst: tuple[float, float, float] | None = None
    for end in np.unique(ends):
        inside = ends <= end
        load, length = np.cumsum(least[inside]), end - starts[inside]
        over = load > length * (1 + SLACK)
        if not over.any():
            continue
        ratios = np.divide(load, length, out=np.full(len(load), np.inf), where=length > 0)
        # Of swaths with one start only the sum of all of them is the load of the stretch.
        last = np.append(np.diff(starts[inside]) != 0, True)
        place = int(np.argmax(np.where(over & last, ratios, -1.0)))
        if worst is None or ratios[place] > worst[0] * (1 + SLACK):
            worst = (float(ratios[place]), float(starts[inside][place]), float(end))
    if worst is None:
        return None
    _, low, high = worst
    within = [job for job in jobs if low <= job.start and job.end <= high]
    within.sort(key=lambda job: (job.start, job.end, str(job.id)))
    return Crowded(low, high, sum(job.least for job in within), tuple(job.id for job in within))


def _ratio(one: Crowded) -> float:
    length = one.end - one.start
    return one.least / length if length > 0 else np.inf
