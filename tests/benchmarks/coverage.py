"""Ground divided by what its swaths are worth, stretch by stretch as it is kept, over one plain union of the swaths."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

import numpy as np
import shapely

from mapping.coverage import divide
from mapping.lanes import lanes
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Areal
from tests.benchmarks.measuring import Line, side_by_side

METRES, LANE_LENGTH, ELECTRODE = 1000.0, 2.0, 0.5
STANDINGS = ("stands",) * 17 + ("held", "pending", "lost")
REPEATS = 5


def measure() -> Iterator[Line]:
    pipe = Pipe(start=1000.0, end=1000.0 + METRES, diameter=2.0)
    swaths = _swaths(pipe)
    shapes = [shape for shape, _ in swaths]
    whole = side_by_side(lambda: divide(pipe.outline, swaths), lambda: shapely.union_all(shapes), REPEATS)
    yield Line(f"coverage, {len(swaths)} swaths at once / one union", "ms", whole.ours * 1e3, whole.floor * 1e3)
    stretches = [(ground, _reaching(ground, swaths)) for ground in pipe.split()]

    def by_stretch() -> None:
        for ground, near in stretches:
            divide(ground, near)

    kept = side_by_side(by_stretch, lambda: shapely.union_all(shapes), REPEATS)
    what = f"coverage, the same in {len(stretches)} stretches / one union"
    yield Line(what, "ms", kept.ours * 1e3, kept.floor * 1e3)


def _swaths(pipe: Pipe) -> list[tuple[Areal, str]]:
    """Every lane in pieces of about two metres, each a hand's breadth off; one in twenty held, pending, lost."""
    dice = Random(20)
    return [
        (
            pipe.fold(
                shapely.box(
                    start - dice.uniform(0, 0.1), lane.low, start + LANE_LENGTH + dice.uniform(0, 0.1), lane.high
                )
            ),
            dice.choice(STANDINGS),
        )
        for lane in lanes(pipe, ELECTRODE)
        for start in np.arange(pipe.start, pipe.end, LANE_LENGTH).tolist()
    ]


def _reaching(ground: Areal, swaths: list[tuple[Areal, str]]) -> list[tuple[Areal, str]]:
    """What the query for one stretch finds."""
    low, _, high, _ = ground.bounds
    return [swath for swath in swaths if swath[0].bounds[0] < high and swath[0].bounds[2] > low]
