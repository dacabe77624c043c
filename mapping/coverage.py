"""Ground divided by what its swaths are worth: stands, held, pending, lost, gap; and as it is left after later work.

Shapes are folded plane polygons in metres (see `mapping.surfaces`). Always computed whole, never snapped to a grid.
No Django.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from accounts.wording import say
from mapping.surfaces.plane import TOUCH, Areal, Place, Surface, areal

PRECEDENCE = ("stands", "held", "pending", "lost")
SMALLEST = 1e-4  # m2: parts below 1 cm2 are summed in one line
NOTHING = 1e-9  # m2: less testable ground than this is none
MITRE_LIMIT = 5.0


class Ground(NamedTuple):
    """Testable ground divided without overlap, in the order of precedence; together they are the testable ground."""

    stands: Areal
    held: Areal
    pending: Areal
    lost: Areal
    gap: Areal

    @property
    def area(self) -> float:
        """Testable area in m2."""
        return float(sum(shape.area for shape in self))

    @property
    def untested(self) -> Areal:
        """What does not count as tested: held, pending, lost and gap."""
        return areal(shapely.union_all(list(self[1:])))


class Part(NamedTuple):
    """An edge-connected piece, joined over the seam; area in m2; a place inside it."""

    shape: Areal
    area: float
    centre: Place


class Listing(NamedTuple):
    """Parts of 1 cm2 or more, largest first, and the smaller ones summed."""

    parts: list[Part]
    small_count: int
    small_area: float


class Excluded(NamedTuple):
    """What one exclusion takes off the true area, over what earlier ones already took."""

    shape: Areal
    area: float


class Testable(NamedTuple):
    """Testable ground, and what each accepted exclusion took, in the given order."""

    shape: Areal
    excluded: list[Excluded]


class TimedSwath(NamedTuple):
    """A swath and when its sweep started."""

    shape: Areal
    standing: str
    at: datetime


class Event(NamedTuple):
    """A place coated, worked on or disturbed, and when."""

    shape: Areal
    at: datetime


def divide(ground: Areal, swaths: Sequence[tuple[Areal, str]]) -> Ground:
    """Divide testable ground (a zone or one stretch) by its swaths, given in any order.

    Parameters
    ----------
    ground : testable ground, folded.
    swaths : folded shape and standing of each: "stands", "held", "pending" or "lost".

    Raises
    ------
    ValueError
        For another standing.
    """
    shapes: dict[str, list[Areal]] = {standing: [] for standing in PRECEDENCE}
    for shape, standing in swaths:
        if standing not in shapes:
            raise ValueError(
                say(
                    "standing {standing!r} is not allowed: {precedence}",
                    standing=standing,
                    precedence=", ".join(PRECEDENCE),
                )
            )
        shapes[standing].append(shape)
    left, divided = ground, dict[str, Areal]()
    for standing, swept in shapes.items():
        near = np.array(swept, dtype=object)
        union = shapely.union_all(near[_reaches(near, ground)])
        divided[standing] = areal(shapely.intersection(left, union))
        left = areal(shapely.difference(left, union))
    return Ground(**divided, gap=left)


def _reaches(shapes: NDArray[np.object_], ground: Areal) -> NDArray[np.bool_]:
    """Which shapes have bounds that meet the ground's: a stretch is divided by many swaths of its zone."""
    low, high = np.split(shapely.bounds(shapes).reshape(-1, 4), 2, axis=1)
    ground_low, ground_high = np.split(shapely.bounds(ground), 2)
    return np.asarray(((low <= ground_high) & (high >= ground_low)).all(axis=1))


def tested_share(ground: Ground) -> float | None:
    """Tested over testable area, or None when there is nothing to test."""
    return ground.stands.area / ground.area if ground.area > NOTHING else None


def is_full(surface: Surface, ground: Ground) -> bool | None:
    """Whether no connected untested part is as large as 1 cm2; None when there is nothing to test."""
    if ground.area <= NOTHING:
        return None
    return not listing(surface, ground.untested).parts


def coverage_words(surface: Surface, ground: Ground) -> str:
    """Coverage in percent, cut off and never rounded up: 100 % is said of full coverage only."""
    return share_words(tested_share(ground), bool(is_full(surface, ground)))


def share_words(share: float | None, full: bool) -> str:
    """The same from the share tested (None: nothing to test) and whether coverage is full."""
    if share is None:
        return say("nothing to test")
    return "100 %" if full else f"{math.floor(share * 1000 + 1e-9) / 10:.1f} %"


def testable(ground: Areal, exclusions: Sequence[Areal]) -> Testable:
    """Ground less the exclusions the owner accepted, in the order of acceptance: overlaps count under the first."""
    left, excluded = ground, []
    for exclusion in exclusions:
        taken = areal(left.intersection(exclusion))
        excluded.append(Excluded(taken, taken.area))
        left = areal(left.difference(exclusion))
    return Testable(left, excluded)


def parts(surface: Surface, geometry: Areal) -> list[Part]:
    """Edge-connected pieces, joined over the seam, largest first; pieces that touch in a corner are two."""
    pieces = [piece for whole in shapely.get_parts(areal(shapely.unary_union(geometry))) for piece in _unnecked(whole)]
    found = [_part(surface, areal(shapely.union_all(group))) for group in _joined(surface, pieces)]
    return sorted(found, key=lambda part: (-part.area, part.centre))


def listing(surface: Surface, geometry: Areal) -> Listing:
    """Parts of one kind of ground (gap, lost, held or pending) as they are listed."""
    found = parts(surface, geometry)
    small = [part.area for part in found if part.area < SMALLEST]
    return Listing(found[: len(found) - len(small)], len(small), math.fsum(small))


def gaps(surface: Surface, ground: Ground) -> Listing:
    """The gaps of divided ground, largest first, those below 1 cm2 summed."""
    return listing(surface, ground.gap)


def as_left(
    surface: Surface,
    found: Sequence[TimedSwath],
    events: Sequence[Event],
    retests: Sequence[TimedSwath],
    margin: float,
) -> list[tuple[Areal, str]]:
    """What swaths are still worth after later work, ready for `divide`.

    Every survey and retest swath loses the places coated or disturbed at or after its start, widened by `margin` (m,
    square to the axes). What nothing swept since is thereby gap.
    """
    events = sorted(events, key=lambda event: event.at)
    times = [event.at for event in events]
    widened = [surface.with_margin(event.shape, margin) for event in events]
    groups: dict[tuple[int, str], list[Areal]] = {}
    for swath in (*found, *retests):
        later = bisect_left(times, swath.at)
        groups.setdefault((later, swath.standing), []).append(swath.shape)
    left = []
    for (later, standing), shapes in groups.items():
        kept = shapely.difference(shapely.union_all(shapes), shapely.union_all(widened[later:]))
        left.append((areal(kept), standing))
    return left


def path_swath(points: Sequence[tuple[float, float]], width: float) -> Areal:
    """Ground swept along a path (m, in the endless plane; fold it) by an electrode: mitred bends, flat ends.

    Bends sharper than about 23 degrees are cut off at five half-widths.

    Raises
    ------
    ValueError
        For fewer than two different points or a width not above 0.
    """
    if not (math.isfinite(width) and width > 0):
        raise ValueError(say("width {width!r} is not allowed: metres above 0", width=width))
    path = np.asarray(points, dtype=float)
    if path.ndim != 2 or len(np.unique(path, axis=0)) < 2:
        raise ValueError(say("path {points!r} is not allowed: at least two different points", points=list(points)))
    return areal(
        LineString(path).buffer(
            width / 2,
            cap_style="flat",
            join_style="mitre",
            mitre_limit=MITRE_LIMIT,
        )
    )


def _unnecked(piece: Polygon) -> list[Polygon]:
    """The piece cut at necks narrower than 1 um, which rounding leaves where edges should meet."""
    cores = shapely.get_parts(piece.buffer(-TOUCH / 2, join_style="mitre"))
    if len(cores) < 2:
        return [piece]
    cut, left = [], piece
    for core in cores:
        whole = core.buffer(TOUCH / 2, join_style="mitre")
        cut.extend(shapely.get_parts(areal(left.intersection(whole))))
        left = areal(left.difference(whole))
    return [*cut, *shapely.get_parts(left)]


def _joined(surface: Surface, pieces: list[Polygon]) -> list[list[Polygon]]:
    """Pieces grouped where they share an edge over the seam."""
    if not surface.has_seam:
        return [[piece] for piece in pieces]
    edges = [surface.seam_edges(piece) for piece in pieces]
    # Only the few pieces at the seam are compared with each other: a zone may lie in thousands of pieces.
    near = [index for index, (near_edges, _) in enumerate(edges) if len(near_edges)]
    far = [index for index, (_, far_edges) in enumerate(edges) if len(far_edges)]
    group = list(range(len(pieces)))
    for before in near:
        for after in far:
            if group[before] != group[after] and _share_length(edges[before][0], edges[after][1]):
                into, gone = group[before], group[after]
                group = [into if label == gone else label for label in group]
    joined: dict[int, list[Polygon]] = {}
    for piece, label in zip(pieces, group, strict=True):
        joined.setdefault(label, []).append(piece)
    return list(joined.values())


def _share_length(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    """Whether any of these edges overlap by more than 1 um: less is a corner."""
    low = np.maximum(one[:, None, 0], other[None, :, 0])
    high = np.minimum(one[:, None, 1], other[None, :, 1])
    return bool((high - low > TOUCH).any())


def _part(surface: Surface, shape: Areal) -> Part:
    """A part with a place inside it: its centroid where that lies on it."""
    whole = surface.unroll(shape)
    point = whole.centroid
    if not whole.contains(point):
        point = max(shapely.get_parts(whole), key=lambda piece: piece.area).point_on_surface()
    return Part(shape, shape.area, surface.home(point.x, point.y))
