"""A histogram of film thickness: figures in the reader's unit in, bins and a display list out, painted as the board's charts.

The limits of a single spot and the percentiles are drawn as lines with their words; the bins are a table too. No Django.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import ceil, floor, isfinite, log10, sqrt
from typing import NamedTuple

import numpy as np

from accounts.wording import say
from repairs.charts import WIDTH, Box, Chart, Item, Label, Stroke

_LEFT, _RIGHT = 30.0, 350.0
_TOP, _HIGH = 44.0, 120.0
_NICE = (1.0, 2.0, 2.5, 5.0, 10.0)
MOST_BINS = 24


class Bin(NamedTuple):
    """Readings from `start` to below `end`; the last bin includes its end."""

    start: float
    end: float
    readings: int


class Line(NamedTuple):
    """A limit or percentile at a thickness, with the words written at it."""

    at: float
    words: str


def bins_of(values: Sequence[float]) -> tuple[Bin, ...]:
    """Return the bins of a histogram, as wide as a round number and about as many as the root of their count (common practice).

    Parameters
    ----------
    values : readings, in any one unit; at least one.

    Raises
    ------
    ValueError without a value, or for one that is not a number.

    Examples
    --------
    >>> bins_of([300.0, 310.0, 322.0, 345.0])
    (Bin(start=300.0, end=325.0, readings=3), Bin(start=325.0, end=350.0, readings=1))
    """
    if not values:
        raise ValueError("values is empty; at least one reading is needed")
    for value in values:
        if not isfinite(value):
            raise ValueError(f"values holds {value}; a reading is a number")
    low, high = min(values), max(values)
    step = _step(high - low, ceil(sqrt(len(values))), max(abs(high), 1e-9))
    first = floor(low / step + 1e-9)
    count = max(1, floor(high / step + 1e-9) - first + 1)
    if count > 1 and abs(high - (first + count - 1) * step) < 1e-9 * step:
        count -= 1
    edges = np.array([round((first + number) * step, 9) for number in range(count + 1)])
    counts, _ = np.histogram(np.clip(values, edges[0], edges[-1]), bins=edges)
    return tuple(
        Bin(float(start), float(end), int(counted))
        for start, end, counted in zip(edges[:-1], edges[1:], counts, strict=True)
    )


def _step(span: float, wanted: int, size: float) -> float:
    """A round width of bins; a hundredth of the size where all readings are alike."""
    rough = span / min(wanted, MOST_BINS) if span > 0 else size / 100
    unit = 10.0 ** floor(log10(rough))
    return min((nice * unit for nice in _NICE), key=lambda step: (abs(log10(step / rough)), step))


def histogram(bins: Sequence[Bin], limits: Sequence[Line], percentiles: Sequence[Line], axis: str) -> Chart:
    """Bars over a common axis, limits dashed from top to bottom, percentiles as short strokes above the bars.

    A limit further off than the bars are wide is only told, with an arrow, so that it does not press the bars together.
    axis : what the axis counts, with its unit ("film thickness, µm").
    """
    start, end = bins[0].start, bins[-1].end
    wide = end - start
    near = [line for line in limits if start - wide <= line.at <= end + wide]
    ends = [start, end, *(line.at for line in near)]
    low, high = min(ends), max(ends)
    room = (high - low) * 0.03
    low, high = low - room, high + room
    most = max(each.readings for each in bins)

    def x_of(value: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * (value - low) / (high - low)

    base = _TOP + _HIGH
    items: list[Item] = []
    for each in bins:
        if each.readings:
            tall = _HIGH * each.readings / most
            left = x_of(each.start)
            items.append(Box(left, base - tall, x_of(each.end) - left, tall, "tested"))
    items.append(Stroke(((_LEFT, base), (_RIGHT, base)), "axis"))
    items += [Label(_LEFT - 5, _TOP + 4, str(most), "end", soft=True), Label(_LEFT - 5, base, "0", "end", soft=True)]
    items += [_far(line, line.at < start) for line in limits if line not in near]
    for line in near:
        x = x_of(line.at)
        items.append(Stroke(((x, _TOP - 26), (x, base)), "allowed"))
        items.append(_beside(x, _TOP - 30, line.words))
    for line in percentiles:
        x = x_of(line.at)
        items.append(Stroke(((x, _TOP - 8), (x, base)), "soft"))
    items += _percentile_words(percentiles, x_of)
    items += _axis(bins, x_of, base)
    items.append(Label(_RIGHT, base + 33, axis, "end", soft=True))
    summary = say("Histogram of {axis}; the table says the same.", axis=axis)
    return Chart(tuple(items), base + 42, summary)


def _beside(x: float, y: float, words: str) -> Label:
    """Words at a line, turned inwards where they would leave the paper."""
    return Label(x, y, words, "start" if x < WIDTH / 3 else "end" if x > 2 * WIDTH / 3 else "middle")


def _far(line: Line, below: bool) -> Label:
    """A limit that lies beyond the picture, at the side it lies on."""
    if below:
        return Label(_LEFT, _TOP - 30, f"← {line.words}", "start")
    return Label(_RIGHT, _TOP - 30, f"{line.words} →", "end")


def _percentile_words(lines: Sequence[Line], x_of: Callable[[float], float]) -> Iterator[Label]:
    """Words of the percentiles in one line, those left out that would run into the one before."""
    reached = -1e9
    for line in lines:
        x = x_of(line.at)
        half = 3.6 * len(line.words) + 3
        if x - half >= reached:
            reached = x + half
            yield Label(x, _TOP - 11, line.words, "middle", soft=True)


def _decimals(start: float, width: float) -> int:
    """The fewest decimals that write every edge as it is."""
    return next(some for some in range(10) if all(abs(round(each, some) - each) < 1e-9 for each in (start, width)))


def _axis(bins: Sequence[Bin], x_of: Callable[[float], float], base: float) -> Iterator[Item]:
    """Edges of bins, as many as there is room for."""
    width = bins[0].end - bins[0].start
    decimals = _decimals(bins[0].start, width)
    edges = [each.start for each in bins] + [bins[-1].end]
    reached = -1e9
    for edge in edges:
        x = x_of(edge)
        words = f"{edge:.{decimals}f}"
        half = 3.4 * len(words) + 3
        yield Stroke(((x, base), (x, base + 4)), "axis")
        if x - half >= reached and x + half <= WIDTH:
            reached = x + half
            yield Label(x, base + 17, words, "middle", soft=True)
