"""What holds on every surface: places and stretches as spoken and read again, stored, drawn, folded, divided."""

from __future__ import annotations

import doctest
import importlib
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from inspections.tested import stretch_range
from mapping.coverage import divide, parts
from mapping.positions import Chainage, PositionError
from mapping.surfaces import from_json
from mapping.surfaces.plane import Surface
from tests.mapping.made_up_surfaces import SURFACES, inside, same, shares

VECTORS = Path(__file__).parents[1] / "vectors"
CASES = [
    case
    for file in sorted(VECTORS.glob("positions_*.json"))
    if "pipe" not in file.name
    for case in json.loads(file.read_text("ascii"))
]
every_surface = pytest.mark.parametrize("surface", SURFACES.values(), ids=SURFACES.keys())

unrolled = pytest.mark.parametrize(
    "surface", [pytest.param(surface, id=name) for name, surface in SURFACES.items() if not surface.distance_note]
)


def surface_of(case: dict[str, Any]) -> Surface:
    return SURFACES[case["surface"]]


# Spoken


@pytest.mark.parametrize("case", [case for case in CASES if "x" in case], ids=lambda case: case["text"])
def test_a_spoken_place_is_read(case: dict[str, Any]) -> None:
    place = surface_of(case).read_place(case["text"])
    assert place == pytest.approx((case["x"], case["y"]), abs=2e-4)


@pytest.mark.parametrize("case", [case for case in CASES if "prints" in case], ids=lambda case: case["text"])
def test_a_place_is_printed_in_its_one_form(case: dict[str, Any]) -> None:
    assert surface_of(case).print_place(case["x"], case["y"]) == case["prints"]


@pytest.mark.parametrize("case", [case for case in CASES if "area" in case], ids=lambda case: case["text"])
def test_a_spoken_stretch_has_its_area(case: dict[str, Any]) -> None:
    assert surface_of(case).read_region(case["text"]).area == pytest.approx(case["area"], rel=1e-4)


@pytest.mark.parametrize("case", [case for case in CASES if "error" in case], ids=lambda case: case["text"])
def test_what_cannot_be_meant_is_refused_with_its_reason(case: dict[str, Any]) -> None:
    surface = surface_of(case)
    read = surface.read_region if case.get("reads") == "stretch" else surface.read_place
    with pytest.raises(PositionError, match=case["error"]):
        read(case["text"])


@every_surface
@given(share_x=shares, share_y=shares)
def test_reading_a_printed_place_repeats_it(surface: Surface, share_x: float, share_y: float) -> None:
    printed = surface.print_place(*inside(surface, share_x, share_y))
    assert surface.print_place(*surface.read_place(printed)) == printed


@every_surface
@given(share_x=shares, share_y=shares)
def test_a_printed_place_is_read_on_the_zone(surface: Surface, share_x: float, share_y: float) -> None:
    place = surface.read_place(surface.print_place(*inside(surface, share_x, share_y)))
    assert surface.outline.distance(shapely.Point(place)) <= 0.0072


@every_surface
@given(text=st.text("0123456789+-.,:@ xyrdegtopupslantC°m", max_size=16))
def test_any_text_is_read_as_a_place_on_the_zone_or_refused(surface: Surface, text: str) -> None:
    for read in (surface.read_place, surface.read_region):
        try:
            found = read(text)
        except PositionError:
            continue
        assert np.isfinite(shapely.get_coordinates(found) if hasattr(found, "area") else found).all()


@every_surface
def test_the_whole_zone_is_read_and_described(surface: Surface) -> None:
    assert same(surface.read_region("Whole Zone"), surface.outline)
    assert same(surface.read_region(surface.describe_region(surface.outline)), surface.outline)


@every_surface
def test_an_empty_shape_has_no_description(surface: Surface) -> None:
    with pytest.raises(PositionError, match="empty"):
        surface.describe_region(shapely.Polygon())


@every_surface
@settings(max_examples=40)
@given(share_x=shares, share_y=shares, size=st.floats(0.05, 3))
def test_a_described_shape_lies_inside_what_is_said(
    surface: Surface, share_x: float, share_y: float, size: float
) -> None:
    shape = surface.footprint(*inside(surface, share_x, share_y), size, size / 3, 0.05)
    said = surface.read_region(surface.describe_region(shape))
    assert shape.difference(said).area <= 2e-4 * shape.length


# Stored


@every_surface
def test_the_stored_form_is_given_back(surface: Surface) -> None:
    stored = json.loads(json.dumps(surface.to_json()))
    again = from_json(surface.kind, stored, surface.face, surface.chainage)
    assert again == surface
    assert again.to_json() == stored


@every_surface
def test_the_outline_has_the_true_area_within_a_ten_thousandth(surface: Surface) -> None:
    assert surface.outline.area == pytest.approx(surface.area, rel=1e-4)


# Drawn


@every_surface
@given(share_x=shares, share_y=shares)
def test_a_drawn_place_is_found_again(surface: Surface, share_x: float, share_y: float) -> None:
    x, y = inside(surface, share_x, share_y)
    again = surface.from_view(*surface.to_view(x, y))
    assert surface.distance(x, y, *again) <= 1e-6


@every_surface
@given(place=st.tuples(shares, shares), other=st.tuples(shares, shares))
def test_a_place_is_as_far_from_another_as_that_from_it(
    surface: Surface, place: tuple[float, float], other: tuple[float, float]
) -> None:
    a, b = inside(surface, *place), inside(surface, *other)
    assert surface.distance(*a, *b) == pytest.approx(surface.distance(*b, *a))
    assert surface.distance(*a, *a) == pytest.approx(0.0, abs=1e-6)


# Folded and divided


@every_surface
def test_stretches_make_up_the_zone(surface: Surface) -> None:
    assert same(shapely.union_all(surface.stretches), surface.outline)


@every_surface
@settings(max_examples=30)
@given(share_x=shares, share_y=shares, size=st.floats(0.05, 8))
def test_a_shape_lies_within_the_stretches_that_it_is_said_to_reach(
    surface: Surface, share_x: float, share_y: float, size: float
) -> None:
    shape = surface.footprint(*inside(surface, share_x, share_y), size, size, 0.0)
    first, last = stretch_range(surface, shape)
    reached = shapely.union_all(surface.stretches[first : last + 1])
    assert shape.difference(reached).area < 1e-9


@every_surface
@settings(max_examples=30)
@given(share_x=shares, share_y=shares, size=st.floats(0.01, 6))
def test_a_footprint_is_folded_onto_the_zone(surface: Surface, share_x: float, share_y: float, size: float) -> None:
    folded = surface.footprint(*inside(surface, share_x, share_y), size, size, 0.02)
    assert folded.is_valid
    assert folded.difference(surface.outline).area < 1e-9
    assert folded.area <= (size + 0.04) ** 2 * (1 + 1e-4)
    assert same(surface.fold(folded), folded)


@unrolled
@settings(max_examples=30)
@given(share_x=shares, share_y=shares, size=st.floats(0.05, 2), margin=st.floats(0, 0.5))
def test_a_margin_holds_the_shape_and_reaches_as_far_as_it_says(
    surface: Surface, share_x: float, share_y: float, size: float, margin: float
) -> None:
    shape = surface.footprint(*inside(surface, share_x, share_y), size, size, 0.0)
    grown = surface.with_margin(shape, margin)
    assert shape.difference(grown).area < 1e-9
    near = surface.outline.intersection(shape.buffer(margin * 0.999))
    assert near.difference(grown).area < 1e-9


@every_surface
@settings(max_examples=20)
@given(swaths=st.lists(st.tuples(shares, shares, st.floats(0.2, 9), st.floats(0.2, 4)), max_size=6))
def test_coverage_by_any_history_is_the_fresh_union(
    surface: Surface, swaths: list[tuple[float, float, float, float]]
) -> None:
    shapes = [surface.footprint(*inside(surface, x, y), wide, high, 0.0) for x, y, wide, high in swaths]
    fresh = divide(surface.outline, [(shape, "stands") for shape in shapes])
    grown = shapely.Polygon()
    for shape in reversed(shapes):
        grown = divide(surface.outline, [(grown, "stands"), (shape, "stands")]).stands
    by_stretch = [divide(stretch, [(shape, "stands") for shape in shapes]).stands for stretch in surface.stretches]
    assert same(grown, fresh.stands)
    assert same(shapely.union_all(by_stretch), fresh.stands)
    assert fresh.area == pytest.approx(surface.area, rel=1e-4)


@every_surface
def test_the_whole_zone_is_one_part(surface: Surface) -> None:
    (part,) = parts(surface, surface.outline)
    assert part.area == pytest.approx(surface.area, rel=1e-4)


@every_surface
def test_a_shape_around_a_place_is_one_part_around_it(surface: Surface) -> None:
    place = inside(surface, 0.0, 0.5)
    (part,) = parts(surface, surface.footprint(*place, 0.2, 0.2, 0.0))
    assert surface.distance(*part.centre, *place) <= 0.15


# Sizes


@pytest.mark.parametrize(
    ("kind", "json", "field"),
    [
        ("strake", {"number": 1, "height": 2.4}, "diameter"),
        ("strake", {"height": 2.4, "diameter": 20}, "number"),
        ("strake", {"number": 0, "height": 2.4, "diameter": 20}, "number"),
        ("strake", {"number": 1.5, "height": 2.4, "diameter": 20}, "number"),
        ("strake", {"number": 1, "height": float("nan"), "diameter": 20}, "height"),
        ("strake", {"number": 1, "height": 2.4, "diameter": 20, "circumference": 70}, "circumference"),
        ("strake", {"number": 1, "height": 2.4, "diameter": 20, "plates": [10, 40, 30]}, "plates"),
        ("strake", {"number": 1, "height": 2.4, "diameter": 20, "plates": [10, "40"]}, "plates"),
        ("strake", {"number": 1, "height": 2.4, "diameter": 20, "plates": 12}, "plates"),
        ("strake", {"number": 1, "height": 2.4, "diameter": 20, "radius": 1}, "radius"),
        ("disk", {}, "diameter"),
        ("disk", {"diameter": 2000}, "diameter"),
        ("disk", {"diameter": float("inf")}, "diameter"),
        ("disk", {"diameter": 20, "viewed": "aside"}, "viewed"),
        ("annulus", {"diameter": 20}, "inner_diameter"),
        ("annulus", {"diameter": 20, "inner_diameter": 20}, "inner_diameter"),
        ("cone", {"diameter": 20}, "height"),
        ("cone", {"diameter": 20, "height": 0}, "height"),
        ("cone", {"diameter": 20, "height": 2, "cut_diameter": 21}, "cut_diameter"),
        ("cone", {"diameter": 20, "height": 2, "cut_diameter": 20}, "cut_diameter"),
        ("cone", {"diameter": 20, "height": 2, "viewed": 1}, "viewed"),
        ("deck", {"letters": [0, 6]}, "numbers"),
        ("deck", {"letters": [0], "numbers": [0, 4]}, "letters"),
        ("deck", {"letters": [0, 6, 5], "numbers": [0, 4]}, "letters"),
        ("deck", {"letters": [0, float("nan")], "numbers": [0, 4]}, "letters"),
        ("deck", {"letters": 4, "numbers": [0, 4]}, "letters"),
        ("deck", {"letters": [0, 6], "numbers": [0, 4], "first_letter": "a"}, "first_letter"),
        ("deck", {"letters": [0, 6], "numbers": [0, 4], "first_letter": "I", "skip": "IO"}, "first_letter"),
        ("deck", {"letters": [0, 6], "numbers": [0, 4], "skip": "Q"}, "skip"),
        ("deck", {"letters": [0, 6], "numbers": [0, 4], "first_number": -1}, "first_number"),
        ("deck", {"letters": [0, 6], "numbers": [0, 4], "numbers_run": "left"}, "numbers_run"),
        ("deck", {"letters": [0, 6], "numbers": [0, 4], "corners": [[0, 0], [6, 0]]}, "corners"),
        ("deck", {"letters": [0, 6], "numbers": [0, 4], "corners": [[0, 0], [6, 4], [6, 0], [0, 4]]}, "corners"),
        ("deck", {"letters": [0, 6], "numbers": [0, 4], "corners": [[0, 0], [6, 0], {"to": [6, 4]}]}, "corners"),
        ("panel", {"width": 2}, "height"),
        ("panel", {"width": 2, "height": -1}, "height"),
        ("bend", {"start": 0, "end": 3}, "area"),
        ("bend", {"start": 3, "end": 3, "area": 4}, "end"),
        ("bend", {"start": 0, "end": 3, "area": -4}, "area"),
        ("head", {"area": 4}, "reach"),
        ("head", {"area": 0, "reach": 1}, "area"),
        ("sphere", {"area": "400"}, "area"),
    ],
)
def test_a_surface_that_cannot_be_is_refused_naming_the_field(kind: str, json: dict[str, Any], field: str) -> None:
    with pytest.raises(ValueError, match=field) as refused:
        from_json(kind, json, "inside", Chainage())
    assert getattr(refused.value, "field", None) == field


@every_surface
@given(*[shares] * 4)
@settings(max_examples=15, deadline=None)
def test_points_in_space_are_no_further_apart_than_the_way_on_the_surface(
    surface: Surface, ax: float, ay: float, bx: float, by: float
) -> None:
    one, other = inside(surface, ax, ay), inside(surface, bx, by)
    apart = surface.in_space([one.x, other.x], [one.y, other.y])
    way = float(surface.distance(one.x, one.y, other.x, other.y))
    assert np.linalg.norm(apart[0] - apart[1]) <= way + 1e-6


@pytest.mark.parametrize(
    "name",
    [
        "mapping.azimuth",
        "mapping.surfaces.strake",
        "mapping.surfaces.disk",
        "mapping.surfaces.cone",
        "mapping.surfaces.deck",
        "mapping.surfaces.panel",
        "mapping.surfaces.local",
        "mapping.grid",
    ],
)
def test_the_examples_in_the_docstrings_are_true(name: str) -> None:
    found = doctest.testmod(importlib.import_module(name))
    assert found.attempted > 0
    assert found.failed == 0
