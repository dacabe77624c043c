"""How often each place was swept at high voltage: every run over it is a pass, however its lanes overlap.

A sweep repeated at full voltage harms the film (common practice, no source): counted and shown, never refused. Standing
does not matter here: lost ground was under voltage too. No database.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from typing import NamedTuple

import shapely
from shapely.geometry.base import BaseGeometry

from accounts.wording import noted
from mapping.coverage import areal

SOURCE = noted("common practice, no source")


class SweptOnce(NamedTuple):
    """One swath as far as passes go: its run, and its shape folded onto the surface."""

    run: Hashable
    shape: BaseGeometry


def passes(ground: BaseGeometry, swaths: Iterable[SweptOnce]) -> dict[int, BaseGeometry]:
    """Divide ground by the number of runs that swept it.

    Parameters
    ----------
    ground : a zone or one stretch of it, plane metres; what lies outside counts nowhere.
    swaths : in any order. Swaths of one run are one pass where they overlap; another run is another pass.

    Returns
    -------
    Area by number of passes, from 1 up, disjoint; numbers that occur nowhere are left out.

    Notes
    -----
    With L(k) the ground swept by at least k runs, a run that swept U adds L(k) and U to L(k + 1), from the highest k
    down; exactly k passes lie in L(k) less L(k + 1).

    Examples
    --------
    >>> from shapely import box
    >>> found = passes(box(0, 0, 4, 1), [SweptOnce("A", box(0, 0, 3, 1)), SweptOnce("B", box(2, 0, 4, 1))])
    >>> {count: shape.area for count, shape in found.items()}
    {1: 3.0, 2: 1.0}
    """
    by_run: dict[Hashable, list[BaseGeometry]] = {}
    for swath in swaths:
        by_run.setdefault(swath.run, []).append(swath.shape)
    levels: list[BaseGeometry] = []
    for shapes in by_run.values():
        swept = areal(shapely.intersection(shapely.union_all(shapes), ground))
        if swept.is_empty:
            continue
        levels.append(shapely.Polygon())
        for number in range(len(levels) - 1, 0, -1):
            levels[number] = shapely.union(levels[number], areal(shapely.intersection(levels[number - 1], swept)))
        levels[0] = shapely.union(levels[0], swept)
    exact = {
        count: areal(shapely.difference(level, levels[count] if count < len(levels) else shapely.Polygon()))
        for count, level in enumerate(levels, 1)
    }
    return {count: shape for count, shape in exact.items() if shape.area > 0}


def joined(parts: Sequence[Mapping[int, BaseGeometry]]) -> dict[int, BaseGeometry]:
    """The divided stretches of a zone as one, by number of passes."""
    counts = sorted({count for part in parts for count in part})
    return {count: shapely.union_all([part[count] for part in parts if count in part]) for count in counts}
