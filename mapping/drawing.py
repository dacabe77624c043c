"""Draws one zone as a display list: plain shapes in plane metres with style names, no colours, no pixels.

A long zone is cut into rows of equal length at true scale, like a strip chart, under a stretched overview of the whole;
a floor, a roof or a short deck is one plan. Coordinates are as seen by the person facing the surface: u runs right from
the zone's left end, v runs down. Offsets of texts are marks (1 px on screen, 1 pt on paper). Painters add colour; they
decide nothing. No Django.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry.base import BaseGeometry

from accounts.wording import say
from mapping.rows import Row, along, edges_of, ground_of, row_of
from mapping.scene import FlawMark, Ground, Item, Line, Mark, PassMark, PatchMark, Scene, build_scene, line_style
from mapping.surfaces.plane import Surface
from mapping.symbols import DOUBTS, FLAW_MARKS, STATUSES, Marking
from mapping.view import NICE, View, view_of

OVERVIEW_HEIGHT = 40.0
"""Marks; the overview is stretched to it."""
BAR = 5.0
BAR_HEIGHT = 14.0
"""Marks: width of the overview's counting bars, and height of the longest."""
READABLE, THINNEST = 48.0, 20.0
"""Marks: height of a row that reads well, and of one that still shows more than the overview does."""
MOST_ROWS = 24
PLAN_OVERVIEW = 120.0
"""Marks: height of the small picture above an enlarged plan."""


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
    surface: Surface,
    ground: Ground,
    excluded: Sequence[tuple[BaseGeometry, str]] = (),
    landmarks: Sequence[Mark] = (),
    flaws: Sequence[FlawMark] = (),
    patches: Sequence[PatchMark] = (),
    row_length: float | None = None,
    row_width: float = 1000.0,
    marking: Marking = FLAW_MARKS,
    passes: Sequence[PassMark] = (),
) -> Sheet:
    """Draw a zone as rows of `row_length` metres (fitted to the width when None), `row_width` marks wide.

    Shapes, landmarks and flaws are in plane metres and may reach over the seam or past the zone's ends: they are folded
    and clipped; landmarks and flaws past the ends are left out. `marking` says what the marks are: flaws, or the spots
    of a thickness map, each with its class as its status.

    Raises
    ------
    ValueError
        For a row length or width not above zero, a status that is not one of the marking's (of STATUSES for a patch), or a doubt not one of DOUBTS.
    """
    view = view_of(surface)
    for name, value in (("row_length", row_length), ("row_width", row_width)):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} {value!r} is not allowed: a number above zero")
    for shown, allowed in ((flaws, marking.statuses), (patches, STATUSES)):
        for status in {mark.status for mark in shown}:
            if status not in allowed:
                raise ValueError(f"status {status!r} is not allowed: one of {', '.join(allowed)}")
    for doubt in {doubt for flaw in flaws for doubt in flaw.doubts}:
        if doubt not in DOUBTS:
            raise ValueError(f"doubt {doubt!r} is not allowed: one of {', '.join(DOUBTS)}")
    scene = build_scene(surface, view, ground, excluded, landmarks, flaws, [*passes, *patches], marking)
    length = row_length or fitting_length(view, row_width)
    return Sheet(
        scene,
        length,
        row_width,
        tuple(row_of(scene, start, length, row_width) for start in row_starts(view, length)),
        _overview(scene, row_width),
        row_words(view, length),
        overview_words(scene),
    )


def row_words(view: View, row_length: float) -> str:
    """How a sheet with rows this long is to be read."""
    if view.plan and row_length >= view.length:
        words = say("Plan, true scale. {seen_from}.", seen_from=view.seen_from)
    elif row_length >= view.length:
        length = view.length_words(view.length)
        words = say("One row of {length}, true scale. {seen_from}.", length=length, seen_from=view.seen_from)
    else:
        length = view.length_words(row_length)
        words = say("Rows of {length}, true scale. {seen_from}.", length=length, seen_from=view.seen_from)
    return f"{words} {view.note}" if view.note else words


def overview_words(scene: Scene) -> str:
    """That the overview is stretched, and what its bars count."""
    if scene.view.plan:
        return say("Overview: the frame shows what the plan below shows.")
    words = say("Overview, stretched: {size}, not to scale.", size=scene.view.around)
    return f"{words} {say(scene.marking.bars)}" if scene.flaws else words


def row_lengths(view: View) -> list[float]:
    """Sensible row lengths in metres, the whole zone first, then equal parts a whole (or tenth) unit long.

    A plan is not cut: it has one length.
    """
    lengths = [view.length]
    if view.plan:
        return lengths
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


def _overview(scene: Scene, row_width: float) -> Row:
    """The whole zone in one stretched strip, with bars under it that count the flaws."""
    view, size = scene.view, scene.view.length / row_width
    upright = [mark for mark in scene.landmarks if mark.y is None and line_style(mark) in ("weld", "seam")]
    welds = [(along(view, mark) / size, line_style(mark)) for mark in upright]
    items = (
        *ground_of(scene, 0.0, view.length),
        *(Line(style, ((px * size, 0.0), (px * size, view.height))) for px, style in thinned(welds, 4.0)),
        *edges_of(view, 0.0, view.length),
        *_bars(scene, row_width),
    )
    return Row(0.0, view.length, view.height, items)


def thinned(lines: Sequence[tuple[float, str]], gap: float) -> Iterator[tuple[float, str]]:
    """Lines at (px, style) in order, those left out that stand nearer than `gap` marks to the one before."""
    last = -math.inf
    for px, style in lines:
        if px - last >= gap:
            last = px
            yield px, style


def _bars(scene: Scene, row_width: float) -> Iterator[Item]:
    """Bars standing under the strip: unsettled flaws, and settled ones on top of them; the longest fills BAR_HEIGHT."""
    view = scene.view
    bins = max(1, math.floor(row_width / BAR))
    if not scene.flaws:
        return
    where = np.minimum((scene.places[:, 0] / view.length * bins).astype(int), bins - 1)
    unsettled = np.bincount(where[scene.ranks < scene.marking.unsettled], minlength=bins)
    every = np.bincount(where, minlength=bins)
    mark = view.height / OVERVIEW_HEIGHT
    base, tall = view.height + (BAR_HEIGHT + 4.0) * mark, BAR_HEIGHT * mark / int(every.max())
    for place in np.flatnonzero(every).tolist():
        u, low, high = (place + 0.5) * view.length / bins, int(unsettled[place]), int(every[place])
        if low:
            yield Line("bar-unsettled", ((u, base), (u, base - low * tall)))
        if high > low:
            yield Line("bar-settled", ((u, base - low * tall), (u, base - high * tall)))
