"""The margin of the coldest steel above the dew point over time, as a display list. No Django."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from math import isfinite
from typing import NamedTuple

from accounts.wording import said_moment, say
from repairs.charts import WIDTH, Chart, Dot, Item, Label, Shape, Stroke

_LEFT, _RIGHT, _TOP, _BASE = 4.0, WIDTH - 4.0, 24.0, 150.0


class MarginPoint(NamedTuple):
    """One record: when, as its clock shows, the margin in the reader's unit, and whether work might go on by it."""

    at: datetime
    margin: float
    may_go_on: bool


class MarginLine(NamedTuple):
    """The trend: margin at its first and at its last moment, in the reader's unit."""

    begins: datetime
    ends: datetime
    first: float
    last: float


def margin_chart(points: Sequence[MarginPoint], least: float, unit: str, line: MarginLine | None = None) -> Chart:
    """Margins against time: a disc where work may go on, a triangle where not; the least margin dashed, the trend a line.

    Raises ValueError for points out of order, or a margin that is no number. Everything is in `unit` ("°C", "°F").
    """
    if any(later.at < earlier.at for earlier, later in zip(points, points[1:], strict=False)):
        raise ValueError("points are out of order; the earliest comes first")
    if not all(isfinite(each.margin) for each in points):
        raise ValueError("a margin is no number")
    summary = say("The margin of the coldest steel above the dew point over time; the table says the same.")
    if not points:
        return Chart((), 0.0, summary)
    levels = [0.0, least, *(each.margin for each in points), *((line.first, line.last) if line else ())]
    low, high = min(levels), max(levels)
    begins = points[0].at
    ends = max(points[-1].at, line.ends if line else points[-1].at)
    span = max((ends - begins).total_seconds(), 1.0)

    def place(at: datetime, margin: float) -> tuple[float, float]:
        x = _LEFT + 8 + (_RIGHT - _LEFT - 16) * (at - begins).total_seconds() / span
        return x, _BASE - (_BASE - _TOP) * (margin - low) / (high - low)

    asked, nought = place(begins, least)[1], place(begins, 0.0)[1]
    # On the side of the dashes that the latest records leave free; the trend ends where it meets them.
    beside = asked + 15 if points[-1].margin >= least else asked - 4
    items: list[Item] = [
        Stroke(((_LEFT, nought), (_RIGHT, nought)), "axis"),
        Stroke(((_LEFT, asked), (_RIGHT, asked)), "allowed"),
        Label(_RIGHT, beside, say("at least {least:.1f} {unit}", least=least, unit=unit), "end", soft=True),
        Label(_LEFT, 14, say("margin, {unit}", unit=unit)),
        Label(_RIGHT, 14, say("latest {margin:.1f}", margin=points[-1].margin), "end"),
    ]
    if line is not None:
        items.append(Stroke((place(line.begins, line.first), place(line.ends, line.last)), "interval"))
    for each in points:
        items += _mark(*place(each.at, each.margin), each.may_go_on)
    items.append(Label(_LEFT, _BASE + 24, said_moment(begins), soft=True))
    if ends > begins:
        items.append(Label(_RIGHT, _BASE + 24, said_moment(ends), "end", soft=True))
    return Chart(tuple(items), _BASE + 32, summary)


def _mark(x: float, y: float, may_go_on: bool) -> Iterator[Item]:
    if may_go_on:
        yield Dot(x, y, 5.5, "kept")
    else:
        yield Shape(((x - 7, y - 6), (x + 7, y - 6), (x, y + 7)), "over")
