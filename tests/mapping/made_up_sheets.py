"""A drawn zone of every kind of surface, with every kind of ground, landmark, patch and flaw, for the drawing's tests."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from mapping.drawing import Sheet, draw_zone
from mapping.scene import FlawMark, Mark, PatchMark
from mapping.surfaces.plane import Surface, areal
from mapping.symbols import STATUSES
from tests.mapping.made_up_section import Divided, a_pipe
from tests.mapping.made_up_surfaces import SURFACES, inside

SHEETS: dict[str, Surface] = {"pipe": a_pipe(), **SURFACES}


def ground_on(surface: Surface) -> Divided:
    """Tested on the left half; gap, pending, held and lost side by side on the right one."""
    left, low, right, high = surface.outline.bounds
    edges = np.linspace((left + right) / 2, right, 5)
    parts = [
        areal(surface.outline.intersection(shapely.box(a, low, b, high)))
        for a, b in zip(edges[:-1], edges[1:], strict=True)
    ]
    gap, pending, held, lost = parts
    return Divided(areal(surface.outline - shapely.union_all(parts)), held, pending, lost, gap)


def flaws_on(surface: Surface, count: int, seed: int = 4) -> list[FlawMark]:
    dice = random.Random(seed)
    doubts: list[tuple[str, ...]] = [(), (), (), ("unconfirmed",), ("by-test", "unconfirmed")]
    return [
        FlawMark(f"B{number}", *inside(surface, dice.random(), dice.random()), dice.choice(STATUSES), f"flaw-{number}", dice.choice(doubts))
        for number in range(1, count + 1)
    ]  # fmt: skip


def a_sheet_of(surface: Surface, count: int = 40, **options: Any) -> Sheet:
    ground = ground_on(surface)
    left, low, right, high = surface.outline.bounds
    wide, high_ = right - left, high - low
    nozzle, patch, saddle = inside(surface, 0.3, 0.5), inside(surface, 0.45, 0.4), inside(surface, 0.7, 0.5)
    size = min(wide, high_) / 20
    return draw_zone(
        surface,
        ground,
        [(areal(surface.fold(Polygon(shapely.Point(saddle).buffer(size).exterior))), "saddle")],
        [
            Mark("nozzle", "N2", *nozzle),
            Mark("untested", "N3", *inside(surface, 0.6, 0.3)),
            Mark("untested", "", *inside(surface, 0.4, 0.5), (inside(surface, 0.3, 0.6), inside(surface, 0.5, 0.7))),
            Mark("seam", "S1", *inside(surface, 0.5, 0.5), (inside(surface, 0.2, 0.5), inside(surface, 0.8, 0.6))),
        ],
        flaws_on(surface, count),
        [PatchMark("P1", surface.footprint(*patch, size, size, size / 2), "begun")],
        **options,
    )
