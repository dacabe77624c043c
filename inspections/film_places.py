"""Where to measure next: places for what the standard still lacks, and how far a failed area reaches.

Plane metres of the zone's surface, thickness in um. No Django.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, cos, pi, sin, sqrt
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from accounts.wording import say
from inspections.bounding import DIRECTIONS, STEP_M, Bounding, Ray, Reach, bound
from inspections.film_judgement import PA2, FilmJudgement, Measured
from inspections.terms import Terms
from mapping.surfaces import Surface

MOST_PLACES = 12
_CANDIDATES = 1500
# A spot stands for a step of a direction when it lies within this share of the step from it; own choice.
NEAR = 1 / 3


class NextPlace(NamedTuple):
    """A place to measure, in the zone's own words and in plane metres."""

    said: str
    x: float
    y: float


class AskedPlaces(NamedTuple):
    """Where to take what is missing. lacking : how many are missing; places : so many of them as are proposed."""

    lacking: int
    places: tuple[NextPlace, ...]


class Reached(NamedTuple):
    """One direction from a failed spot. ends_m, next_m : as in `bounding.Reach`; next_place : where the next spot is taken.

    spots : the spots that were found along it, outwards, with whether each conforms.
    """

    direction: str
    ends_m: float | None
    next_m: float | None
    next_place: NextPlace | None
    spots: tuple[tuple[str, float, bool], ...]
    sentence: str


@dataclass(frozen=True)
class FailedPlace:
    """How far the film around a failed spot does not conform. outline : the eight ends in plane metres, once all are known."""

    area: str
    spot: str
    said: str
    x: float
    y: float
    mean_um: float
    reaches: tuple[Reached, ...]
    outline: tuple[tuple[float, float], ...] | None
    source: str

    @property
    def is_bounded(self) -> bool:
        return self.outline is not None


def next_places(
    surface: Surface, ground: BaseGeometry, judgement: FilmJudgement, measured: Sequence[Measured]
) -> AskedPlaces:
    """Return where the area measurements (SSPC-PA 2) or single readings still missing are best taken.

    Each place is the one of the testable ground that lies furthest from every spot that counts and from the places
    proposed before it (farthest-point sampling on a grid; Gonzalez, Theoretical Computer Science 38, 1985). An area
    measurement begun but not complete is completed where it stands, so it asks for no new place. At most 12 places.
    """
    if judgement.standard == PA2:
        begun = sum(area.verdict == "not judged" for area in judgement.areas)
        count = max(judgement.asked_areas - judgement.taken_areas - begun, 0)
    else:
        count = max(judgement.asked_readings - judgement.taken_readings, 0)
    here = [(spot.x, spot.y) for spot in measured if spot.counts]
    return AskedPlaces(count, furthest(surface, ground, here, min(count, MOST_PLACES)))


def furthest(
    surface: Surface, ground: BaseGeometry, taken: Sequence[tuple[float, float]], count: int
) -> tuple[NextPlace, ...]:
    """Return `count` places of the ground, each furthest from those taken and from the ones before it."""
    if count < 1 or ground.is_empty:
        return ()
    x, y = _grid(ground)
    away = np.full(len(x), np.inf)
    for at_x, at_y in taken:
        away = np.minimum(away, surface.distance(x, y, at_x, at_y))
    found = []
    for _ in range(count):
        if np.isinf(away[0]):
            middle = ground.representative_point()
            best = int(np.argmin(surface.distance(x, y, middle.x, middle.y)))
        else:
            best = int(np.argmax(away))
        found.append(_place(surface, float(x[best]), float(y[best])))
        away = np.minimum(away, surface.distance(x, y, x[best], y[best]))
    return tuple(found)


def _grid(ground: BaseGeometry) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middles of equal cells that lie on the ground; a point inside it where it is thinner than a cell."""
    low_x, low_y, high_x, high_y = ground.bounds
    wide, high = max(high_x - low_x, 1e-9), max(high_y - low_y, 1e-9)
    cell = sqrt(wide * high / _CANDIDATES)
    across, up = (max(1, min(_CANDIDATES, ceil(side / cell))) for side in (wide, high))
    x, y = np.meshgrid(
        low_x + (np.arange(across) + 0.5) * wide / across, low_y + (np.arange(up) + 0.5) * high / up, indexing="ij"
    )
    inside = shapely.contains_xy(ground, x, y)
    if not inside.any():
        point = ground.representative_point()
        return np.array([point.x]), np.array([point.y])
    return x[inside], y[inside]


def _place(surface: Surface, x: float, y: float) -> NextPlace:
    home = surface.home(x, y)
    return NextPlace(surface.print_place(home.x, home.y), home.x, home.y)


def failed_places(
    terms: Terms, surface: Surface, judgement: FilmJudgement, measured: Sequence[Measured]
) -> tuple[FailedPlace, ...]:
    """Return, for each area measurement that is not accepted, how far the film around its failed spots does not conform.

    SSPC-PA 2 only, from memory: spots every 1.5 m (5 ft) in eight directions until two in a row conform. Where an area's
    mean fails though each spot conforms, it is bounded from the spot furthest from what is asked for.
    """
    if judgement.standard != PA2 or judgement.low_um is None:
        return ()
    by_id = {spot.id: spot for spot in measured if spot.counts}
    found = []
    for area in judgement.areas:
        if area.verdict != "not accepted":
            continue
        failed = [by_id[pk] for pk in area.outside if pk in by_id]
        if not failed and area.mean_um is not None:
            failed = _furthest_off(
                [by_id[pk] for pk in area.spots if pk in by_id], area.mean_um, terms, judgement.stage
            )
        found += [_bounded(terms, surface, area.area, spot, measured, judgement) for spot in failed]
    return tuple(found)


def _furthest_off(spots: Sequence[Measured], mean_um: float, terms: Terms, stage: str) -> list[Measured]:
    if not spots:
        return []
    if mean_um < terms.stage(stage).dft_minimum:
        return [min(spots, key=lambda spot: spot.mean_um)]
    return [max(spots, key=lambda spot: spot.mean_um)]


def _bounded(
    terms: Terms, surface: Surface, area: str, centre: Measured, measured: Sequence[Measured], judgement: FilmJudgement
) -> FailedPlace:
    step = STEP_M[terms.thickness_system]
    others = [spot for spot in measured if spot.counts and spot.spot.is_complete and spot.id != centre.id]
    along = {name: _along(surface, centre, others, name, step) for name in DIRECTIONS}
    rays = {
        name: Ray(tuple(float(spot.mean_um) for spot in spots), _edge(surface, centre, name, step, len(spots) + 1))
        for name, spots in along.items()
    }
    low, high = judgement.low_um or 0.0, judgement.high_um
    found: Bounding = bound(rays, low, high, system=terms.thickness_system)
    reaches = tuple(
        Reached(
            reach.direction,
            reach.ends_m,
            reach.next_m,
            None if reach.next_m is None else _place(surface, *_ahead(centre, reach.direction, reach.next_m)),
            tuple(
                (spot.said, float(spot.mean_um), low <= spot.mean_um and (high is None or spot.mean_um <= high))
                for spot in along[reach.direction]
            ),
            _half_way(surface, reach) or reach.sentence,
        )
        for reach in found.reaches
    )
    outline = (
        tuple((centre.x + dx, centre.y + dy) for dx, dy in found.corners_m) if found.corners_m is not None else None
    )
    return FailedPlace(
        area, centre.id, centre.said, centre.x, centre.y, float(centre.mean_um), reaches, outline, found.source
    )


def _half_way(surface: Surface, reach: Reach) -> str:
    """The sentence for a direction that ends where the opposite one arrives, half way around; "" for every other."""
    if surface.period is None or reach.ends_m is None:
        return ""
    angle = DIRECTIONS[reach.direction] * pi / 4
    around = abs(cos(angle) if surface.wrap_axis == "x" else sin(angle)) * reach.ends_m
    if abs(around - surface.period / 2) > 0.001:
        return ""
    return say("{direction}: comes half way around at {way:.2f} m.", direction=say(reach.direction), way=reach.ends_m)


def _ahead(centre: Measured, direction: str, way: float) -> tuple[float, float]:
    angle = DIRECTIONS[direction] * pi / 4
    return centre.x + way * cos(angle), centre.y + way * sin(angle)


def _along(
    surface: Surface, centre: Measured, others: Sequence[Measured], direction: str, step: float
) -> list[Measured]:
    """The spots that stand a step apart along a direction, outwards, up to the first step without one."""
    found: list[Measured] = []
    if not others:
        return found
    x, y = np.array([spot.x for spot in others]), np.array([spot.y for spot in others])
    while len(found) < len(others):
        way = (len(found) + 1) * step
        if _is_off(surface, centre, direction, way):
            break
        away = surface.distance(x, y, *_ahead(centre, direction, way))
        nearest = int(np.argmin(away))
        if away[nearest] > step * NEAR:
            break
        found.append(others[nearest])
    return found


def _is_off(surface: Surface, centre: Measured, direction: str, way: float) -> bool:
    """Whether the direction has left the surface, or come half way around it, where the opposite one comes from."""
    if surface.period is not None:
        angle = DIRECTIONS[direction] * pi / 4
        around = abs(cos(angle) if surface.wrap_axis == "x" else sin(angle)) * way
        if around > surface.period / 2 + 1e-9:
            return True
    home = surface.home(*_ahead(centre, direction, way))
    return not surface.outline.covers(shapely.Point(home.x, home.y))


def _edge(surface: Surface, centre: Measured, direction: str, step: float, steps: int) -> float | None:
    """Where the surface ends (m) before the next step; None where it does not."""
    off = steps * step
    if not _is_off(surface, centre, direction, off):
        return None
    on = (steps - 1) * step
    for _ in range(40):
        middle = (on + off) / 2
        if _is_off(surface, centre, direction, middle):
            off = middle
        else:
            on = middle
    return round(on, 4)
