"""A zone as it is seen before it is cut into rows: the items of a display list, and what is drawn.

u runs right from the zone's left end and v down, in metres, as seen by the person facing the surface; x and y are
plane metres as stored. Shapes are folded over the seam and clipped at the zone's ends. No Django.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Protocol

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from accounts.wording import say
from mapping.surfaces.plane import Surface
from mapping.surfaces.strake import Strake
from mapping.symbols import FLAW_MARKS, GROUND, Marking
from mapping.view import Point, View

Rings = tuple[tuple[Point, ...], ...]


@dataclass(frozen=True)
class Area:
    """A filled area: outer ring, then holes."""

    style: str
    rings: Rings


@dataclass(frozen=True)
class Hatch:
    """A hatched area: outer ring, then holes."""

    style: str
    rings: Rings


@dataclass(frozen=True)
class Line:
    style: str
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Symbol:
    """A mark of fixed size at a point; `name` is what pressing it selects."""

    style: str
    u: float
    v: float
    name: str = ""


@dataclass(frozen=True)
class Text:
    """Words whose baseline `anchor` (start, middle, end) is (dx, dy) marks from the point."""

    style: str
    u: float
    v: float
    text: str
    dx: float
    dy: float
    anchor: str


Item = Area | Hatch | Line | Symbol | Text


class Ground(Protocol):
    """The testable area divided without overlap, in plane metres."""

    @property
    def stands(self) -> BaseGeometry: ...
    @property
    def held(self) -> BaseGeometry: ...
    @property
    def pending(self) -> BaseGeometry: ...
    @property
    def lost(self) -> BaseGeometry: ...
    @property
    def gap(self) -> BaseGeometry: ...


class Mark(NamedTuple):
    """A landmark: a point; without a y a line across the whole surface at x; with a `line` one along these points."""

    kind: str
    name: str
    x: float
    y: float | None = None
    line: tuple[Point, ...] = ()


class FlawMark(NamedTuple):
    """A flaw, or a thickness spot; `doubts` are what a doubtful test leaves on it, as styles of DOUBTS."""

    tag: str
    x: float
    y: float
    status: str
    id: str
    doubts: tuple[str, ...] = ()


class PatchMark(NamedTuple):
    number: str
    shape: BaseGeometry
    status: str


class PassMark(NamedTuple):
    """Ground swept `times` over, more than once, at high voltage."""

    times: int
    shape: BaseGeometry

    @property
    def number(self) -> str:
        return f"{self.times}×"


class Stroke(NamedTuple):
    """A line along these points as seen, in one piece."""

    style: str
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Scene:
    """A whole zone before it is cut: shapes are folded over the seam and stay in plane metres; flaws run along u."""

    view: View
    ground: dict[str, tuple[Polygon, ...]]
    excluded: tuple[tuple[Polygon, str], ...]
    landmarks: tuple[Mark, ...]
    strokes: tuple[Stroke, ...]
    flaws: tuple[FlawMark, ...]
    patches: tuple[tuple[Polygon, PatchMark | PassMark, bool], ...]
    marking: Marking = FLAW_MARKS

    @cached_property
    def places(self) -> np.ndarray:
        """Flaws as seen, shape (n, 2), metres; rounding takes none out of the frame."""
        places = np.array([self.view.seen(flaw.x, flaw.y) for flaw in self.flaws], dtype=float).reshape(-1, 2)
        return np.clip(places, 0.0, (self.view.length, self.view.height))

    @cached_property
    def ranks(self) -> np.ndarray:
        """Each flaw's status as its place among those of the marking, shape (n,)."""
        return np.array([self.marking.statuses.index(flaw.status) for flaw in self.flaws], dtype=int)


def build_scene(
    surface: Surface,
    view: View,
    ground: Ground,
    excluded: Sequence[tuple[BaseGeometry, str]],
    landmarks: Sequence[Mark],
    flaws: Sequence[FlawMark],
    patches: Sequence[PatchMark | PassMark],
    marking: Marking = FLAW_MARKS,
) -> Scene:
    shapes = {
        style: tuple(_folded(getattr(ground, "stands" if style == "tested" else style), surface)) for style in GROUND
    }
    inside = [flaw for flaw in flaws if _in_frame(view, flaw.x, flaw.y)]
    outlines = []
    for patch in patches:
        pieces = sorted(_folded(patch.shape, surface), key=lambda piece: -piece.area)
        outlines += [(piece, patch, number == 0) for number, piece in enumerate(pieces)]
    marks = [mark for mark in (*landmarks, *_plate_seams(surface)) if _in_frame(view, mark.x, mark.y)]
    return Scene(
        view,
        shapes,
        tuple((piece, reason) for shape, reason in excluded for piece in _folded(shape, surface)),
        tuple(sorted(marks, key=lambda mark: view.seen(mark.x, mark.y or 0.0))),
        tuple(stroke for mark in landmarks if mark.line for stroke in _strokes(mark, surface, view)),
        tuple(sorted(inside, key=lambda flaw: view.seen(flaw.x, flaw.y))),
        tuple(outlines),
        marking,
    )


def line_style(mark: Mark) -> str:
    """Welds are drawn whole, seams of plates in long dashes, edges strong, what is not tested loud, other lines dashed."""
    styles = {"girth weld": "weld", "weld": "weld", "seam": "seam", "edge": "ridge", "untested": "untested",
              "failed": "failed"}  # fmt: skip
    return styles.get(mark.kind, "landmark")


def point_style(mark: Mark) -> str:
    """A nozzle or bracket that is not tested yet stands out, and so does a place where thickness is to be measured."""
    return {"untested": "untested-point", "next": "next-place"}.get(mark.kind, "landmark")


def _in_frame(view: View, x: float, y: float | None) -> bool:
    u, v = view.seen(x, view.y0 if y is None else y)
    slack = 1e-6 if view.wrap == "y" else 1e-3
    return -slack <= u <= view.length + slack and -1e-3 <= v <= view.height + 1e-3


def _plate_seams(surface: Surface) -> Iterator[Mark]:
    """The vertical seams of a strake, each named by the plate that begins there and the way it runs on the sheet."""
    if isinstance(surface, Strake):
        for number, azimuth in enumerate(surface.plates, 1):
            name = say("plate {number}", number=number)
            name = f"{name} →" if surface.face == "inside" else f"← {name}"
            yield Mark("seam", name, azimuth / 360 * surface.period)


def _strokes(mark: Mark, surface: Surface, view: View) -> Iterator[Stroke]:
    """The pieces of a landmark's line that lie on the zone, brought over the seam."""
    line: BaseGeometry = LineString(mark.line)
    period = surface.period
    if period is not None:
        along = 0 if surface.wrap_axis == "x" else 1
        low, high = line.bounds[along], line.bounds[along + 2]
        turns = range(math.floor(low / period), math.floor(high / period) + 1)
        shifts = [(-turn * period, 0.0) if along == 0 else (0.0, -turn * period) for turn in turns]
        line = shapely.union_all([affinity.translate(line, *shift) for shift in shifts])
    kept = shapely.intersection(line, surface.outline.buffer(1e-6))
    for piece in shapely.get_parts(shapely.line_merge(kept)):
        if isinstance(piece, LineString) and piece.length > 1e-6:
            seen = (np.asarray(piece.coords) - (view.x0, view.y0)) * (view.step_x, view.step_y)
            yield Stroke(line_style(mark), tuple((u, v) for u, v in np.round(seen, 3).tolist()))


def _folded(shape: BaseGeometry, surface: Surface) -> Iterator[Polygon]:
    """The polygons of a shape, brought over the seam onto the zone and clipped at its ends."""
    if shape.is_empty:
        return
    left, low, right, high = surface.outline.bounds
    bounds = shape.bounds
    if bounds[0] < left or bounds[1] < low or bounds[2] > right or bounds[3] > high:
        shape = surface.fold(shape)
    yield from polygons_of(shape)


def polygons_of(shape: BaseGeometry) -> Iterator[Polygon]:
    for part in shapely.get_parts(shape):
        if isinstance(part, Polygon) and part.area > 1e-9:
            yield part
