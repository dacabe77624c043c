"""A zone as it is seen before it is cut into rows: the items of a display list, the view, what is drawn.

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
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from mapping.symbols import GROUND, STATUSES

_MOST_TICKS = 1000
NICE: tuple[int, ...] = tuple(m * 10**e for e in range(6) for m in (1, 2, 5))
"""Steps that people count in."""

Point = tuple[float, float]
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


class Written(Protocol):
    """How distance along the surface is written."""

    @property
    def unit(self) -> float: ...
    def print(self, metres: float) -> str: ...


class Unrolled(Protocol):
    """What drawing needs to know of a pipe (metres): its ends, its circumference, how it is seen and spoken."""

    @property
    def start(self) -> float: ...
    @property
    def end(self) -> float: ...
    @property
    def period(self) -> float: ...
    @property
    def face(self) -> str: ...
    @property
    def seen_from(self) -> str: ...
    @property
    def chainage(self) -> Written: ...
    def fold(self, geometry: BaseGeometry) -> BaseGeometry: ...


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
    """A landmark: a line around the surface at x, or a point when it has a y."""

    kind: str
    name: str
    x: float
    y: float | None = None


class FlawMark(NamedTuple):
    tag: str
    x: float
    y: float
    status: str
    id: str


class PatchMark(NamedTuple):
    number: str
    shape: BaseGeometry
    status: str


@dataclass(frozen=True)
class View:
    """How plane metres become what a person facing the surface sees: u = step_x (x - x0), v = step_y (y - y0)."""

    length: float
    height: float
    x0: float
    y0: float
    step_x: int
    step_y: int
    seen_from: str
    unit: float
    side: tuple[tuple[float, str], ...]

    def seen(self, x: float, y: float) -> Point:
        """Where the plane point (x, y) is drawn; y is taken modulo the height, over the seam."""
        return self.step_x * (round(x, 3) - self.x0), (self.step_y * (round(y, 3) - self.y0)) % self.height

    def plane(self, u: float, v: float) -> Point:
        """The plane point drawn at (u, v)."""
        return self.x0 + self.step_x * u, (self.y0 + self.step_y * v) % self.height

    def length_words(self, metres: float) -> str:
        """A length in the unit that the asset's positions are written in."""
        return f"{round(metres / self.unit, 2):g} {'m' if self.unit == 1.0 else 'ft'}"


class Tick(NamedTuple):
    """A round chainage: `steps` counts the finest steps from zero, so that coarser axes pick multiples."""

    steps: int
    u: float
    text: str


@dataclass(frozen=True)
class Scene:
    """A whole zone before it is cut: shapes are folded over the seam and stay in plane metres; flaws run along u."""

    view: View
    surface: Unrolled
    ground: dict[str, tuple[Polygon, ...]]
    excluded: tuple[tuple[Polygon, str], ...]
    landmarks: tuple[Mark, ...]
    flaws: tuple[FlawMark, ...]
    patches: tuple[tuple[Polygon, PatchMark, bool], ...]
    ticks: tuple[Tick, ...]

    @cached_property
    def places(self) -> np.ndarray:
        """Flaws as seen, shape (n, 2), metres."""
        return np.array([self.view.seen(flaw.x, flaw.y) for flaw in self.flaws], dtype=float).reshape(-1, 2)

    @cached_property
    def ranks(self) -> np.ndarray:
        """Each flaw's status as its place in STATUSES, shape (n,)."""
        return np.array([STATUSES.index(flaw.status) for flaw in self.flaws], dtype=int)

    def print_start(self, u: float) -> str:
        """The chainage written where a row starts."""
        return self.surface.chainage.print(self.view.plane(u, 0.0)[0])


def view_of(surface: Unrolled) -> View:
    """How a pipe is seen: chainage to the right; down the page 12-3-6-9-12 outside, 12-9-6-3-12 inside."""
    outside = surface.face == "outside"
    clock = ("12:00", "3:00", "6:00", "9:00", "12:00")
    height = surface.period
    return View(
        length=round(surface.end - surface.start, 6),
        height=height,
        x0=surface.start,
        y0=0.0 if outside else height,
        step_x=1,
        step_y=1 if outside else -1,
        seen_from=surface.seen_from,
        unit=surface.chainage.unit,
        side=tuple((i * height / 4, text) for i, text in enumerate(clock if outside else reversed(clock))),
    )


def build_scene(
    surface: Unrolled,
    view: View,
    ground: Ground,
    excluded: Sequence[tuple[BaseGeometry, str]],
    landmarks: Sequence[Mark],
    flaws: Sequence[FlawMark],
    patches: Sequence[PatchMark],
) -> Scene:
    shapes = {
        style: tuple(_folded(getattr(ground, "stands" if style == "tested" else style), surface)) for style in GROUND
    }
    inside = [flaw for flaw in flaws if 0 <= view.seen(flaw.x, flaw.y)[0] <= view.length]
    outlines = []
    for patch in patches:
        pieces = sorted(_folded(patch.shape, surface), key=lambda piece: -piece.area)
        outlines += [(piece, patch, number == 0) for number, piece in enumerate(pieces)]
    return Scene(
        view,
        surface,
        shapes,
        tuple((piece, reason) for shape, reason in excluded for piece in _folded(shape, surface)),
        tuple(
            sorted(
                (mark for mark in landmarks if -1e-6 <= view.seen(mark.x, 0)[0] <= view.length + 1e-6),
                key=lambda mark: view.seen(mark.x, 0),
            )
        ),
        tuple(sorted(inside, key=lambda flaw: view.seen(flaw.x, flaw.y))),
        tuple(outlines),
        _ticks(surface, view),
    )


def _folded(shape: BaseGeometry, surface: Unrolled) -> Iterator[Polygon]:
    """The polygons of a shape, brought over the seam onto the zone and clipped at its ends."""
    inside = (surface.start, 0.0, surface.end, surface.period)
    bounds = shape.bounds
    if shape.is_empty:
        return
    if any(low < limit for low, limit in zip(bounds[:2], inside[:2], strict=True)) or any(
        high > limit for high, limit in zip(bounds[2:], inside[2:], strict=True)
    ):
        shape = surface.fold(shape)
    yield from polygons_of(shape)


def polygons_of(shape: BaseGeometry) -> Iterator[Polygon]:
    for part in shapely.get_parts(shape):
        if isinstance(part, Polygon) and part.area > 1e-9:
            yield part


def _ticks(surface: Unrolled, view: View) -> tuple[Tick, ...]:
    step = next(nice for nice in NICE if view.length / (nice * view.unit) <= _MOST_TICKS) * view.unit
    ends = sorted((view.x0, view.x0 + view.step_x * view.length))
    ticks = []
    for index in range(math.ceil(ends[0] / step - 1e-9), math.floor(ends[1] / step + 1e-9) + 1):
        text = surface.chainage.print(index * step).removesuffix(".00")
        ticks.append(Tick(index, round(view.step_x * (index * step - view.x0), 6), text))
    return tuple(sorted(ticks, key=lambda tick: tick.u))
