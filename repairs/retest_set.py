"""The smallest set of sweeps that tests again what would be lost: a set cover, solved to proof where time allows. No Django.

Ground that is needed is cut into pieces by the sweeps that reach it; every piece has to be reached, or pieces of a given
area together; some things (a patch) are served only by a sweep that covers them whole.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree

from mapping.surfaces.plane import Areal, areal

SLIVER = 1e-7  # m2: what rounding leaves between sweeps is no piece
PATIENCE_S = 5.0
"""Seconds after which the best set found so far is given, with the bound."""
EXACT = 1e-9


class Pieces(NamedTuple):
    """Needed ground cut by sweeps: the area of each piece (m2), and which sweep (row) reaches which piece (column).

    beyond: m2 of needed ground that no sweep reaches.
    """

    areas: NDArray[np.float64]
    reached: NDArray[np.bool_]
    beyond: float


class Cover(NamedTuple):
    """Chosen sweeps by their place in the list, in order. least: no set of fewer can do; it is the smallest where proven."""

    chosen: tuple[int, ...]
    least: int

    @property
    def proven(self) -> bool:
        return len(self.chosen) == self.least


def cut(need: Areal, sweeps: Sequence[Areal]) -> Pieces:
    """Cut needed ground into the pieces that sweeps tell apart.

    Parameters
    ----------
    need : ground to test again, plane metres.
    sweeps : what each sweep would reach, folded onto the same plane.

    Returns
    -------
    Pieces of at least SLIVER, those reached by the same sweeps summed into one.
    """
    if need.is_empty or not sweeps:
        return Pieces(np.zeros(0), np.zeros((len(sweeps), 0), dtype=bool), float(need.area))
    inside = [areal(shapely.intersection(need, sweep)) for sweep in sweeps]
    lines = shapely.unary_union([need.boundary, *(shape.boundary for shape in inside if not shape.is_empty)])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    points = shapely.point_on_surface(faces)
    shapely.prepare(need)
    kept = shapely.contains(need, points) & (shapely.area(faces) >= SLIVER)
    faces, points = faces[kept], points[kept]
    reached = np.zeros((len(sweeps), len(faces)), dtype=bool)
    if len(faces):
        # Points against shapes: the tree answers which sweep holds which piece's inner point.
        piece, sweep = STRtree(inside).query(points, predicate="within")
        reached[sweep, piece] = True
    areas = shapely.area(faces)
    free = ~reached.any(axis=0)
    beyond = float(areas[free].sum())
    areas, reached = areas[~free], reached[:, ~free]
    if not len(areas):
        return Pieces(areas, reached, beyond)
    alike, which = np.unique(reached, axis=1, return_inverse=True)
    return Pieces(np.bincount(which.ravel(), areas, alike.shape[1]).astype(np.float64), alike, beyond)


def fewest(
    pieces: Pieces,
    served: NDArray[np.bool_],
    work: Sequence[float],
    needed_m2: float | None = None,
    also: Pieces | None = None,
    patience_s: float = PATIENCE_S,
) -> Cover:
    """The fewest sweeps that reach every piece and serve every thing; of sets of as many, the one of the least work.

    Parameters
    ----------
    pieces : as `cut` made them, one row a sweep.
    served : shape (sweeps, things), which sweep covers which thing whole. Every thing needs one.
    work : m2 to sweep for each sweep, for choosing between sets of as many; not negative.
    needed_m2 : it is enough that the pieces reached are of this area together; None: every piece.
    also : other pieces, all of which have to be reached too.
    patience_s : seconds for the proof.

    Raises
    ------
    ValueError
        When a thing is served by no sweep, or less than needed_m2 can be reached.

    Notes
    -----
    Integer program, minimise sum x_j (1 + w_j) with sum w_j <= 1/2, so that the number comes first: set cover (Karp 1972),
    with partial cover by pieces y_i <= sum x_j. Solved by HiGHS (Huangfu and Hall 2018) through scipy.optimize.milp;
    least is the solver's own dual bound.
    """
    if served.shape[1] and not served.any(axis=0).all():
        raise ValueError("served: a thing is served by no sweep")
    whole = needed_m2 is None or needed_m2 >= pieces.areas.sum() - EXACT
    if needed_m2 is not None and needed_m2 > pieces.areas.sum() + SLIVER:
        raise ValueError(f"needed_m2 {needed_m2:g} is not allowed: at most {pieces.areas.sum():g} m2 can be reached")
    must = [served] + ([also.reached] if also is not None else []) + ([pieces.reached] if whole else [])
    rows = np.unique(np.hstack(must).T, axis=0)
    asked = 0.0 if whole else max(needed_m2 or 0.0, 0.0)
    if not len(rows) and asked <= EXACT:
        return Cover((), 0)
    weights = _weights(np.asarray(work, dtype=float))
    found, bound = _solved(rows, pieces, asked, weights, patience_s)
    greedy = _greedy(rows, pieces, asked, weights)
    chosen = greedy if found is None or len(greedy) < len(found) else found
    return Cover(chosen, min(len(chosen), max(1, math.ceil(bound - 0.5 - 1e-6))))


def _weights(work: NDArray[np.float64]) -> NDArray[np.float64]:
    total = work.sum()
    return work / (2 * total) if total > 0 else np.zeros_like(work)


def _solved(
    rows: NDArray[np.bool_], pieces: Pieces, asked: float, weights: NDArray[np.float64], patience_s: float
) -> tuple[tuple[int, ...] | None, float]:
    """What the solver chose (None where it found nothing in time) and its bound on the cost."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_matrix, hstack, identity, vstack

    sweeps = len(weights)
    areas = pieces.areas if asked > EXACT else np.zeros(0)
    cost = np.concatenate((1 + weights, np.zeros(len(areas))))
    blocks = [hstack([csr_matrix(rows.astype(float)), csr_matrix((len(rows), len(areas)))])]
    low = [np.ones(len(rows))]
    if len(areas):
        blocks.append(hstack([csr_matrix(pieces.reached.T.astype(float)), -identity(len(areas))]))
        blocks.append(hstack([csr_matrix((1, sweeps)), csr_matrix(areas.reshape(1, -1))]))
        low += [np.zeros(len(areas)), np.array([asked])]
    solved = milp(
        cost,
        integrality=np.concatenate((np.ones(sweeps), np.zeros(len(areas)))),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(vstack(blocks).tocsr(), np.concatenate(low), np.inf),
        options={"time_limit": patience_s, "mip_rel_gap": 0.0},
    )
    bound = solved.mip_dual_bound if solved.mip_dual_bound is not None else 0.0
    if solved.x is None:
        return None, max(bound, 0.0)
    return tuple(np.flatnonzero(solved.x[:sweeps] > 0.5).tolist()), bound


def _greedy(rows: NDArray[np.bool_], pieces: Pieces, asked: float, weights: NDArray[np.float64]) -> tuple[int, ...]:
    """Always the sweep that brings most for what is still open: a set that does, not always the smallest."""
    open_rows, open_areas = np.ones(len(rows), dtype=bool), pieces.areas.copy()
    chosen: list[int] = []
    left = asked
    while open_rows.any() or left > EXACT:
        gain = rows[open_rows].sum(axis=0).astype(float)
        if left > EXACT:
            gain = gain + np.minimum(pieces.reached @ open_areas, left) / max(left, EXACT)
        gain[chosen] = -1.0
        best = int(np.argmax(gain - weights * 1e-3))
        chosen.append(best)
        open_rows &= ~rows[:, best]
        left -= float(open_areas[pieces.reached[best]].sum()) if asked > EXACT else 0.0
        open_areas[pieces.reached[best]] = 0.0
    return tuple(sorted(chosen))
