"""Times two things side by side on one machine in one run: a ratio travels to other machines, milliseconds do not."""

from __future__ import annotations

import gc
from collections.abc import Callable
from statistics import median
from time import perf_counter
from typing import NamedTuple


class Line(NamedTuple):
    """One comparison. `ratio` is ours over the floor: of times less is better, of rates more."""

    what: str
    units: str
    ours: float
    floor: float

    @property
    def ratio(self) -> float:
        return self.ours / self.floor


class Skipped(NamedTuple):
    """A comparison that this machine cannot make."""

    what: str
    why: str


class Seconds(NamedTuple):
    """Medians of ours and of the floor."""

    ours: float
    floor: float


def side_by_side(ours: Callable[[], object], floor: Callable[[], object], repeats: int, *, warm_up: int = 1) -> Seconds:
    """Median seconds of each, run in turns so that what disturbs the machine disturbs both."""
    taken: tuple[list[float], list[float]] = ([], [])
    gc.collect()
    gc.freeze()  # what was loaded before is nobody's garbage: collecting stays as cheap as in a fresh process
    try:
        for number in range(-warm_up, repeats):
            for kept, run in zip(taken, (ours, floor), strict=True):
                begun = perf_counter()
                run()
                if number >= 0:
                    kept.append(perf_counter() - begun)
    finally:
        gc.unfreeze()
    return Seconds(median(taken[0]), median(taken[1]))
