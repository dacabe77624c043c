"""Coverage of welds and edges in metres of line, and of nozzles and brackets in numbers, beside that of the area.

A line is measured in metres from its beginning. A counted feature is swept whole or not at all: it is measured as 1, so
that one rule serves both. Always computed whole from what was swept. No Django.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from accounts.wording import say
from mapping.coverage import PRECEDENCE
from mapping.intervals import Interval, Intervals, minus, overlap, total, union

SHORTEST = 0.01  # m: parts below 1 cm are summed, as printed places are true to 1 cm
ONE: Intervals = ((0.0, 1.0),)
"""A counted feature, whole."""


class DividedLine(NamedTuple):
    """A feature divided without overlap by what its sweeps are worth; together they are what of it is testable."""

    stands: Intervals
    held: Intervals
    pending: Intervals
    lost: Intervals
    gap: Intervals

    @property
    def testable(self) -> float:
        """Metres (or 1 for a counted feature) that are to be tested."""
        return total(union(piece for pieces in self for piece in pieces))

    @property
    def untested(self) -> Intervals:
        """What does not count as tested: held, pending, lost and gap, joined where they touch."""
        return union(piece for pieces in self[1:] for piece in pieces)

    @property
    def missing(self) -> list[Interval]:
        """Untested parts of 1 cm or more, in their order along the line; none of them is full coverage."""
        return [(low, high) for low, high in self.untested if high - low >= SHORTEST]


class LineSwath(NamedTuple):
    """What one sweep reached of a feature, its standing, and when it started."""

    parts: Intervals
    standing: str
    at: datetime


class LineEvent(NamedTuple):
    """What of a feature later work spoiled, its margin included, and when."""

    parts: Intervals
    at: datetime


def divide_line(testable: Intervals, swaths: Sequence[tuple[Intervals, str]]) -> DividedLine:
    """Divide the testable part of a feature by its sweeps, given in any order, in the order of precedence.

    The same rule as for ground: stands over held over pending over lost over gap. Common practice, no source.

    Parameters
    ----------
    testable : m along the feature.
    swaths : parts (m along) and standing of each: "stands", "held", "pending" or "lost".

    Raises
    ------
    ValueError
        For another standing.

    Examples
    --------
    >>> divide_line(((0.0, 10.0),), [(((0.0, 4.0),), "lost"), (((3.0, 6.0),), "stands")])[0]
    ((3.0, 6.0),)
    """
    reached: dict[str, list[Interval]] = {standing: [] for standing in PRECEDENCE}
    for parts, standing in swaths:
        if standing not in reached:
            raise ValueError(
                say(
                    "standing {standing!r} is not allowed: {precedence}",
                    standing=standing,
                    precedence=", ".join(PRECEDENCE),
                )
            )
        reached[standing].extend(parts)
    left, divided = union(testable), dict[str, Intervals]()
    for standing, pieces in reached.items():
        joined = union(pieces)
        divided[standing] = overlap(left, joined)
        left = minus(left, joined)
    return DividedLine(**divided, gap=left)


def line_as_left(
    found: Sequence[LineSwath], events: Sequence[LineEvent], retests: Sequence[LineSwath]
) -> list[tuple[Intervals, str]]:
    """What sweeps of a feature are still worth after later work, ready for `divide_line`.

    Every survey and retest sweep loses what was coated or disturbed at or after its start; what nothing swept since is
    thereby gap. The same rule as for ground.
    """
    events = sorted(events, key=lambda event: event.at)
    times = [event.at for event in events]
    left = []
    for swath in (*found, *retests):
        later = events[bisect_left(times, swath.at) :]
        spoiled = union(piece for event in later for piece in event.parts)
        left.append((minus(union(swath.parts), spoiled), swath.standing))
    return left
