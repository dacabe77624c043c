"""The pipe: unrolled area and distance, folding over the seam, and its places and stretches as spoken."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity

from mapping.lanes import lanes
from mapping.positions import Chainage, PositionError, StationEquation
from mapping.surfaces import from_json
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Sector, SurfaceError, grow_square

PIPE = Pipe(start=1000.0, end=1250.0, circumference=4.0)
ROUND = 4.0
STRETCH = "1+084.00 to 1+096.00"

along = st.floats(1000, 1250)
around = st.floats(0, 4, exclude_max=True)


def clocks(first: float, second: float) -> shapely.Polygon:
    """The stretch of STRETCH between two clock hours, in the endless plane."""
    return shapely.box(1084, first / 3, 1096, second / 3)


def same(one: shapely.Geometry, other: shapely.Geometry) -> bool:
    return bool(shapely.symmetric_difference(one, other).area < 1e-9)


# Sizes


def test_the_area_is_pi_times_diameter_times_length() -> None:
    # Lateral surface of a right circular cylinder: elementary geometry.
    pipe = Pipe(start=10, end=110, diameter=0.7620)
    assert pipe.area == pytest.approx(math.pi * 0.7620 * 100, rel=1e-12)


def test_the_outline_has_the_true_area() -> None:
    pipe = Pipe(start=10, end=110, diameter=0.7620)
    assert pipe.outline.area == pytest.approx(pipe.area, rel=1e-12)


def test_a_measured_circumference_rules_over_the_diameter() -> None:
    pipe = Pipe(start=0, end=1, diameter=1.0, circumference=3.1450)
    assert pipe.period == 3.1450


@pytest.mark.parametrize("share", [1.002, 0.998])
def test_a_circumference_0_2_percent_off_the_diameter_is_read(share: float) -> None:
    circumference = math.pi * share
    pipe = Pipe(start=0, end=1, diameter=1.0, circumference=circumference)
    assert pipe.area == pytest.approx(circumference)


@pytest.mark.parametrize("share", [1.0021, 0.9979])
def test_a_circumference_further_off_the_diameter_is_refused(share: float) -> None:
    with pytest.raises(SurfaceError, match=r"more than 0\.2 %"):
        Pipe(start=0, end=1, diameter=1.0, circumference=math.pi * share)


@pytest.mark.parametrize(
    ("json", "field"),
    [
        ({"start": 0, "end": 1}, "diameter"),
        ({"start": 0, "end": 1, "diameter": 762}, "diameter"),
        ({"start": 0, "end": 1, "diameter": math.nan}, "diameter"),
        ({"start": 0, "end": 1, "diameter": "0.762"}, "diameter"),
        ({"start": 0, "end": 1, "diameter": True}, "diameter"),
        ({"start": 0, "end": 1, "circumference": -1}, "circumference"),
        ({"start": 0, "diameter": 1}, "end"),
        ({"end": 1, "diameter": 1}, "start"),
        ({"start": 1, "end": 1, "diameter": 1}, "end"),
        ({"start": 1, "end": math.inf, "diameter": 1}, "end"),
        ({"start": -5, "end": 1, "diameter": 1}, "start"),
        ({"start": 0, "end": 1, "radius": 1}, "radius"),
    ],
)
def test_a_pipe_that_cannot_be_is_refused_naming_the_field(json: dict[str, Any], field: str) -> None:
    with pytest.raises(SurfaceError, match=field) as refused:
        from_json("pipe", json, "outside", Chainage())
    assert refused.value.field == field


def test_an_unknown_kind_of_surface_is_refused() -> None:
    with pytest.raises(SurfaceError, match="pipe"):
        from_json("torus", {}, "outside", Chainage())


def test_an_unknown_face_is_refused() -> None:
    with pytest.raises(SurfaceError, match="outside or inside"):
        Pipe(start=0, end=1, diameter=1, face="upper")


@pytest.mark.parametrize(
    "json",
    [
        {"diameter": 1.0, "start": 0.0, "end": 9.5},
        {"circumference": 3.15, "start": 0.0, "end": 9.5},
        {"diameter": 1.0, "circumference": 3.142, "start": 0.0, "end": 9.5},
    ],
)
def test_the_stored_form_is_given_back(json: dict[str, Any]) -> None:
    assert from_json("pipe", json, "inside", Chainage()).to_json() == json


# Distance


@given(ax=along, ay=around, bx=along, by=around)
def test_the_distance_is_that_of_the_chord_on_the_cylinder_in_space(ax: float, ay: float, bx: float, by: float) -> None:
    # Elementary geometry: the arc over a chord c of a circle of diameter D is D * asin(c / D); on the unrolled
    # cylinder it stands square to the way along.
    diameter = ROUND / math.pi
    a, b = (diameter / 2 * np.exp(2j * math.pi * y / ROUND) for y in (ay, by))
    arc = diameter * math.asin(min(abs(a - b) / diameter, 1.0))
    expected = math.hypot(arc, ax - bx)
    assert PIPE.distance(ax, ay, bx, by) == pytest.approx(expected, abs=1e-6)


def test_opposite_sides_are_half_a_circumference_apart() -> None:
    assert PIPE.distance(1100, 0.5, 1100, 2.5) == pytest.approx(2.0)


def test_distances_of_arrays_broadcast() -> None:
    found = PIPE.distance([1100, 1103], [0.1, 0.1], 1100, 3.9)
    assert found == pytest.approx([0.2, math.hypot(3, 0.2)])


# Folding


def test_a_shape_over_the_seam_is_split_there() -> None:
    folded = PIPE.fold(shapely.box(1100, 3.5, 1110, 4.5))
    parts = [shapely.box(1100, 3.5, 1110, 4), shapely.box(1100, 0, 1110, 0.5)]
    assert same(folded, shapely.MultiPolygon(parts))


def test_a_shape_around_more_than_once_covers_the_full_round_once() -> None:
    assert same(PIPE.fold(shapely.box(1100, -7, 1110, 9)), shapely.box(1100, 0, 1110, 4))


def test_a_shape_over_the_end_of_the_zone_is_clipped() -> None:
    assert PIPE.fold(shapely.box(1249, 1, 1253, 2)).area == pytest.approx(1.0)


def test_a_shape_off_the_zone_folds_to_nothing() -> None:
    assert PIPE.fold(shapely.box(1260, 1, 1270, 2)).is_empty


def test_lines_and_points_of_a_shape_are_dropped() -> None:
    mixed = shapely.GeometryCollection([shapely.box(1100, 1, 1101, 2), shapely.LineString([(1000, 0), (1100, 3)])])
    assert same(PIPE.fold(mixed), shapely.box(1100, 1, 1101, 2))


def test_a_crossed_outline_folds_to_a_valid_shape() -> None:
    bow = shapely.Polygon([(1100, 1), (1102, 3), (1102, 1), (1100, 3)])
    folded = PIPE.fold(bow)
    assert folded.is_valid
    assert folded.area == pytest.approx(2.0)


def test_a_shape_without_finite_coordinates_is_refused() -> None:
    shape = shapely.Polygon([(1100, 1), (1102, math.inf), (1102, 1)])
    with pytest.raises(SurfaceError, match="finite"):
        PIPE.fold(shape)


def test_a_shape_around_endlessly_often_is_refused() -> None:
    with pytest.raises(SurfaceError, match="10000"):
        PIPE.fold(shapely.box(1100, 0, 1101, 1e9))


boxes = st.builds(
    lambda x, y, width, height: shapely.box(x, y, x + width, y + height),
    st.floats(980, 1260),
    st.floats(-20, 20),
    st.floats(0.01, 40),
    st.floats(0.01, 12),
)


@given(box=boxes, turns=st.integers(-5, 5))
def test_whole_turns_make_no_difference_to_what_is_folded(box: shapely.Polygon, turns: int) -> None:
    turned = affinity.translate(box, 0, turns * ROUND)
    assert same(PIPE.fold(box), PIPE.fold(turned))


@given(box=boxes)
def test_a_folded_box_keeps_the_area_it_has_on_the_zone(box: shapely.Polygon) -> None:
    low_x, low_y, high_x, high_y = box.bounds
    length = max(0.0, min(high_x, 1250) - max(low_x, 1000))
    expected = length * min(high_y - low_y, ROUND)
    assert PIPE.fold(box).area == pytest.approx(expected, abs=1e-9)


@given(box=boxes)
def test_a_folded_shape_is_valid_on_the_zone_and_turns_counterclockwise(
    box: shapely.Polygon,
) -> None:
    folded = PIPE.fold(box)
    assert folded.is_valid
    assert folded.difference(PIPE.outline).is_empty
    assert all(piece.exterior.is_ccw for piece in shapely.get_parts(folded))


# Footprints and margins


def test_a_footprint_has_the_overlap_on_every_side_and_crosses_the_seam() -> None:
    footprint = PIPE.footprint(1100, 0.05, 0.02, 0.04, 0.10)
    assert footprint.area == pytest.approx(0.22 * 0.24)
    assert shapely.get_num_geometries(footprint) == 2


def test_a_footprint_at_the_end_of_the_zone_is_clipped() -> None:
    assert PIPE.footprint(1250, 2, 0, 0, 0.10).area == pytest.approx(0.10 * 0.20)


def test_a_round_footprint_has_the_area_of_the_circle_within_a_ten_thousandth() -> None:
    footprint = PIPE.footprint(1100, 0.05, 0.02, 0.04, 0.10, round_=True)
    assert footprint.area == pytest.approx(math.pi * 0.12**2, rel=1e-4)


def test_a_margin_reaches_over_the_seam() -> None:
    grown = PIPE.with_margin(shapely.box(1100, 0, 1101, 0.1), 0.2)
    assert grown.area == pytest.approx(1.4 * 0.5)


def test_a_margin_is_square_to_the_axes_also_around_a_slanted_shape() -> None:
    # Swept by a square of side 2m, a convex shape grows to A + 2m * (width + height) + (2m)^2 (Minkowski sum).
    diamond = shapely.Polygon([(0, 1), (1, 0), (2, 1), (1, 2)])
    assert grow_square(diamond, 0.5).area == pytest.approx(2 + 1 * (2 + 2) + 1)


# Drawing


@pytest.mark.parametrize(
    ("face", "clock", "down"),
    [
        ("outside", "12:00", 0.0),
        ("outside", "3:00", 1.0),
        ("outside", "9:00", 3.0),
        ("inside", "9:00", 1.0),
        ("inside", "3:00", 3.0),
    ],
)
def test_the_clock_runs_down_the_page_as_seen_facing_the_surface(face: str, clock: str, down: float) -> None:
    pipe = Pipe(start=1000, end=1250, circumference=ROUND, face=face)
    right, drawn = pipe.to_view(*pipe.read_place(f"1+100 @ {clock}"))
    assert (right, drawn % ROUND) == pytest.approx((1100, down))


@pytest.mark.parametrize("face", ["outside", "inside"])
@given(x=along, y=around)
def test_a_drawn_place_is_found_again(face: str, x: float, y: float) -> None:
    pipe = Pipe(start=1000, end=1250, circumference=ROUND, face=face)
    again_x, again_y = pipe.from_view(*pipe.to_view(x, y))
    assert pipe.distance(x, y, again_x, again_y) <= 1e-9


def test_every_drawing_says_from_where_it_is_seen() -> None:
    inside = Pipe(start=0, end=1, diameter=1, face="inside")
    assert PIPE.seen_from == ("Outside face, as seen standing at the 3 o'clock side, chainage to the right")
    assert "9 o'clock side" in inside.seen_from


# Spoken places


@given(x=along, y=around)
def test_reading_a_printed_place_gives_it_within_half_a_step_on_each_axis(x: float, y: float) -> None:
    again = PIPE.read_place(PIPE.print_place(x, y))
    assert abs(again.x - x) <= 0.005 + 1e-7
    assert PIPE.distance(x, y, x, again.y) <= ROUND / 43200 / 2 + 1e-9


@given(x=along, y=around)
def test_printing_a_read_place_repeats_it(x: float, y: float) -> None:
    printed = PIPE.print_place(x, y)
    assert PIPE.print_place(*PIPE.read_place(printed)) == printed


@pytest.mark.parametrize("end", ["1+000 @ 6:00", "1+250 @ 12:00"])
def test_the_ends_belong_to_the_zone(end: str) -> None:
    assert PIPE.read_place(end).x in (1000.0, 1250.0)


def test_a_place_off_the_zone_is_refused_with_the_limits_of_the_zone() -> None:
    with pytest.raises(PositionError, match=r"1\+000\.00 to 1\+250\.00"):
        PIPE.read_place("1+250.01 @ 6:00")


def test_a_landmark_may_lie_off_the_zone() -> None:
    assert PIPE.read_place("1+260 @ 6:00", anywhere=True) == (1260.0, 2.0)


def test_an_end_between_two_printed_steps_is_met_by_its_printed_form() -> None:
    pipe = Pipe(start=1000.004, end=1250.003, circumference=ROUND)
    assert pipe.read_place("1+000.00 @ 6:00").x == 1000.004


@given(x=st.floats(1000.004, 1250.003))
def test_a_place_near_an_end_between_two_steps_is_read_within_half_a_step(x: float) -> None:
    pipe = Pipe(start=1000.004, end=1250.003, circumference=ROUND)
    assert abs(pipe.read_place(pipe.print_place(x, 2)).x - x) <= 0.005 + 1e-7


# Spoken stretches


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (STRETCH, clocks(0, 12)),
        ("1+096 to 1+084", clocks(0, 12)),
        (f"{STRETCH}, 2:00 to 9:00", clocks(2, 9)),
        (f"{STRETCH}, 9:00 to 12:00", clocks(9, 12)),
        (f"{STRETCH}, 9:00 to 2:00", clocks(9, 12) | clocks(0, 2)),
        (f"{STRETCH}, 12:00 to 12:00", clocks(0, 12)),
        (f"{STRETCH}, 270 deg to 2 h", clocks(9, 12) | clocks(0, 2)),
        (f"{STRETCH}, lane 3 of 8, 0.50 m wide", shapely.box(1084, 1, 1096, 1.5)),
        (f"{STRETCH}, Lane 3 of 8, 500 mm wide", shapely.box(1084, 1, 1096, 1.5)),
        ("Whole zone", PIPE.outline),
        ("0+900 to 9+000", PIPE.outline),
    ],
)
def test_a_spoken_stretch_is_read(text: str, expected: shapely.Geometry) -> None:
    assert same(PIPE.read_region(text), expected)


def test_the_first_lane_reaches_over_the_seam() -> None:
    swept = PIPE.read_region(f"{STRETCH}, lane 1 of 8, 0.6 m wide")
    expected = shapely.box(1084, 0, 1096, 0.55) | shapely.box(1084, 3.95, 1096, 4)
    assert same(swept, expected)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("1+084.00", "cannot be read"),
        ("1+084 to 1+084", "no length"),
        ("1+300 to 1+400", "off this zone"),
        ("1+250 to 1+400", "off this zone"),
        (f"{STRETCH}, 9:00", "cannot be read"),
        (f"{STRETCH}, 9.00 to 2.00", "ambiguous"),
        (f"{STRETCH}, lane 9 of 8, 0.45 m wide", "count from 1 to 8"),
        (f"{STRETCH}, lane 0 of 0, 0.45 m wide", "count from 1"),
        (f"{STRETCH}, lane 3 of 8", "cannot be read"),
        (f"{STRETCH}, lane 3 of 8, 0.45 wide", "cannot be read"),
        (f"{STRETCH}, lane 3 of 8, 0.00 m wide", "above 0"),
        (f"{STRETCH}, lane 3 of 8, 0.45 m wide, twice", "cannot be read"),
    ],
)
def test_a_stretch_that_cannot_be_meant_is_refused(text: str, reason: str) -> None:
    with pytest.raises(PositionError, match=reason):
        PIPE.read_region(text)


def test_a_sector_is_printed_as_it_is_read() -> None:
    printed = PIPE.print_region(1084, 1096, Sector(3.0, 4 + 2 / 3))
    assert printed == f"{STRETCH}, 9:00:00 to 2:00:00"


def test_a_lane_is_printed_as_it_is_read() -> None:
    lane = lanes(PIPE, 0.45, 0.05)[2]
    printed = PIPE.print_region(1084, 1096, lane)
    assert printed == f"{STRETCH}, lane 3 of 10, 0.45 m wide"
    assert same(PIPE.read_region(printed), shapely.box(1084, lane.low, 1096, lane.high))


def test_a_sector_below_one_second_is_not_printed_as_the_full_round() -> None:
    printed = PIPE.print_region(1084, 1096, Sector(1.0, 1.00001))
    assert PIPE.read_region(printed).area < 0.01


@given(box=boxes.filter(lambda box: box.bounds[2] > 1001 and box.bounds[0] < 1249))
def test_a_described_shape_lies_inside_what_is_said_and_fills_it_to_the_step(
    box: shapely.Polygon,
) -> None:
    shape = PIPE.fold(box)
    said = PIPE.read_region(PIPE.describe_region(shape))
    assert shape.difference(said).area <= 2e-6 * shape.length
    step = max(0.01, ROUND / 43200)
    assert said.area - shape.area <= 2 * step * (shape.length + 1)


def test_a_shape_over_the_seam_is_described_as_one_stretch() -> None:
    shape = clocks(9, 12) | clocks(0, 2)
    assert PIPE.describe_region(PIPE.fold(shape)) == f"{STRETCH}, 9:00:00 to 2:00:00"


def test_a_ring_is_described_without_clock() -> None:
    assert PIPE.describe_region(clocks(0, 12)) == STRETCH


def test_a_shape_all_the_way_around_has_no_shorter_span() -> None:
    assert PIPE.span(clocks(0, 12)) is None


def test_an_empty_shape_has_no_description() -> None:
    with pytest.raises(PositionError, match="empty"):
        PIPE.describe_region(shapely.Polygon())


def test_a_stretch_over_a_station_equation_is_as_long_as_the_pipe() -> None:
    chainage = Chainage("imperial", equations=(StationEquation(1250, 1200),))
    pipe = Pipe(start=0, end=1000, circumference=1.0, chainage=chainage)
    swept = pipe.read_region("12+25 back to 12+25 ahead")
    assert swept.area == pytest.approx(50 * 0.3048)


def test_a_described_stretch_is_read_back_over_a_station_equation() -> None:
    chainage = Chainage("imperial", equations=(StationEquation(1250, 1200),))
    pipe = Pipe(start=0, end=1000, circumference=1.0, chainage=chainage)
    shape = shapely.box(1225 * 0.3048, 0.25, 1275 * 0.3048, 0.5)
    said = "12+25.00 back to 12+25.00 ahead, 3:00:00 to 6:00:00"
    assert pipe.describe_region(shape) == said


# Stretches of coverage


def test_stretches_of_equal_area_make_up_the_zone() -> None:
    stretches = PIPE.stretches
    assert [stretch.area for stretch in stretches] == pytest.approx([PIPE.area / len(stretches)] * len(stretches))
    assert same(shapely.union_all(stretches), PIPE.outline)


def test_a_short_zone_is_one_stretch() -> None:
    assert len(Pipe(start=0, end=3, diameter=1).stretches) == 1
