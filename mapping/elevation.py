"""An asset drawn as one sees it: pipelines as ribbons, tanks as elevation with roof and floor, decks and panels as plans.

Each zone is a piece, filled where its ground is tested, hatched where it waits or is lost, dotted by its open flaws. Groups
are boxes of marks (1 mark = 1 px or 1 pt), y down, that stand side by side. Painters add colour. No Django.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, affinity
from shapely.geometry.base import BaseGeometry

from mapping.labels import text_width
from mapping.scene import Ground, polygons_of
from mapping.surfaces.plane import Surface

WIDTH = 480.0
"""Marks: width of a group, that of a phone or half a page."""
SIZE, SMALL = 12.0, 11.0
"""Marks: letters of names, and of what stands at the axes."""
CHIP = 14.0
SIGNS = {"accepted": "✓", "ready": "◆", "owner": "◆", "begun": "◐", "open": "▼", "none": ""}
"""The state of a zone as a sign, so that colour never stands alone."""
_FINEST = 0.4
_DOT_ROOM = 3.0
_INSET = 1e-4

Point = tuple[float, float]
Rings = tuple[tuple[Point, ...], ...]
Projection = Callable[[NDArray[np.float64]], NDArray[np.float64]]


class Part(NamedTuple):
    """A zone to draw: `flaws` are the plane places of open ones; no `ground` before a coating has begun."""

    id: str
    name: str
    surface: Surface
    state: str
    words: str
    ground: Ground | None = None
    flaws: Sequence[Point] = ()


class Band(NamedTuple):
    """A place of its own for chip and name: the middle, the baseline and the width of the room, marks."""

    x: float
    y: float
    room: float


class Lettering(NamedTuple):
    """Words whose baseline `anchor` is at (x, y)."""

    x: float
    y: float
    text: str
    anchor: str = "middle"
    size: float = SMALL


@dataclass(frozen=True)
class Piece:
    """A zone as drawn: outline, ground and dots in marks of its group; `chip` is the corner of the square with its state."""

    part: Part
    outline: Rings
    tested: tuple[Rings, ...]
    doubtful: tuple[Rings, ...]
    dots: tuple[Point, ...]
    chip: Point | None
    label: Lettering | None

    @property
    def sign(self) -> str:
        return SIGNS[self.part.state]


@dataclass(frozen=True)
class Group:
    """Pieces that are seen together, `height` marks high and WIDTH wide; `words` say how they are seen."""

    words: str
    height: float
    pieces: tuple[Piece, ...]
    lettering: tuple[Lettering, ...] = ()
    lines: tuple[tuple[Point, ...], ...] = ()


@dataclass(frozen=True)
class AssetDrawing:
    groups: tuple[Group, ...]

    @property
    def shown(self) -> frozenset[str]:
        """What occurs on it, for the legend: states, "tested", "doubtful", "flaw"."""
        pieces = [piece for group in self.groups for piece in group.pieces]
        found = {piece.part.state for piece in pieces}
        for name, there in (
            ("tested", any(piece.tested for piece in pieces)),
            ("doubtful", any(piece.doubtful for piece in pieces)),
            ("flaw", any(piece.dots for piece in pieces)),
        ):
            if there:
                found.add(name)
        return frozenset(found)


class Frame(NamedTuple):
    """Where metres of a group come to lie: marks per metre each way, and the marks of its origin."""

    scale_x: float
    scale_y: float
    left: float
    top: float

    def marks(self, metres: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(metres * (self.scale_x, self.scale_y) + (self.left, self.top))


def piece_of(part: Part, outline: BaseGeometry, project: Projection, frame: Frame, band: Band | None = None) -> Piece:
    """A zone in its group: `outline` in metres of the group, `project` takes plane metres there.

    Chip and name go into the piece where they fit, or where `band` says.
    """

    def drawn(shape: BaseGeometry) -> tuple[Rings, ...]:
        if shape.is_empty:
            return ()
        sides = shape.bounds[2] - shape.bounds[0], shape.bounds[3] - shape.bounds[1]
        reach = max(min(sides) / 24, max(sides) / 200)
        inner = shapely.segmentize(shape.buffer(-_INSET, join_style="mitre"), reach)
        placed = shapely.transform(inner, lambda points: frame.marks(project(points)))
        return tuple(_rings(piece) for piece in polygons_of(placed.simplify(_FINEST)))

    ground = part.ground
    edge = shapely.transform(outline, frame.marks)
    dots = frame.marks(project(np.asarray(part.flaws, dtype=float))) if part.flaws else np.empty((0, 2))
    chip, label = _labelled(part, edge, band)
    return Piece(
        part,
        tuple(ring for piece in polygons_of(edge) for ring in _rings(piece)),
        drawn(ground.stands) if ground else (),
        drawn(shapely.union_all([ground.held, ground.pending, ground.lost])) if ground else (),
        tuple(_apart(dots)),
        chip,
        label,
    )


def _rings(polygon: Polygon) -> Rings:
    rings = (polygon.exterior, *polygon.interiors)
    return tuple(tuple((x, y) for x, y in np.round(np.asarray(ring.coords)[:-1], 1).tolist()) for ring in rings)


def _apart(dots: NDArray[np.float64]) -> Iterable[Point]:
    """One dot for those so near together that they would be one blot."""
    cells = {
        tuple(cell): tuple(dot) for dot, cell in zip(dots.round(1).tolist(), (dots // _DOT_ROOM).tolist(), strict=True)
    }
    return ((x, y) for x, y in cells.values())


def _labelled(part: Part, edge: BaseGeometry, band: Band | None) -> tuple[Point | None, Lettering | None]:
    """The chip with the state, and the name beside it, cut short where it must be; the chip alone, or nothing."""
    if band is None:
        left, top, right, bottom = edge.bounds
        if bottom - top < CHIP + 2:
            return None, None
        place = edge.representative_point()
        chord = edge.intersection(shapely.box(left - 1, place.y - CHIP / 2, right + 1, place.y + CHIP / 2))
        widest = max(shapely.get_parts(chord), key=lambda piece: piece.area)
        ends = widest.bounds[0], widest.bounds[2]
        band = Band((ends[0] + ends[1]) / 2, place.y + SIZE * 0.35, ends[1] - ends[0] - 8)
    chip = CHIP if part.state != "none" else 0.0
    name = shortened(part.name, band.room - chip - 4)
    if band.room < chip + 2 or not (chip or name):
        return None, None
    start = band.x - (chip + (4 + text_width(name, SIZE) if name else 0)) / 2
    corner = (round(start, 1), round(band.y - SIZE * 0.35 - CHIP / 2, 1)) if chip else None
    label = Lettering(round(start + chip + 4, 1), round(band.y, 1), name, "start", SIZE) if name else None
    return corner, label


def shortened(name: str, room: float) -> str:
    """The name; else the number it ends with; else its beginning with three dots; nothing where that is too short."""
    if text_width(name, SIZE) <= room:
        return name
    last = name.split()[-1] if name.split() else ""
    if any(map(str.isdigit, last)) and text_width(last, SIZE) <= room:
        return last
    letters = int((room - text_width("…", SIZE)) / text_width("m", SIZE))
    return f"{name[:letters].rstrip()}…" if letters >= 3 else ""


def joined(outline: Polygon, step_x: int, step_y: int) -> BaseGeometry:
    """A plane outline turned the way it is seen, still in its own metres."""
    return affinity.scale(outline, step_x, step_y, origin=(0, 0))


def flat(surface: Surface) -> tuple[BaseGeometry, Projection]:
    """A surface seen flat: its outline as seen, and the way there from plane metres."""
    step = np.array([_step(surface, 0), _step(surface, 1)])
    return joined(surface.outline, *step.tolist()), lambda points: points * step


def _step(surface: Surface, axis: int) -> int:
    here, there = np.zeros(2), np.eye(2)[axis]
    first, second = (np.array(surface.to_view(*point))[axis] for point in (here, there))
    return 1 if second > first else -1


def wound(surface: Surface, width: float, height: float) -> tuple[BaseGeometry, Projection]:
    """What goes all the way round, squeezed to what one sees of it: `width` by `height` metres, the seam at both sides."""
    left, low, right, high = surface.outline.bounds
    right_way, up_way = _step(surface, 0) > 0, _step(surface, 1) < 0

    def project(points: NDArray[np.float64]) -> NDArray[np.float64]:
        across = (points[:, 0] - left) / (right - left)
        up = (points[:, 1] - low) / (high - low)
        return np.column_stack((width * (across if right_way else 1 - across), height * (1 - up if up_way else up)))

    return shapely.box(0, 0, width, height), project


def scaled_to(width: float, height: float, most: float = 360.0, room: float = WIDTH - 20.0) -> float:
    """Marks a metre for something this large (m) to fit a group."""
    return min(room / max(width, 1e-6), most / max(height, 1e-6))


def even(count: int, most: int) -> int:
    """How many to put in each row, so that rows of at most `most` are about equally full."""
    return math.ceil(count / math.ceil(count / most)) if count else 0
