"""Where to measure next, and how far a failed area reaches (SSPC-PA 2 from memory: 1.5 m, eight directions)."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest
import shapely

from inspections.film_judgement import judge_film
from inspections.film_places import FailedPlace, failed_places, furthest, next_places
from mapping.positions import Chainage
from mapping.surfaces.panel import Panel
from mapping.surfaces.pipe import Pipe
from tests.inspections.test_film_judgement import PA2, STAGE, spot

PANEL = Panel.from_json({"width": 20.0, "height": 10.0}, "outside", Chainage())


def failed(*others: tuple[float, float, float]) -> FailedPlace:
    """The failed spot in the middle of the panel, with others taken to bound it: x, y and thickness."""
    spots = [replace(spot(0, 200.0, 200.0, 200.0), x=10.0, y=5.0)]
    spots += [replace(spot(n), x=float(n), y=0.5) for n in range(1, 5)]
    spots += [replace(spot(10 + n, um, um, um, bounds=True), x=x, y=y) for n, (x, y, um) in enumerate(others)]
    judgement = judge_film(PA2, STAGE, spots, 10.0, (0.0, 20.0))
    assert judgement is not None
    (found,) = failed_places(PA2, PANEL, judgement, spots)
    return found


def test_a_failed_spot_without_others_asks_for_one_in_each_of_eight_directions() -> None:
    found = failed()
    assert (found.spot, found.is_bounded) == ("0", False)
    assert {reach.direction: reach.next_m for reach in found.reaches} == dict.fromkeys(
        ["right", "right and up", "up", "left and up", "left", "left and down", "down", "right and down"], 1.5
    )
    right = next(reach for reach in found.reaches if reach.direction == "right")
    assert right.next_place is not None
    assert (right.next_place.x, right.next_place.y) == pytest.approx((11.5, 5.0))


def test_a_direction_ends_at_the_first_of_two_conforming_spots() -> None:
    found = failed((11.5, 5.0, 210.0), (13.0, 5.0, 400.0), (14.5, 5.1, 400.0))
    right = next(reach for reach in found.reaches if reach.direction == "right")
    assert (right.ends_m, [conforms for *_, conforms in right.spots]) == (3.0, [False, True, True])


def test_a_direction_ends_where_the_surface_does() -> None:
    found = failed((10.0, 6.5, 210.0), (10.0, 8.0, 210.0), (10.0, 9.5, 210.0))
    up = next(reach for reach in found.reaches if reach.direction == "up")
    assert up.ends_m == pytest.approx(5.0, abs=0.001)


def test_the_directions_around_a_pipe_meet_half_way() -> None:
    pipe = Pipe.from_json({"diameter": 1.0, "start": 0.0, "end": 30.0}, "outside", Chainage())
    spots = [replace(spot(0, 200.0, 200.0, 200.0), x=15.0, y=0.1), *(replace(spot(n), x=float(n)) for n in range(1, 5))]
    spots.append(replace(spot(9, 220.0, 220.0, 220.0, bounds=True), x=15.0, y=1.6))
    judgement = judge_film(PA2, STAGE, spots, 10.0, (0.0, 30.0))
    assert judgement is not None
    (found,) = failed_places(PA2, pipe, judgement, spots)
    up = next(reach for reach in found.reaches if reach.direction == "up")
    assert up.ends_m == pytest.approx(pi / 2, abs=0.001)


def test_places_proposed_are_the_furthest_from_what_is_measured() -> None:
    # Brute force over the same ground, on a grid of its own: nowhere is more than a cell further away.
    taken = [(2.0, 2.0), (18.0, 8.0)]
    (place,) = furthest(PANEL, PANEL.outline, taken, 1)
    x, y = np.meshgrid(np.linspace(0, 20, 81), np.linspace(0, 10, 41))
    away = np.min([np.hypot(x - ax, y - ay) for ax, ay in taken], axis=0).max()
    got = min(np.hypot(place.x - ax, place.y - ay) for ax, ay in taken)
    assert got == pytest.approx(away, abs=0.6)


def test_places_lie_on_the_ground_that_is_tested() -> None:
    ground = shapely.box(0, 0, 3, 3)
    for place in furthest(PANEL, ground, [], 6):
        assert ground.covers(shapely.Point(place.x, place.y))


def test_as_many_places_are_proposed_as_area_measurements_are_missing() -> None:
    spots = [spot(n) for n in range(5)]
    judgement = judge_film(PA2, STAGE, spots, 200.0, (0.0, 20.0))
    assert judgement is not None
    found = next_places(PANEL, PANEL.outline, judgement, spots)
    assert (found.lacking, len(found.places)) == (3, 3)
