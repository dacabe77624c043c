"""The picture beside a worksheet's answer: a surface as seen by the person facing it, its ground and places."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import shapely
from shapely.geometry import mapping as geojson
from shapely.geometry.base import BaseGeometry

from accounts.wording import noted, say
from accounts.worksheets import Drawing, Label, Piece, Shape
from mapping.surfaces import Surface
from mapping.surfaces.plane import Areal, Place

WIDTH = 620.0
HIGHEST = 460.0
FLATTEST = 0.13
EDGE = 14.0
STYLES = {
    "outline": noted("the whole zone"),
    "tested": noted("tested"),
    "held": noted("held: waits for a decision"),
    "pending": noted("pending: waits for the next check"),
    "lost": noted("lost: sweep again"),
    "gap": noted("gap: not swept"),
    "excluded": noted("excluded"),
    "patch": noted("patch"),
    "flaw": noted("flaw"),
    "place": noted("place"),
    "region": noted("the stretch"),
}
_MARKS = {
    "flaw": ((-6.0, -5.0), (6.0, -5.0), (0.0, 6.0)),
    "place": ((0.0, -6.0), (6.0, 0.0), (0.0, 6.0), (-6.0, 0.0)),
}


class Marked(NamedTuple):
    """A place to mark, in a style of `_MARKS`, with its name."""

    style: str
    place: Place
    name: str


def picture(surface: Surface, ground: Sequence[tuple[str, BaseGeometry]], marks: Sequence[Marked] = ()) -> Drawing:
    """The surface with its ground by style and marked places; a long thin zone is stretched, and the words say so."""
    outline = np.column_stack(surface.to_view(*np.array(surface.outline.exterior.coords)[:, :2].T))
    low, high = outline.min(axis=0), outline.max(axis=0)
    size = high - low
    scale = np.full(2, min((WIDTH - 2 * EDGE) / size[0], (HIGHEST - 2 * EDGE) / size[1]))
    stretched = size[1] * scale[1] < FLATTEST * WIDTH
    if stretched:
        scale[1] = FLATTEST * WIDTH / size[1]
    width, height = (size * scale + 2 * EDGE).round(1).tolist()

    def seen(points: Any) -> np.ndarray:
        x, y = np.asarray(points, dtype=float)[:, :2].T
        return (np.column_stack(surface.to_view(x, y)) - low) * scale + EDGE

    pieces = [Piece("outline", _path(seen(surface.outline.exterior.coords)))]
    for style, shape in ground:
        rings = [ring for part in shapely.get_parts(shape) for ring in (part.exterior, *part.interiors)]
        if rings:
            pieces.append(Piece(style, "".join(_path(seen(ring.coords)) for ring in rings)))
    labels = []
    for mark in marks:
        ((right, down),) = seen([mark.place]).round(1).tolist()
        pieces.append(Piece(mark.style, _path(np.array(_MARKS[mark.style]) + (right, down))))
        far = right > 0.7 * width
        labels.append(Label(right - 9 if far else right + 9, max(down - 4, 14.0), mark.name, "end" if far else "start"))
    drawn = dict.fromkeys(piece.style for piece in pieces if piece.style != "outline")
    words = say("{seen}. True scale.", seen=surface.seen_from)
    if stretched:
        words = say("{seen}. Stretched across, not to scale.", seen=surface.seen_from)
    return Drawing(
        width, height, tuple(pieces), tuple(labels), tuple((style, say(STYLES[style])) for style in drawn), words
    )


def told_shape(key: str, name: str, shape: Areal) -> Shape:
    """The shape for programs: GeoJSON in structure, plane metres to 0.1 mm."""
    rounded = shapely.transform(shape, lambda points: np.round(points, 4))
    return Shape(key, name, float(shape.area), geojson(rounded))


def _path(points: np.ndarray) -> str:
    return "M" + "L".join(f"{right:.1f} {down:.1f}" for right, down in points.tolist()) + "Z"
