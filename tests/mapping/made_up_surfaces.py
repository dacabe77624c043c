"""One made-up zone of every kind of surface, with places anywhere on it, for the tests that go over all of them."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import strategies as st

from mapping.positions import Chainage
from mapping.surfaces.cone import Cone
from mapping.surfaces.deck import Corner, Deck
from mapping.surfaces.disk import Annulus, Disk
from mapping.surfaces.local import Bend, Head, Sphere
from mapping.surfaces.panel import Panel
from mapping.surfaces.plane import Areal, Place, Surface
from mapping.surfaces.strake import Strake

FEET = Chainage("imperial")
STRAKE = Strake(number=3, height=2.437, circumference=40.0, plates=(350.0, 50.0, 170.5, 290.0))
DISK = Disk(diameter=24.0)
ANNULUS = Annulus(diameter=24.0, inner_diameter=20.5)
CONE = Cone(diameter=24.0, height=9.0)
HOPPER = Cone(diameter=12.0, cut_diameter=2.0, height=12.0, viewed="below")
FLAT_ROOF = Cone(diameter=40.0, height=1.25, chainage=FEET)
GRID = (0.0, 6.1, 12.3, 18.0, 24.2)
DECK = Deck(letters=GRID, numbers=(0.0, 4.05, 8.0, 11.5), first_letter="G", first_number=7, skip="IO")
CURVED = Deck(
    letters=GRID,
    numbers=(0.0, 4.05, 8.0, 11.5),
    numbers_run="down",
    corners=(Corner(-0.8, -0.5), Corner(25.0, 1.2), Corner(27.0, 12.5, (26.9, 6.5)), Corner(1.5, 12.0)),
)
PANEL = Panel(width=3.0, height=1.604)
HEAD = Head(diameter=2 * (14.0 / 3.141592653589793) ** 0.5, reach=2.3, stated=14.0)

SURFACES: dict[str, Surface] = {
    "strake": STRAKE,
    "strake outside, in feet": Strake(number=1, height=2.4384, diameter=36.576, face="outside", chainage=FEET),
    "disk": DISK,
    "disk from below, in feet": Disk(diameter=60.96, viewed="below", chainage=FEET),
    "annulus": ANNULUS,
    "cone": CONE,
    "cut cone from below": HOPPER,
    "flat cone, in feet": FLAT_ROOF,
    "deck": DECK,
    "curved deck": CURVED,
    "deck from below, in feet": Deck(letters=(0.0, 6.096, 12.3), numbers=(0.0, 4.0), viewed="below", chainage=FEET),
    "panel": PANEL,
    "bend": Bend(start=100.0, end=103.7, circumference=1.0, stated=8.9),
    "head": HEAD,
    "sphere": Sphere(stated=400.0),
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
