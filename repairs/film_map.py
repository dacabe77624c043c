"""A thickness map: the zone's sheet with its spots by class, places to measure next, and how far failed areas reach.

Spots are drawn where they were taken and nothing is interpolated between them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, NamedTuple

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from accounts.units import FILM, from_si, show
from accounts.wording import say
from mapping.drawing import Sheet, draw_zone
from mapping.scene import FlawMark, Mark
from mapping.symbols import FILM_MARKS, Marking
from repairs.film import FilmPicture, FilmSpot
from repairs.zone_sheet import landmark_mark, landmarks_on


class _Bare(NamedTuple):
    """Ground that says nothing of sweeping."""

    stands: BaseGeometry = Polygon()
    held: BaseGeometry = Polygon()
    pending: BaseGeometry = Polygon()
    lost: BaseGeometry = Polygon()
    gap: BaseGeometry = Polygon()


def film_map(film: FilmPicture, units: str, **options: Any) -> Sheet:
    """The spots of a coat stage as a display list, each with its mean in the reader's unit."""
    own = [landmark_mark(film.zone, row) for row in landmarks_on(film.zone)]
    return draw_zone(
        film.zone.surface,
        _Bare(),
        excluded=[(each.shape, each.reason) for each in film.excluded],
        landmarks=[*own, *_next(film), *_failed(film)],
        flaws=[
            FlawMark(_figure(spot.mean_um, units), spot.x, spot.y, class_of(spot), str(spot.id)) for spot in film.spots
        ],
        marking=marking_of(film, units),
        **options,
    )


def class_of(spot: FilmSpot) -> str:
    """The class by which a spot is drawn: what does not count is drawn apart, whatever it measures."""
    return spot.kind if spot.counts and spot.kind != "incomplete" else "out"


def marking_of(film: FilmPicture, units: str) -> Marking:
    """The classes with their limits in words."""
    low, high = (show(um, "film", units, _decimals(units)) for um in (film.low_um, film.high_um))
    words = {"thin": say("thin: below {low}", low=low), "thick": say("thick: above {high}", high=high)}
    if film.low_um is not None and film.high_um is not None:
        words["within"] = say("within {low} to {high}", low=low, high=high)
    elif film.low_um is not None:
        words["within"] = say("{low} or more", low=low)
    elif film.high_um is not None:
        words["within"] = say("{high} or less", high=high)
    else:
        words["within"] = say("measured; the specification states no limit")
    return replace(FILM_MARKS, words=words)


def _decimals(units: str) -> int:
    return 1 if units == "us" else 0


def _figure(um: float, units: str) -> str:
    unit = FILM.unit(FILM.us) if units == "us" else FILM.si
    return f"{from_si(um, unit):.{_decimals(units)}f}"


def _next(film: FilmPicture) -> Iterator[Mark]:
    """Where to measure next: what is missing by number, and the next spot of each direction from a failed one."""
    for number, place in enumerate(film.next.places, 1):
        yield Mark("next", str(number), place.x, place.y)
    for failed in film.failed:
        for reach in failed.reaches:
            if reach.next_place is not None:
                yield Mark("next", "", reach.next_place.x, reach.next_place.y)


def _failed(film: FilmPicture) -> Iterator[Mark]:
    """The bounds of failed areas whose eight ends are known."""
    for failed in film.failed:
        if failed.outline is not None:
            closed = (*failed.outline, failed.outline[0])
            yield Mark("failed", "", failed.x, failed.y, closed)
