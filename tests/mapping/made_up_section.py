"""A made-up stretch of pipe with every kind of ground, landmark, patch and flaw, for the drawing's tests."""

from __future__ import annotations

import random
from typing import Any, NamedTuple

from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from mapping.drawing import Sheet, draw_zone
from mapping.scene import FlawMark, Mark, PatchMark
from mapping.surfaces.pipe import Pipe
from mapping.symbols import STATUSES

CIRCUMFERENCE = 3.83


class Divided(NamedTuple):
    """The testable area divided without overlap."""

    stands: BaseGeometry
    held: BaseGeometry
    pending: BaseGeometry
    lost: BaseGeometry
    gap: BaseGeometry


def a_pipe(**changes: Any) -> Pipe:
    return Pipe(**{"start": 1000.0, "end": 1096.0, "circumference": CIRCUMFERENCE, **changes})


def ground_of(pipe: Pipe) -> Divided:
    """A quarter of the way round and an eighth of the length at a time; the first half is all tested."""
    quarter, part = pipe.period / 4, (pipe.end - pipe.start) / 8
    held = box(pipe.start + 4 * part, 0, pipe.start + 5 * part, 2 * quarter)
    pending = box(pipe.start + 5 * part, quarter, pipe.start + 6 * part, 3 * quarter)
    lost = box(pipe.start + 6 * part, 2 * quarter, pipe.start + 7 * part, 4 * quarter)
    gap = box(pipe.start + 7 * part, 0, pipe.end, quarter).union(
        box(pipe.start + 7.5 * part, 2 * quarter, pipe.end, 3 * quarter)
    )
    left = pipe.outline - held - pending - lost - gap
    return Divided(left, held, pending, lost, gap)


def random_flaws(pipe: Pipe, count: int, seed: int = 4) -> list[FlawMark]:
    dice = random.Random(seed)
    return [
        FlawMark(
            f"B{number}",
            round(dice.uniform(pipe.start, pipe.end), 3),
            round(dice.uniform(0, pipe.period), 3),
            dice.choice(STATUSES),
            f"flaw-{number}",
        )
        for number in range(1, count + 1)
    ]


def a_sheet(count: int = 60, row_length: float | None = None, row_width: float = 1000.0, **changes: Any) -> Sheet:
    """The whole section with `count` flaws."""
    pipe = a_pipe(**changes)
    long = pipe.end - pipe.start
    return draw_zone(
        pipe,
        ground_of(pipe),
        [(box(pipe.start + 0.5 * long, 2.9, pipe.start + 0.6 * long, 3.6), "saddle, no access")],
        [
            *(
                Mark("girth weld", f"W{number + 1}", pipe.start + 12.0 * number)
                for number in range(int(long // 12) + 1)
            ),
            Mark("nozzle", "N2", pipe.start + 0.23 * long, 0.4),
            Mark("joint", "Coupling", pipe.start + 0.655 * long),
        ],
        random_flaws(pipe, count),
        [
            PatchMark("P1", box(pipe.start + 0.13 * long, 1.4, pipe.start + 0.14 * long, 2.0), "begun"),
            PatchMark("P2", box(pipe.start + 0.30 * long, -0.3, pipe.start + 0.31 * long, 0.35), "accepted"),
        ],
        row_length=row_length,
        row_width=row_width,
    )
