"""Bounding a failed area in eight directions. SSPC-PA 2, from memory: 1.5 m (5 ft), until two in a row conform."""

from __future__ import annotations

from typing import Any

import pytest
from shapely import Polygon

from inspections.bounding import DIRECTIONS, Bounding, Ray, bound
from inspections.thickness import spot_range

LOW, HIGH = spot_range(300, 500, 3)  # 240 to 600 um


def reach(*spots: float, edge_m: float | None = None, system: str = "metric") -> tuple[float | None, float | None]:
    """Where the failed area ends to the right, and where the next spot is to be taken."""
    found = bound({"right": Ray(spots, edge_m)}, LOW, HIGH, system=system).reaches[0]
    return found.ends_m, found.next_m


def test_a_direction_begins_at_the_first_step() -> None:
    assert reach() == (None, 1.5)


def test_a_direction_ends_at_the_first_of_two_conforming_spots() -> None:
    assert reach(200, 250, 260) == (3.0, None)


def test_one_conforming_spot_does_not_end_a_direction() -> None:
    assert reach(250, 200, 250) == (None, 6.0)


def test_the_borders_of_the_range_conform() -> None:
    assert reach(240, 600) == (1.5, None)
    assert reach(239.9, 600) == (None, 4.5)
    assert reach(240, 600.1) == (None, 4.5)


def test_in_customary_units_a_step_is_five_feet() -> None:
    assert reach(200, system="customary") == (None, 3.048)


def test_a_direction_that_meets_the_edge_before_the_next_spot_ends_there() -> None:
    assert reach(200, 250, edge_m=4.2) == (4.2, None)
    assert reach(200, 250, edge_m=4.5) == (None, 4.5)


def everywhere(*spots: float) -> Bounding:
    return bound({direction: Ray(spots) for direction in DIRECTIONS}, LOW, HIGH)


def test_a_failed_area_is_bounded_once_all_eight_directions_end() -> None:
    found = everywhere(250, 250)
    assert found.corners_m is not None
    # A regular octagon of radius 1.5 m has the area 2*sqrt(2)*r^2 (plane geometry).
    assert Polygon(found.corners_m).area == pytest.approx(2 * 2**0.5 * 1.5**2)


def test_one_open_direction_leaves_it_unbounded() -> None:
    rays = {direction: Ray((250, 250)) for direction in DIRECTIONS} | {"left": Ray((250,))}
    found = bound(rays, LOW, HIGH)
    assert not found.is_bounded
    assert [item.sentence for item in found.reaches if item.next_m] == ["left: take a spot at 3 m."]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: bound({"north": Ray()}, 240, 600), 'rays names "north"; it must be one of: right, right and up'),
        (lambda: bound({}, 240, 600, system="imperial"), 'system is "imperial"; it must be metric or customary'),
        (lambda: bound({}, 600, 240), "high_um is 240; it must not be below low_um, 600"),
        (
            lambda: bound({"up": Ray((-1,))}, 240, 600),
            r"spots_um holds -1 \(up\); a spot mean is a number from 0 um up",
        ),
        (lambda: bound({"up": Ray((), -1)}, 240, 600), r"edge_m is -1 \(up\); it must be from 0 m up"),
    ],
)
def test_what_cannot_be_bounded_is_refused_by_name(call: Any, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
