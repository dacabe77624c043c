"""One row of a drawn zone as a list of items: ground, graticule, lines, patches, symbols and labels, in drawing order.

u and v are metres as seen; offsets of texts are marks (1 px on screen, 1 pt on paper). No Django.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from mapping.crowding import Cell, crowded_cells, short_count
from mapping.labels import LabelField, Placed, place_along
from mapping.scene import (
    Area,
    FlawMark,
    Hatch,
    Item,
    Line,
    Mark,
    PassMark,
    PatchMark,
    Rings,
    Scene,
    Symbol,
    Text,
    line_style,
    point_style,
    polygons_of,
)
from mapping.symbols import CHIP_HALF, DOUBTS, GROUND, TEXTS, UNSETTLED
from mapping.view import Point, Tick, View

SYMBOL_HALF, DOUBTED_HALF = 9.0, 13.0
"""Marks: half size of a flaw's symbol, alone and with the ring of a doubt around it."""
LANDMARK_HALF = 4.0
LABELLED_MOST = 400
"""Tags are tried in one row at most this often; past that nobody could read them."""
TICK_ROOM = 76.0
"""Marks: least distance of two ticks along the top."""
SIDE_ROOM = 13.0
"""Marks: least distance of two texts beside a row."""


@dataclass(frozen=True)
class Row:
    """One row: what is seen from u = start to end (metres), `height` metres high."""

    start: float
    end: float
    height: float
    items: tuple[Item, ...]


def row_of(scene: Scene, start: float, row_length: float, row_width: float) -> Row:
    view = scene.view
    end = min(start + row_length, view.length)
    scale = row_width / row_length
    last = end >= view.length
    field = LabelField((end - start) * scale, view.height * scale)
    marks = [mark for mark in scene.landmarks if _within(along(view, mark), start, end, last)]
    return Row(
        start,
        end,
        view.height,
        (
            *ground_of(scene, start, end),
            *_grid(view, start, end),
            *edges_of(view, start, end),
            *_lines(scene, marks, start, end),
            *_outlines(scene, start, end),
            *_along_the_top(view, start, end, scale),
            *_side(view, start, scale),
            *_graticule_names(view, start, end, last, scale, field),
            *_names_below(view, marks, start, end, scale),
            *_marked(scene, marks, start, end, scale, field),
        ),
    )


def along(view: View, mark: Mark) -> float:
    """Where a landmark stands along a row."""
    return view.seen(mark.x, mark.y or 0.0)[0]


def _within(u: float, start: float, end: float, last: bool) -> bool:
    return start <= u < end or (last and end <= u <= end + 1e-6)


def _seen_rings(polygon: Polygon, view: View, start: float, end: float) -> Iterator[Rings]:
    """The rings of what a row shows of a polygon, with a little more at each side so that cut edges stay unseen."""
    more = (end - start) * 0.02
    ends = sorted(view.x0 + view.step_x * u for u in (start - more, end + more))
    if polygon.bounds[0] > ends[1] or polygon.bounds[2] < ends[0]:
        return
    across = sorted(view.y0 + view.step_y * v for v in (-1.0, view.height + 1.0))
    for part in polygons_of(shapely.clip_by_rect(polygon, ends[0], across[0], ends[1], across[1])):
        yield tuple(_seen_ring(ring.coords, view) for ring in (part.exterior, *part.interiors))


def _seen_ring(coordinates: object, view: View) -> tuple[Point, ...]:
    origin, step = (view.x0, view.y0), (view.step_x, view.step_y)
    seen = (np.asarray(coordinates)[:, :2] - origin) * step
    return tuple((u, v) for u, v in np.round(seen, 3).tolist())


def ground_of(scene: Scene, start: float, end: float) -> Iterator[Item]:
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
    for points in view.grid:
        yield from _clipped_lines("grid", points, view, start, end)


def edges_of(view: View, start: float, end: float) -> Iterator[Item]:
    """The zone's edge; a row of a zone that fills its frame is closed where it is cut too."""
    if not view.outline:
        corners = ((start, 0.0), (end, 0.0), (end, view.height), (start, view.height), (start, 0.0))
        yield Line("edge", corners)
    for ring in view.outline:
        yield from _clipped_lines("edge", ring, view, start, end)


def _clipped_lines(style: str, points: tuple[Point, ...], view: View, start: float, end: float) -> Iterator[Item]:
    """What a row shows of a line."""
    along = [u for u, _ in points]
    if start <= min(along) and max(along) <= end:
        yield Line(style, points)
    elif min(along) <= end and max(along) >= start:
        kept = shapely.clip_by_rect(LineString(points), start, -1.0, end, view.height + 1.0)
        for part in shapely.get_parts(kept):
            if isinstance(part, LineString):
                yield Line(style, tuple((u, v) for u, v in part.coords))


def _lines(scene: Scene, marks: list[Mark], start: float, end: float) -> Iterator[Item]:
    view = scene.view
    for mark in marks:
        if mark.y is None:
            u = along(view, mark)
            yield Line(line_style(mark), ((u, 0.0), (u, view.height)))
    for stroke in scene.strokes:
        yield from _clipped_lines(stroke.style, stroke.points, view, start, end)


def _outlines(scene: Scene, start: float, end: float) -> Iterator[Item]:
    for polygon, patch, _ in scene.patches:
        for rings in _seen_rings(polygon, scene.view, start, end):
            yield Area(patch_style(patch), rings)


def patch_style(patch: PatchMark | PassMark) -> str:
    """Patches that still want work stand out."""
    if isinstance(patch, PassMark):
        return "swept-again"
    return "patch" if patch.status in UNSETTLED else "patch-settled"


def _along_the_top(view: View, start: float, end: float, scale: float) -> Iterator[Item]:
    """Where the row starts in full, the zone's end in full, and round places between, ticked along the top."""
    size = TEXTS["axis"].size
    stride = _stride(view, scale)
    shown = [tick for tick in view.ticks if start <= tick.u <= end and tick.steps % stride == 0]
    wanted = [(0.0, view.print_start(start))]
    if end >= view.length:
        wanted.append(((end - start) * scale, view.print_start(view.length)))
    wanted = [(px, text) for px, text in wanted if text]
    ends = len(place_along(wanted, (end - start) * scale, size))
    wanted = wanted[:ends] + [((tick.u - start) * scale, tick.text) for tick in shown]
    yield from (Symbol("tick", tick.u, 0.0) for tick in shown)
    exact = dict(wanted[:ends])
    for px, text, placed in place_along(wanted, (end - start) * scale, size):
        style = "start" if exact.get(px) == text else "axis"
        yield Text(style, start + px / scale, 0.0, text, placed.dx, -8.0, placed.anchor)


def _stride(view: View, scale: float) -> int:
    ticks: tuple[Tick, ...] = view.ticks
    room = (ticks[1].u - ticks[0].u) * scale if len(ticks) > 1 else math.inf
    return next((stride for stride in view.strides if stride * room >= TICK_ROOM), view.strides[-1])


def _side(view: View, start: float, scale: float) -> Iterator[Item]:
    """What is written beside the row, as far as there is room, the most wanted first."""
    kept: list[tuple[float, str]] = []
    for v, text in view.side:
        if all(abs(v - other) * scale >= SIDE_ROOM - 1e-6 for other, _ in kept):
            kept.append((v, text))
    yield from (Text("side", start, v, text, -7.0, 4.0, "end") for v, text in sorted(kept))


def _graticule_names(
    view: View, start: float, end: float, last: bool, scale: float, field: LabelField
) -> Iterator[Item]:
    """Names of rings, rays and the like; other labels keep off them."""
    size = TEXTS["axis"].size
    for u, v, text, dx, dy, anchor in view.names:
        if _within(u, start, end, last):
            field.block_text((u - start) * scale, v * scale, text, size, Placed(dx, dy, anchor))
            yield Text("axis", u, v, text, dx, dy, anchor)


def _names_below(view: View, marks: list[Mark], start: float, end: float, scale: float) -> Iterator[Item]:
    wanted = [((along(view, mark) - start) * scale, mark.name) for mark in marks if mark.y is None]
    for px, text, placed in place_along(wanted, (end - start) * scale, TEXTS["landmark"].size):
        yield Text("landmark", start + px / scale, view.height, text, placed.dx, 13.0, placed.anchor)


def _marked(
    scene: Scene, marks: list[Mark], start: float, end: float, scale: float, field: LabelField
) -> Iterator[Item]:
    """Symbols, counted cells and all labels inside the row, in order of who gets room first."""
    view = scene.view
    for mark in marks:
        if mark.y is None:
            field.avoid_line((along(view, mark) - start) * scale)
    points = [(mark, *view.seen(mark.x, mark.y)) for mark in marks if mark.y is not None]
    for mark, u, v in points:
        if not mark.line:
            field.block((u - start) * scale, v * scale, LANDMARK_HALF, LANDMARK_HALF)
            yield Symbol(point_style(mark), u, v)
    alone, cells = _crowded(scene, start, end, scale, field)
    texts: list[Text] = []
    for px, py, members in cells:
        field.block(px, py, *CHIP_HALF)
        u, v = start + px / scale, py / scale
        yield Symbol("cell", u, v)
        yield Symbol(f"small-{scene.marking.statuses[int(scene.ranks[members].min())]}", u, v)
        texts.append(Text("count", u, v, short_count(len(members)), 6.0, 4.0, "middle"))
    flaws = [(scene.flaws[i], float(scene.places[i, 0]), float(scene.places[i, 1])) for i in alone]
    for flaw, u, v in reversed(flaws):
        half = half_of(flaw)
        field.block((u - start) * scale, v * scale, half, half)
        yield Symbol(flaw.status, u, v, flaw.id)
        yield from (Symbol(doubt, u, v) for doubt in DOUBTS if doubt in flaw.doubts)
    yield from texts
    wanted = [("landmark", mark.name, u, v, LANDMARK_HALF, LANDMARK_HALF) for mark, u, v in points if mark.name]
    wanted += [("tag", flaw.tag, u, v, half_of(flaw), half_of(flaw)) for flaw, u, v in flaws[:LABELLED_MOST]]
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
    left, low, right, high = np.round(polygon.bounds, 3).tolist()
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


def half_of(flaw: FlawMark) -> float:
    """How far a flaw's symbol reaches, marks."""
    return DOUBTED_HALF if flaw.doubts else SYMBOL_HALF
