"""Charts of the board: figures in, a display list out, painted as SVG here and on paper by `chart_paint`.

Colour never stands alone: marks differ by shape, ground by hatch, and each chart has a table of the same figures beside
it. An interval is drawn, never used as a verdict. No Django.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from math import floor, isfinite, log10
from typing import Literal, NamedTuple, TypeAlias

from accounts.wording import said_day, say

WIDTH = 360.0  # of every chart, in marks: the width of a small phone
TEXT = 12.0  # height of letters, in marks
_LEFT, _RIGHT = 4.0, 356.0
_LETTER = 6.2  # width of a letter on average, in marks
_ROW = 44.0

Style = Literal[
    "axis", "soft", "interval", "allowed", "kept", "over", "unjudged", "tested", "pending", "held", "lost", "gap",
    "excluded", "hatch", "hatch-lost", "flaws", "edge",
]  # fmt: skip
Anchor = Literal["start", "middle", "end"]
GROUNDS: tuple[Style, ...] = ("tested", "held", "pending", "lost", "gap", "excluded")


class Stroke(NamedTuple):
    """A line through points (x, y), in marks; y runs down."""

    points: tuple[tuple[float, float], ...]
    style: Style


class Box(NamedTuple):
    """A filled rectangle, in marks from its upper left corner."""

    x: float
    y: float
    width: float
    height: float
    style: Style


class Shape(NamedTuple):
    """A filled outline with an ink edge."""

    points: tuple[tuple[float, float], ...]
    style: Style


class Dot(NamedTuple):
    x: float
    y: float
    radius: float
    style: Style


class Label(NamedTuple):
    x: float
    y: float
    text: str
    anchor: Anchor = "start"
    soft: bool = False


Item: TypeAlias = Stroke | Box | Shape | Dot | Label


@dataclass(frozen=True)
class Chart:
    """A display list in marks, y running down, WIDTH wide. summary says in words what is drawn."""

    items: tuple[Item, ...]
    height: float
    summary: str


class DensityRow(NamedTuple):
    """Density as found with its interval, all in one unit (flaws per 100 m2, say).

    allowed is the contract's limit in that unit, None where none is stated; kept is the verdict of the plain count on
    the tested area, None where there is none.
    """

    name: str
    value: float
    low: float
    high: float
    allowed: float | None
    kept: bool | None


class AreaRow(NamedTuple):
    """Ground of one zone or asset in one unit of area; without excluded the parts are the testable area."""

    name: str
    tested: float
    held: float
    pending: float
    lost: float
    gap: float
    excluded: float


class ProgressDay(NamedTuple):
    """At the end of a day: tested area as found, and open flaws."""

    day: date
    tested: float
    open_flaws: int


class CountRow(NamedTuple):
    name: str
    counted: int


def density_chart(rows: Sequence[DensityRow], per: str) -> Chart:
    """Each row's figure on its interval: a disc where the contract line is kept, a triangle where it is exceeded.

    Raises ValueError for a figure that is negative, not finite or outside its interval. `per` is the unit in words
    ("100 m²"). An interval that leaves the paper ends in an arrow.
    """
    for row in rows:
        if not all(isfinite(each) and each >= 0 for each in (row.value, row.low, row.high)):
            raise ValueError(f"{row.name}: {row.low} to {row.value} to {row.high}; figures are finite and not negative")
        if not row.low <= row.value <= row.high:
            raise ValueError(f"{row.name}: value {row.value} lies outside its interval, {row.low} to {row.high}")
    limits = [row.allowed for row in rows if row.allowed is not None]
    # A zone barely begun has an interval a hundred times its figure: it must not press all others to the left.
    widest = [min(row.high, max(2.5 * row.value, *limits, 1.0)) for row in rows]
    scale = _Scale.upto(max([*widest, *(1.2 * limit for limit in limits), *(row.value for row in rows)], default=1.0))
    items: list[Item] = []
    for number, row in enumerate(rows):
        top = number * _ROW
        items += _heading(row.name, say("{value:.1f} ({low:.1f} to {high:.1f})", **_figures(row)), top)
        items += _density_strip(row, top + 29, scale)
    bottom = len(rows) * _ROW
    items += scale.axis(bottom + 4, say("flaws per {per}", per=per))
    summary = say("Flaws per {per} as found with their 95 % interval; the table says the same.", per=per)
    return Chart(tuple(items), bottom + 42, summary)


def area_chart(rows: Sequence[AreaRow], unit: str) -> Chart:
    """Ground of each row as one bar at common scale: tested, held, pending, lost, not swept, and excluded at its end."""
    scale = _Scale.upto(max((sum(row[1:]) for row in rows), default=1.0))
    items: list[Item] = []
    for number, row in enumerate(rows):
        top = number * _ROW
        testable = sum(row[1:-1])
        share = say("{share:.1f} % tested", share=floor(1000 * row.tested / testable) / 10) if testable > 0 else ""
        items += _heading(row.name, share, top)
        x = _LEFT
        for style, area in zip(GROUNDS, row[1:], strict=True):
            width = scale.at(area) - _LEFT
            if width > 0:
                items += _ground(Box(x, top + 20, width, 14, style))
                x += width
    bottom = len(rows) * _ROW
    items += scale.axis(bottom + 4, unit)
    summary = say("Ground by what became of it, in {unit}; the table says the same.", unit=unit)
    return Chart(tuple(items), bottom + 42, summary)


def progress_chart(days: Sequence[ProgressDay], unit: str) -> Chart:
    """Two strips over the same days: tested area as found, and open flaws below it. Days in order.

    Raises ValueError for days out of order.
    """
    if any(later.day <= earlier.day for earlier, later in zip(days, days[1:], strict=False)):
        raise ValueError("days are out of order or given twice; each comes once, the earliest first")
    summary = say("Tested area and open flaws at the end of each day; the table says the same.")
    if not days:
        return Chart((), 0.0, summary)
    first, last = days[0].day, days[-1].day
    span = max((last - first).days, 1)

    def x_of(day: date) -> float:
        return _LEFT + (_RIGHT - _LEFT) * (day - first).days / span

    items: list[Item] = []
    for top, title, values, style in (
        (0.0, say("tested, {unit}", unit=unit), [each.tested for each in days], "tested"),
        (112.0, say("open flaws"), [float(each.open_flaws) for each in days], "flaws"),
    ):
        items += _strip(top, title, [(x_of(day.day), value) for day, value in zip(days, values, strict=True)], style)  # type: ignore[arg-type]
    items.append(Label(_LEFT, 226, said_day(first), soft=True))
    if last > first:
        items.append(Label(_RIGHT, 226, said_day(last), "end", soft=True))
    return Chart(tuple(items), 232.0, summary)


def count_chart(rows: Sequence[CountRow], summary: str) -> Chart:
    """Plain bars of counts."""
    most = max((row.counted for row in rows), default=0) or 1
    items: list[Item] = []
    for number, row in enumerate(rows):
        top = number * _ROW
        items += _heading(row.name, str(row.counted), top)
        items.append(Box(_LEFT, top + 20, _RIGHT - _LEFT, 14, "gap"))
        if row.counted:
            items.append(Box(_LEFT, top + 20, (_RIGHT - _LEFT) * row.counted / most, 14, "flaws"))
    return Chart(tuple(items), len(rows) * _ROW, summary)


class _Scale(NamedTuple):
    """From nought at the left edge to `most` at the right one, with a mark every `step`."""

    most: float
    step: float

    @classmethod
    def upto(cls, most: float) -> _Scale:
        most = most if most > 0 else 1.0
        rough = most / 4
        unit = 10.0 ** floor(log10(rough))
        step = next(times * unit for times in (1, 2, 5, 10) if times * unit >= rough)
        return cls(most, step)

    def at(self, value: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * min(value / self.most, 1.0)

    def axis(self, top: float, words: str) -> Iterator[Item]:
        yield Stroke(((_LEFT, top), (_RIGHT, top)), "axis")
        decimals = max(0, -floor(log10(self.step)))
        for number in range(floor(self.most / self.step + 1e-9) + 1):
            x = self.at(number * self.step)
            yield Stroke(((x, top), (x, top + 4)), "axis")
            anchor: Anchor = "start" if number == 0 else "end" if x > _RIGHT - 14 else "middle"
            yield Label(x, top + 17, f"{number * self.step:.{decimals}f}", anchor, soft=True)
        yield Label(_RIGHT, top + 33, words, "end", soft=True)


def _figures(row: DensityRow) -> dict[str, float]:
    return {"value": row.value, "low": row.low, "high": row.high}


def _heading(name: str, figure: str, top: float) -> Iterator[Item]:
    """Name at the left and its figure at the right of one line; a long name gives way to the figure."""
    room = int((_RIGHT - _LEFT) / _LETTER) - len(figure) - 2
    yield Label(_LEFT, top + 13, name if len(name) <= room else f"{name[: max(room - 1, 1)].rstrip()}…")
    if figure:
        yield Label(_RIGHT, top + 13, figure, "end")


def _density_strip(row: DensityRow, y: float, scale: _Scale) -> Iterator[Item]:
    yield Stroke(((_LEFT, y), (_RIGHT, y)), "soft")
    low, at, high = (scale.at(each) for each in (row.low, row.value, row.high))
    yield Stroke(((low, y), (high, y)), "interval")
    if row.high > scale.most:
        yield Stroke(((high - 6, y - 5), (high, y), (high - 6, y + 5)), "interval")
    if row.allowed is not None:
        limit = scale.at(row.allowed)
        yield Stroke(((limit, y - 11), (limit, y + 11)), "allowed")
    if row.kept is False:
        yield Shape(((at - 8, y - 7), (at + 8, y - 7), (at, y + 8)), "over")
    else:
        yield Dot(at, y, 6.5, "kept" if row.kept else "unjudged")


def _ground(box: Box) -> Iterator[Item]:
    """A bar in its ground's style: lost slanted, pending level, held dotted, as on the sheets."""
    yield box
    x, y, width, height, style = box
    if style == "pending":
        for step in range(1, int(height / 3.5) + 1):
            level = y + 3.5 * step
            if level < y + height:
                yield Stroke(((x, level), (x + width, level)), "hatch")
    elif style == "held":
        for column in range(int(width / 5)):
            for row in range(int(height / 5)):
                yield Dot(x + 2.5 + 5 * column, y + 3.5 + 5 * row, 1.0, "hatch")
    elif style == "lost":
        for step in range(int((width + height) / 6) + 1):
            start = x - height + 6 * step
            left, right = max(start, x), min(start + height, x + width)
            if left < right:
                yield Stroke(((left, y + height - (left - start)), (right, y + height - (right - start))), "hatch-lost")


def _strip(top: float, title: str, points: Sequence[tuple[float, float]], style: Style) -> Iterator[Item]:
    """Steps from day to day, filled down to nought."""
    base, most = top + 96, max((value for _, value in points), default=0.0)
    figure = f"{points[-1][1]:.0f}" if style == "flaws" else f"{points[-1][1]:.1f}"
    yield from _heading(title, figure, top)
    heights = [(x, base - 74 * (value / most if most > 0 else 0.0)) for x, value in points]
    steps = [(_LEFT, base), heights[0]]
    for (_, before), (x, y) in zip(heights, heights[1:], strict=False):
        steps += [(x, before), (x, y)]
    if len(heights) == 1:
        steps.append((_RIGHT, heights[0][1]))
    yield Shape((*steps, (_RIGHT if len(heights) == 1 else heights[-1][0], base)), style)
    yield Stroke(((_LEFT, base), (_RIGHT, base)), "axis")


def svg(chart: Chart) -> str:
    """The chart as an inline SVG picture; colours come from classes of the page's style sheet."""
    body = "".join(_svg_item(item) for item in chart.items)
    return (
        f'<svg class="board-chart" viewBox="0 0 {WIDTH:g} {chart.height:g}" role="img" '
        f'aria-label="{escape(chart.summary)}">{body}</svg>'
    )


def swatch(style: Style) -> str:
    """A small picture of one kind of ground, for a key whose words stand beside it."""
    body = "".join(map(_svg_item, _ground(Box(1, 1, 26, 14, style))))
    return f'<svg class="board-swatch" width="28" height="16" viewBox="0 0 28 16" aria-hidden="true">{body}</svg>'


def _svg_item(item: Item) -> str:
    if isinstance(item, Label):
        soft = ' class="soft"' if item.soft else ""
        return f'<text{soft} x="{item.x:.1f}" y="{item.y:.1f}" text-anchor="{item.anchor}">{escape(item.text)}</text>'
    if isinstance(item, Box):
        return (
            f'<rect class="c-{item.style}" x="{item.x:.2f}" y="{item.y:.1f}" width="{item.width:.2f}" '
            f'height="{item.height:.1f}"/>'
        )
    if isinstance(item, Dot):
        return f'<circle class="c-{item.style}" cx="{item.x:.1f}" cy="{item.y:.1f}" r="{item.radius:g}"/>'
    path = "L".join(f"{x:.1f} {y:.1f}" for x, y in item.points)
    return f'<path class="c-{item.style}" d="M{path}{"Z" if isinstance(item, Shape) else ""}"/>'
