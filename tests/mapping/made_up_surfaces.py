"""One made-up zone of every kind of surface, with places anywhere on it, for the tests that go over all of them."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import strategies as st

from mapping.positions import Chainage
from mapping.surfaces.disk import Annulus, Disk
from mapping.surfaces.plane import Areal, Place, Surface
from mapping.surfaces.strake import Strake

FEET = Chainage("imperial")
STRAKE = Strake(number=3, height=2.437, circumference=40.0, plates=(350.0, 50.0, 170.5, 290.0))
DISK = Disk(diameter=24.0)
ANNULUS = Annulus(diameter=24.0, inner_diameter=20.5)

SURFACES: dict[str, Surface] = {
    "strake": STRAKE,
    "strake outside, in feet": Strake(number=1, height=2.4384, diameter=36.576, face="outside", chainage=FEET),
    "disk": DISK,
    "disk from below, in feet": Disk(diameter=60.96, viewed="below", chainage=FEET),
    "annulus": ANNULUS,
}


def same(one: shapely.Geometry, other: shapely.Geometry, within: float = 1e-9) -> bool:
    """Whether two shapes differ by less than this, m2."""
    return bool(shapely.symmetric_difference(one, other).area < within)


def inside(surface: Surface, share_x: float, share_y: float) -> Place:
    """A place on the zone: so far along its width, and so far along the ground that there is across."""
    low_x, low_y, high_x, high_y = surface.outline.bounds
    x = low_x + share_x * (high_x - low_x)
    ground = surface.outline.intersection(shapely.LineString([(x, low_y - 1), (x, high_y + 1)]))
    pieces: Areal = shapely.get_parts(ground)
    if not ground.length:
        return Place(pieces[0].centroid.x, pieces[0].centroid.y)
    lengths = np.array([piece.length for piece in pieces])
    way = share_y * lengths.sum()
    which = min(int(np.searchsorted(np.cumsum(lengths), way)), len(pieces) - 1)
    point = pieces[which].interpolate(way - lengths[:which].sum())
    return Place(point.x, point.y)


shares = st.floats(0, 1)
