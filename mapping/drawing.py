"""Draws one unrolled zone as a display list: plain shapes in plane metres with style names, no colours, no pixels.

The zone is cut into rows of equal length at true scale, like a strip chart, under a stretched overview of the whole.
Coordinates are as seen by the person facing the surface: u runs right from the zone's left end, v runs down.
Offsets of texts are marks (1 px on screen, 1 pt on paper). Painters add colour; they decide nothing. No Django.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from mapping.crowding import Cell, crowded_cells, short_count
from mapping.labels import LabelField, place_along
from mapping.scene import (
    NICE,
    Area,
    FlawMark,
    Ground,
    Hatch,
    Item,
    Line,
    Mark,
    PatchMark,
    Point,
    Rings,
    Scene,
    Symbol,
    Text,
    Tick,
    Unrolled,
    View,
    build_scene,
    polygons_of,
    view_of,
)
from mapping.symbols import CHIP_HALF, GROUND, STATUSES, TEXTS, UNSETTLED

SYMBOL_HALF = 9.0
LANDMARK_HALF = 4.0
LABELLED_MOST = 400
"""Tags are tried in one row at most this often; past that nobody could read them."""
OVERVIEW_HEIGHT = 40.0
"""Marks; the overview is stretched to it."""
BAR = 5.0
BAR_HEIGHT = 14.0
"""Marks: width of the overview's counting bars, and height of the longest."""
READABLE, THINNEST = 48.0, 20.0
"""Marks: height of a row that reads well, and of one that still shows more than the overview does."""
MOST_ROWS = 24
TICK_ROOM = 76.0
"""Marks: least distance of two chainage ticks."""


@dataclass(frozen=True)
class Row:
    """One row: what is seen from u = start to end (metres), `height` metres high."""

    start: float
    end: float
    height: float
    items: tuple[Item, ...]


@dataclass(frozen=True)
class Sheet:
    """A zone cut into rows; `row_width` is the marks that `row_length` metres fill at true scale."""

    scene: Scene
    row_length: float
    row_width: float
    rows: tuple[Row, ...]
    overview: Row
    words: str
    overview_words: str

    @property
    def scale(self) -> float:
        """Marks per metre, both ways."""
        return self.row_width / self.row_length


def draw_zone(
    surface: Unrolled,
    ground: Ground,
    excluded: Sequence[tuple[BaseGeometry, str]] = (),
    landmarks: Sequence[Mark] = (),
    flaws: Sequence[FlawMark] = (),
    patches: Sequence[PatchMark] = (),
    row_length: float | None = None,
    row_width: float = 1000.0,
) -> Sheet:
    """Draw a zone as rows of `row_length` metres (fitted to the width when None), `row_width` marks wide.

    Shapes, landmarks and flaws are in plane metres and may reach over the seam or past the zone's ends: they are folded
    and clipped; landmarks and flaws past the ends are left out.

    Raises
    ------
    ValueError
        For a row length or width not above zero, or a status that is not one of STATUSES.
    """
    view = view_of(surface)
    for name, value in (("row_length", row_length), ("row_width", row_width)):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} {value!r} is not allowed: a number above zero")
    for status in {*(flaw.status for flaw in flaws), *(patch.status for patch in patches)}:
        if status not in STATUSES:
            raise ValueError(f"status {status!r} is not allowed: one of {', '.join(STATUSES)}")
    scene = build_scene(surface, view, ground, excluded, landmarks, flaws, patches)
    length = row_length or fitting_length(view, row_width)
    return Sheet(
        scene,
        length,
        row_width,
        tuple(_row(scene, start, length, row_width) for start in row_starts(view, length)),
        _overview(scene, row_width),
        row_words(view, length),
        overview_words(scene),
    )


def row_words(view: View, row_length: float) -> str:
    """How a sheet with rows this long is to be read."""
    if row_length >= view.length:
        return f"One row of {view.length_words(view.length)}, true scale. {view.seen_from}."
    return f"Rows of {view.length_words(row_length)}, true scale. {view.seen_from}."


def overview_words(scene: Scene) -> str:
    """That the overview is stretched, and what its bars count."""
    view = scene.view
    size = f"{view.length_words(view.length)} along, {view.length_words(view.height)} around"
    bars = " Bars count flaws; the orange part is not settled." if scene.flaws else ""
    return f"Overview, stretched: {size}, not to scale.{bars}"


def row_lengths(view: View) -> list[float]:
    """Sensible row lengths in metres, the whole zone first, then equal parts a whole (or tenth) unit long."""
    lengths = [view.length]
    for nice in reversed(NICE):
        count = math.ceil(view.length / (nice * view.unit) - 1e-9)
        if nice < 2 or count < 2 or count > 2000:
            continue
        part = view.length / count / view.unit
        grain = 1.0 if part >= 5 else 10.0
        length = round(math.ceil(part * grain - 1e-6) / grain * view.unit, 6)
        if length < lengths[-1]:
            lengths.append(length)
    return lengths


def fitting_length(view: View, row_width: float) -> float:
    """The longest row that is high enough to read; longer, down to the thinnest, when there would be too many rows."""
    lengths = row_lengths(view)
    readable, thick = (
        max((length for length in lengths if row_width / length * view.height >= least), default=lengths[-1])
        for least in (READABLE, THINNEST)
    )
    few = min(length for length in lengths if view.length / length <= MOST_ROWS)
    return min(thick, max(readable, few))


def row_starts(view: View, row_length: float) -> list[float]:
    """Where each row starts, metres from the zone's left end."""
    count = max(1, math.ceil(view.length / row_length - 1e-9))
    return [number * row_length for number in range(count)]


def _row(scene: Scene, start: float, row_length: float, row_width: float) -> Row:
    view = scene.view
    end = min(start + row_length, view.length)
    scale = row_width / row_length
    last = end >= view.length
    field = LabelField((end - start) * scale, view.height * scale)
    marks = [mark for mark in scene.landmarks if _within(view.seen(mark.x, 0)[0], start, end, last)]
    return Row(
        start,
        end,
        view.height,
        (
            *_ground(scene, start, end),
            *_grid(view, start, end),
            *_upright(view, marks),
            *_outlines(scene, start, end),
            *_chainage(scene, start, end, scale),
            *_side(view, start, scale),
            *_names_below(view, marks, start, end, scale),
            *_marked(scene, marks, start, end, scale, field),
        ),
    )


def _within(u: float, start: float, end: float, last: bool) -> bool:
    return start <= u < end or (last and end <= u <= end + 1e-6)


def _seen_rings(polygon: Polygon, view: View, start: float, end: float) -> Iterator[Rings]:
    """The rings of what a row shows of a polygon, with a little more at each side so that cut edges stay unseen."""
    more = (end - start) * 0.02
    ends = sorted(view.x0 + view.step_x * u for u in (start - more, end + more))
    if polygon.bounds[0] > ends[1] or polygon.bounds[2] < ends[0]:
        return
    for part in polygons_of(shapely.clip_by_rect(polygon, ends[0], -1.0, ends[1], view.height + 1.0)):
        yield tuple(_seen_ring(ring.coords, view) for ring in (part.exterior, *part.interiors))


def _seen_ring(coordinates: object, view: View) -> tuple[Point, ...]:
    origin, step = (view.x0, view.y0), (view.step_x, view.step_y)
    seen = (np.asarray(coordinates)[:, :2] - origin) * step
    return tuple((u, v) for u, v in np.round(seen, 3).tolist())


def _ground(scene: Scene, start: float, end: float) -> Iterator[Item]:
    height = scene.view.height
    yield Area("paper", (((start, 0.0), (end, 0.0), (end, height), (start, height)),))
    for style in GROUND:
        for polygon in scene.ground[style]:
            for rings in _seen_rings(polygon, scene.view, start, end):
                yield Area(style, rings) if style in ("tested", "gap") else Hatch(style, rings)
    for polygon, _ in scene.excluded:
        for rings in _seen_rings(polygon, scene.view, start, end):
            yield Area("excluded", rings)


def _grid(view: View, start: float, end: float) -> Iterator[Item]:
    for v, _ in view.side[1:-1]:
        yield Line("grid", ((start, v), (end, v)))
    corners = ((start, 0.0), (end, 0.0), (end, view.height), (start, view.height), (start, 0.0))
    yield Line("edge", corners)


def line_style(mark: Mark) -> str:
    """Girth welds are drawn whole, other lines dashed."""
    return "weld" if mark.kind == "girth weld" else "landmark"


def _upright(view: View, marks: list[Mark]) -> Iterator[Item]:
    for mark in marks:
        if mark.y is None:
            u = view.seen(mark.x, 0)[0]
            yield Line(line_style(mark), ((u, 0.0), (u, view.height)))


def _outlines(scene: Scene, start: float, end: float) -> Iterator[Item]:
    for polygon, patch, _ in scene.patches:
        for rings in _seen_rings(polygon, scene.view, start, end):
            yield Area(patch_style(patch), rings)


def patch_style(patch: PatchMark) -> str:
    """Patches that still want work stand out."""
    return "patch" if patch.status in UNSETTLED else "patch-settled"


def _chainage(scene: Scene, start: float, end: float, scale: float) -> Iterator[Item]:
    """Where the row starts in full, the zone's end in full, and round chainages between, ticked along the top."""
    view, size = scene.view, TEXTS["axis"].size
    stride = _stride(scene.ticks, scale)
    shown = [tick for tick in scene.ticks if start <= tick.u <= end and tick.steps % stride == 0]
    wanted = [(0.0, scene.print_start(start))]
    if end >= view.length:
        wanted.append(((end - start) * scale, scene.print_start(view.length)))
    ends = len(place_along(wanted, (end - start) * scale, size))
    wanted = wanted[:ends] + [((tick.u - start) * scale, tick.text) for tick in shown]
    yield from (Symbol("tick", tick.u, 0.0) for tick in shown)
    exact = dict(wanted[:ends])
    for px, text, placed in place_along(wanted, (end - start) * scale, size):
        style = "start" if exact.get(px) == text else "axis"
        yield Text(style, start + px / scale, 0.0, text, placed.dx, -8.0, placed.anchor)


def _stride(ticks: tuple[Tick, ...], scale: float) -> int:
    if len(ticks) < 2:
        return 1
    room = (ticks[1].u - ticks[0].u) * scale
    return next((nice for nice in NICE if nice * room >= TICK_ROOM), NICE[-1])


def _side(view: View, start: float, scale: float) -> Iterator[Item]:
    room = view.height * scale / (len(view.side) - 1)
    every = 1 if room >= 13 else 2 if room >= 6.5 else 4 if room >= 3.25 else len(view.side)
    for v, text in view.side[::every]:
        yield Text("side", start, v, text, -7.0, 4.0, "end")


def _names_below(view: View, marks: list[Mark], start: float, end: float, scale: float) -> Iterator[Item]:
    wanted = [((view.seen(mark.x, 0)[0] - start) * scale, mark.name) for mark in marks if mark.y is None]
    for px, text, placed in place_along(wanted, (end - start) * scale, TEXTS["landmark"].size):
        yield Text("landmark", start + px / scale, view.height, text, placed.dx, 13.0, placed.anchor)


def _marked(
    scene: Scene, marks: list[Mark], start: float, end: float, scale: float, field: LabelField
) -> Iterator[Item]:
    """Symbols, counted cells and all labels inside the row, in order of who gets room first."""
    view = scene.view
    for mark in marks:
        if mark.y is None:
            field.avoid_line((view.seen(mark.x, 0)[0] - start) * scale)
    points = [(mark, *view.seen(mark.x, mark.y)) for mark in marks if mark.y is not None]
    for _, u, v in points:
        field.block((u - start) * scale, v * scale, LANDMARK_HALF, LANDMARK_HALF)
        yield Symbol("landmark", u, v)
    alone, cells = _crowded(scene, start, end, scale, field)
    texts: list[Text] = []
    for px, py, members in cells:
        field.block(px, py, *CHIP_HALF)
        u, v = start + px / scale, py / scale
        yield Symbol("cell", u, v)
        yield Symbol(f"small-{STATUSES[int(scene.ranks[members].min())]}", u, v)
        texts.append(Text("count", u, v, short_count(len(members)), 6.0, 4.0, "middle"))
    flaws = [(scene.flaws[i], float(scene.places[i, 0]), float(scene.places[i, 1])) for i in alone]
    for flaw, u, v in reversed(flaws):
        field.block((u - start) * scale, v * scale, SYMBOL_HALF, SYMBOL_HALF)
        yield Symbol(flaw.status, u, v, flaw.id)
    yield from texts
    wanted = [("landmark", mark.name, u, v, LANDMARK_HALF, LANDMARK_HALF) for mark, u, v in points]
    wanted += [("tag", flaw.tag, u, v, SYMBOL_HALF, SYMBOL_HALF) for flaw, u, v in flaws[:LABELLED_MOST]]
    for polygon, patch, first in scene.patches:
        u, v, half_u, half_v = _middle(polygon, view)
        if first and start <= u < end:
            wanted.append(("patch", patch.number, u, v, half_u * scale, half_v * scale))
    for style, text, u, v, half_width, half_height in wanted:
        placed = field.place(text, TEXTS[style].size, (u - start) * scale, v * scale, (half_width, half_height))
        if placed is not None:
            yield Text(style, u, v, text, placed.dx, placed.dy, placed.anchor)
    for polygon, reason in scene.excluded:
        u, v, _, _ = _middle(polygon, view)
        if start <= u < end:
            placed = field.place_inside(reason, TEXTS["reason"].size, (u - start) * scale, v * scale)
            if placed is not None:
                yield Text("reason", u, v, reason, placed.dx, placed.dy, placed.anchor)


def _middle(polygon: Polygon, view: View) -> tuple[float, float, float, float]:
    """Middle and half sizes of a polygon's box as seen."""
    left, low, right, high = (round(value, 3) for value in polygon.bounds)
    u = view.step_x * ((left + right) / 2 - view.x0)
    return u, view.step_y * ((low + high) / 2 - view.y0), (right - left) / 2, (high - low) / 2


def _crowded(scene: Scene, start: float, end: float, scale: float, field: LabelField) -> tuple[list[int], list[Cell]]:
    """Flaws of a row to draw one by one, and the cells that count the others; members are places in scene.flaws."""
    along = scene.places[:, 0]
    first = int(np.searchsorted(along, start))
    past = int(np.searchsorted(along, end, side="right" if end >= scene.view.length else "left"))
    marks = (scene.places[first:past] - (start, 0.0)) * scale
    alone, cells = crowded_cells(marks, scene.ranks[first:past], field.width, field.height)
    counted = [Cell(cell.px, cell.py, [first + i for i in cell.members]) for cell in cells]
    return [first + i for i in alone], counted


def _overview(scene: Scene, row_width: float) -> Row:
    """The whole zone in one stretched strip, with bars under it that count the flaws."""
    view, size = scene.view, scene.view.length / row_width
    welds = [(view.seen(mark.x, 0)[0] / size, "") for mark in scene.landmarks if line_style(mark) == "weld"]
    corners = ((0.0, 0.0), (view.length, 0.0), (view.length, view.height), (0.0, view.height), (0.0, 0.0))
    items = (
        *_ground(scene, 0.0, view.length),
        *(
            Line("weld", ((px * size, 0.0), (px * size, view.height)))
            for px, _, _ in place_along(welds, row_width, 1.0, gap=4.0)
        ),
        Line("edge", corners),
        *_bars(scene, row_width),
    )
    return Row(0.0, view.length, view.height, items)


def _bars(scene: Scene, row_width: float) -> Iterator[Item]:
    """Bars standing under the strip: unsettled flaws, and settled ones on top of them; the longest fills BAR_HEIGHT."""
    view = scene.view
    bins = max(1, math.floor(row_width / BAR))
    if not scene.flaws:
        return
    where = np.minimum((scene.places[:, 0] / view.length * bins).astype(int), bins - 1)
    unsettled = np.bincount(where[scene.ranks < len(UNSETTLED)], minlength=bins)
    every = np.bincount(where, minlength=bins)
    mark = view.height / OVERVIEW_HEIGHT
    base, tall = view.height + (BAR_HEIGHT + 4.0) * mark, BAR_HEIGHT * mark / int(every.max())
    for place in np.flatnonzero(every).tolist():
        u, low, high = (place + 0.5) * view.length / bins, int(unsettled[place]), int(every[place])
        if low:
            yield Line("bar-unsettled", ((u, base), (u, base - low * tall)))
        if high > low:
            yield Line("bar-settled", ((u, base - low * tall), (u, base - high * tall)))
