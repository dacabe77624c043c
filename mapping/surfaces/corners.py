"""The outline of a deck from its corners, the edge to each straight or an arc. No Django."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import shapely
from shapely import Polygon

from accounts.wording import say
from mapping.surfaces.plane import SurfaceError
from mapping.surfaces.sizes import number

LARGEST = 100_000.0  # m from the grid's origin
ARC_STEP = math.radians(1.0)


class Corner(NamedTuple):
    """A corner of the outline (m); where the edge to it is curved, it runs through `through`."""

    x: float
    y: float
    through: tuple[float, float] | None = None


def outline_of(corners: Sequence[Corner]) -> Polygon:
    """Return the polygon through the corners in their order; an arc keeps the area it has.

    Raises
    ------
    SurfaceError
        For fewer than three points.
    """
    ring: list[tuple[float, float]] = []
    for before, corner in pairwise((corners[-1], *corners)):
        if corner.through is not None:
            ring.extend(_between((before.x, before.y), corner.through, (corner.x, corner.y)))
        ring.append((corner.x, corner.y))
    if len(ring) < 3:
        raise SurfaceError("corners", say("corners {count} are too few: three or more are needed", count=len(ring)))
    return shapely.orient_polygons(Polygon(ring))


def stored_corner(corner: Corner) -> Any:
    """The corner as it is stored: its place, with the point its edge runs through where that is curved."""
    place = [corner.x, corner.y]
    return place if corner.through is None else {"through": list(corner.through), "to": place}


def read_corner(corner: object) -> Corner:
    """The corner of its stored form. Raises SurfaceError where it is none."""
    if isinstance(corner, dict) and set(corner) == {"through", "to"}:
        return Corner(*_read_point(corner["to"]), _read_point(corner["through"]))
    return Corner(*_read_point(corner))


def _read_point(point: object) -> tuple[float, float]:
    if not isinstance(point, list) or len(point) != 2:
        raise SurfaceError(
            "corners",
            say('corners {point} is not allowed: [x, y] or {{"through": [x, y], "to": [x, y]}}', point=str(point)[:60]),
        )
    x, y = (number("corners", value) for value in point)
    if not (abs(x) <= LARGEST and abs(y) <= LARGEST):
        raise SurfaceError(
            "corners",
            say(
                "corners {point!r} is not allowed: at most {largest:g} m from the origin", point=point, largest=LARGEST
            ),
        )
    return x, y


def _between(
    start: tuple[float, float], through: tuple[float, float], end: tuple[float, float]
) -> list[tuple[float, float]]:
    """Points between the ends of an arc, on the radius that makes the polygon's area that of the arc."""
    a, b, c = complex(*start), complex(*through), complex(*end)
    w = (c - a) / (b - a) if b != a else 0j
    if abs(w.imag) < 1e-12:
        return []
    centre = a + (b - a) * (w - abs(w) ** 2) / (2j * w.imag)
    swept = np.angle((b - centre) / (a - centre)) % (2 * math.pi)
    turned = np.angle((c - centre) / (a - centre)) % (2 * math.pi)
    if swept > turned:
        turned -= 2 * math.pi
    steps = max(2, math.ceil(abs(turned) / ARC_STEP))
    step = abs(turned) / steps
    # Two triangles reach from the true radius to the corners' share of it, the others lie between corners:
    # sin(step) * (2 q + (steps - 2) q^2) = steps * step, solved for q.
    area = steps * step / math.sin(step)
    share = area / 2 if steps == 2 else (math.sqrt(1 + (steps - 2) * area) - 1) / (steps - 2)
    angles = turned * np.arange(1, steps) / steps
    points = centre + (a - centre) * share * np.exp(1j * angles)
    return [(float(point.real), float(point.imag)) for point in points]
