"""Stretches along a line as pairs of metres from its beginning: joined, taken away, summed. Exact, no grid. No Django."""

from __future__ import annotations

import math
from collections.abc import Iterable

from accounts.wording import say

Interval = tuple[float, float]
Intervals = tuple[Interval, ...]
"""Rising, apart from each other, each of some length."""


def union(pieces: Iterable[Interval]) -> Intervals:
    """The pieces (given in any order, overlapping or not) joined where they overlap or touch; empty ones are dropped.

    Raises
    ------
    ValueError
        For an end that is no finite number.

    Examples
    --------
    >>> union([(2.0, 3.0), (0.0, 1.0), (0.5, 2.0)])
    ((0.0, 3.0),)
    """
    joined: list[Interval] = []
    for low, high in sorted(pieces):
        if not (math.isfinite(low) and math.isfinite(high)):
            raise ValueError(say("piece {low!r} to {high!r} is not allowed: finite metres", low=low, high=high))
        if high <= low:
            continue
        if joined and low <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], high))
        else:
            joined.append((low, high))
    return tuple(joined)


def overlap(one: Intervals, other: Intervals) -> Intervals:
    """What lies in both."""
    return union((max(a, c), min(b, d)) for a, b in one for c, d in other if max(a, c) < min(b, d))


def minus(whole: Intervals, taken: Intervals) -> Intervals:
    """What of the first lies outside the second.

    Examples
    --------
    >>> minus(((0.0, 10.0),), ((2.0, 3.0), (9.0, 12.0)))
    ((0.0, 2.0), (3.0, 9.0))
    """
    left: list[Interval] = []
    for low, high in whole:
        for start, end in taken:
            if end <= low or start >= high:
                continue
            if start > low:
                left.append((low, start))
            low = max(low, end)
        if low < high:
            left.append((low, high))
    return union(left)


def total(pieces: Intervals) -> float:
    """Metres in all."""
    return math.fsum(high - low for low, high in pieces)
