"""Ground divided by swaths, checked against cells counted independently; parts over the seam; as left."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity, box

from mapping import coverage
from mapping.coverage import Event, Ground, TimedSwath, divide
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Areal

LENGTH, ROUND = 12.0, 4.0
PIPE = Pipe(start=0.0, end=LENGTH, circumference=ROUND)


def in_slices(outline: Areal) -> list[Areal]:
    """The outline cut across x into slices of about 2.5 m."""
    low, bottom, high, top = outline.bounds
    edges = np.linspace(low, high, round((high - low) / 2.5) + 1)
    return list(shapely.intersection(shapely.box(edges[:-1], bottom, edges[1:], top), outline))


CELL = 0.05
ORDER = ("stands", "held", "pending", "lost")

# Sides in whole cells, so that counting cell centres is exact.
cells = st.integers(-40, 280)
sweeps = st.lists(
    st.tuples(cells, cells, st.integers(1, 120), st.integers(1, 200), st.sampled_from(ORDER)),
    max_size=12,
)
Sweep = tuple[int, int, int, int, str]


def swaths_of(found: list[Sweep], shift: float = 0.0) -> list[tuple[Areal, str]]:
    folded = []
    for column, row, columns, rows, standing in found:
        sides = np.array([column, row, column + columns, row + rows]) * CELL
        plain = affinity.translate(box(*sides), 0, shift)
        folded.append((PIPE.fold(plain), standing))
    return folded


def counted(found: list[Sweep]) -> dict[str, float]:
    """Area by standing, from cells marked one by one with the modulo of their row."""
    columns, rows = round(LENGTH / CELL), round(ROUND / CELL)
    worth = np.full((columns, rows), len(ORDER))
    for column, row, wide, high, standing in found:
        across = np.arange(row, row + min(high, rows)) % rows
        inside = [i for i in range(column, column + wide) if 0 <= i < columns]
        block = np.ix_(inside, across)
        worth[block] = np.minimum(worth[block], ORDER.index(standing))
    names = (*ORDER, "gap")
    return {name: float((worth == i).sum()) * CELL**2 for i, name in enumerate(names)}


def areas(ground: Ground) -> dict[str, float]:
    return {name: shape.area for name, shape in ground._asdict().items()}


def same(one: Areal, other: Areal) -> bool:
    return bool(shapely.symmetric_difference(one, other).area < 1e-9)


def at(hour: int) -> datetime:
    return datetime(2031, 5, 12, hour, tzinfo=UTC)


# Division


@settings(max_examples=60)
@given(found=sweeps)
def test_divided_ground_has_the_areas_of_independently_counted_cells(
    found: list[Sweep],
) -> None:
    assert areas(divide(PIPE.outline, swaths_of(found))) == pytest.approx(counted(found), abs=1e-8)


@settings(max_examples=30)
@given(found=sweeps, seed=st.randoms(use_true_random=False))
def test_the_order_of_swaths_makes_no_difference(found: list[Sweep], seed: st.randoms) -> None:
    mixed = list(found)
    seed.shuffle(mixed)
    one = divide(PIPE.outline, swaths_of(found))
    other = divide(PIPE.outline, swaths_of(mixed))
    assert all(same(*pair) for pair in zip(one, other, strict=True))


@settings(max_examples=30)
@given(found=sweeps)
def test_stretches_divided_each_for_itself_make_up_the_whole(found: list[Sweep]) -> None:
    swaths = swaths_of(found)
    whole = divide(PIPE.outline, swaths)
    stretches = [divide(stretch, swaths) for stretch in in_slices(PIPE.outline)]
    for shape, pieces in zip(whole, zip(*stretches, strict=True), strict=True):
        assert same(shape, shapely.union_all(pieces))


@settings(max_examples=30)
@given(found=sweeps, shift=st.floats(0, ROUND))
def test_moving_the_seam_changes_no_area_and_no_part(found: list[Sweep], shift: float) -> None:
    one = divide(PIPE.outline, swaths_of(found))
    other = divide(PIPE.outline, swaths_of(found, shift))
    assert areas(other) == pytest.approx(areas(one), abs=1e-8)
    sizes = [[part.area for part in coverage.gaps(PIPE, g).parts] for g in (one, other)]
    assert sizes[1] == pytest.approx(sizes[0], abs=1e-8)


@settings(max_examples=30)
@given(found=sweeps)
def test_divided_ground_adds_up_without_overlap(found: list[Sweep]) -> None:
    ground = divide(PIPE.outline, swaths_of(found))
    assert ground.area == pytest.approx(PIPE.area, abs=1e-8)
    for one, other in itertools.combinations(ground, 2):
        assert one.intersection(other).area < 1e-9


@settings(max_examples=30)
@given(found=sweeps)
def test_a_history_of_swaths_one_by_one_is_the_fresh_union(found: list[Sweep]) -> None:
    swept = [(shape, "stands") for shape, _ in swaths_of(found)]
    grown: Areal = shapely.MultiPolygon()
    for swath in swept:
        grown = divide(PIPE.outline, [(grown, "stands"), swath]).stands
    assert same(grown, divide(PIPE.outline, swept).stands)


def test_an_unknown_standing_is_refused() -> None:
    with pytest.raises(ValueError, match="stands, held, pending, lost"):
        divide(PIPE.outline, [(PIPE.outline, "good")])


def test_ground_without_swaths_is_gap() -> None:
    assert areas(divide(PIPE.outline, []))["gap"] == pytest.approx(48.0)


# Parts


def test_a_gap_over_the_seam_is_one_part() -> None:
    gap = PIPE.fold(box(2, 3.5, 5, 4.5))
    (part,) = coverage.parts(PIPE, gap)
    assert part.area == pytest.approx(3.0)


def test_the_place_of_a_part_over_the_seam_lies_on_it() -> None:
    (part,) = coverage.parts(PIPE, PIPE.fold(box(2, 3.5, 5, 4.7)))
    assert part.centre == pytest.approx((3.5, 0.1))


def test_the_place_of_a_hollow_part_lies_on_it() -> None:
    frame = box(2, 1, 5, 3) - box(2.5, 1.5, 4.5, 2.5)
    (part,) = coverage.parts(PIPE, frame)
    assert frame.contains(shapely.Point(part.centre))


def test_parts_that_touch_in_a_corner_are_two() -> None:
    corners = shapely.union_all([box(1, 1, 2, 2), box(2, 2, 4, 3)])
    found = coverage.parts(PIPE, corners)
    assert [part.area for part in found] == pytest.approx([2.0, 1.0])


def test_parts_that_touch_in_a_corner_on_the_seam_are_two() -> None:
    corners = shapely.union_all([box(1, 3, 2, 4), box(2, 0, 4, 1)])
    assert len(coverage.parts(PIPE, corners)) == 2


def test_tips_that_touch_over_the_seam_are_two() -> None:
    tips = [
        shapely.Polygon([(2, 0), (3, 1), (1, 1)]),
        shapely.Polygon([(2, 4), (3, 3), (1, 3)]),
    ]
    assert len(coverage.parts(PIPE, shapely.MultiPolygon(tips))) == 2


def test_pieces_joined_only_through_others_over_the_seam_are_one_part() -> None:
    pieces = [box(1, 0, 2, 1), box(1, 3, 5, 4), box(4, 0, 5, 1)]
    (part,) = coverage.parts(PIPE, shapely.MultiPolygon(pieces))
    assert part.area == pytest.approx(6.0)


@pytest.mark.parametrize("far", [0.0, 250_000.0])
def test_a_neck_that_only_rounding_left_does_not_join_two_gaps(far: float) -> None:
    pipe = Pipe(start=far, end=far + LENGTH, circumference=ROUND)
    necked = shapely.union_all(
        [box(far + 1, 1, far + 2, 2), box(far + 2, 1.5, far + 4, 1.5 + 1e-9), box(far + 4, 1, far + 6, 2)]
    )
    found = coverage.listing(pipe, necked)
    assert [part.area for part in found.parts] == pytest.approx([2.0, 1.0], abs=1e-6)


def test_parts_are_listed_largest_first_and_those_below_1_cm2_summed() -> None:
    squares = [box(x, 1, x + side, 1 + side) for x, side in enumerate([0.009, 0.01, 0.5, 0.008])]
    found = coverage.listing(PIPE, shapely.MultiPolygon(squares))
    assert [part.area for part in found.parts] == pytest.approx([0.25, 0.0001])
    assert found.small_count == 2
    assert found.small_area == pytest.approx(0.009**2 + 0.008**2)


def test_stretches_of_one_gap_are_one_part() -> None:
    gap = box(1, 1, 11, 2)
    pieces = [stretch & gap for stretch in in_slices(PIPE.outline)]
    assert len(coverage.parts(PIPE, shapely.MultiPolygon(pieces))) == 1


# Fullness


def test_coverage_is_full_when_only_parts_below_1_cm2_are_untested() -> None:
    left = shapely.MultiPolygon([box(x, 1, x + 0.009, 1.009) for x in range(10)])
    ground = divide(PIPE.outline, [(PIPE.outline - left, "stands")])
    assert coverage.is_full(PIPE, ground) is True


@pytest.mark.parametrize("standing", ["held", "pending", "lost"])
def test_coverage_is_not_full_while_a_part_of_1_cm2_does_not_stand(standing: str) -> None:
    left = box(1, 1, 1.01, 1.0101)
    swaths = [(PIPE.outline - left, "stands"), (left, standing)]
    assert coverage.is_full(PIPE, divide(PIPE.outline, swaths)) is False


def test_untested_ground_of_two_standings_counts_as_one_part() -> None:
    held, gap = box(1, 1, 1.009, 1.009), box(1.009, 1, 1.018, 1.009)
    swaths = [(PIPE.outline - held - gap, "stands"), (held, "held")]
    assert coverage.is_full(PIPE, divide(PIPE.outline, swaths)) is False


def test_no_testable_ground_is_nothing_to_test() -> None:
    ground = divide(coverage.testable(PIPE.outline, [PIPE.outline]).shape, [])
    assert coverage.coverage_words(PIPE, ground) == "nothing to test"
    assert coverage.tested_share(ground) is None
    assert coverage.is_full(PIPE, ground) is None


def test_coverage_just_short_of_full_is_never_rounded_up_to_100_percent() -> None:
    swaths = [(PIPE.outline - box(1, 1, 1.02, 1.02), "stands")]
    words = coverage.coverage_words(PIPE, divide(PIPE.outline, swaths))
    assert words == "99.9 %"


def test_full_coverage_is_100_percent() -> None:
    ground = divide(PIPE.outline, [(PIPE.outline, "stands")])
    assert coverage.coverage_words(PIPE, ground) == "100 %"


# Exclusions


def test_overlapping_exclusions_count_once_under_the_first_accepted() -> None:
    found = coverage.testable(PIPE.outline, [box(0, 0, 2, 4), box(1, 0, 4, 4)])
    assert [taken.area for taken in found.excluded] == pytest.approx([8.0, 8.0])
    assert found.shape.area == pytest.approx(48 - 16)


@given(found=sweeps)
def test_exclusions_and_testable_ground_add_up_to_the_true_area(found: list[Sweep]) -> None:
    divided = coverage.testable(PIPE.outline, [shape for shape, _ in swaths_of(found)])
    taken = sum(excluded.area for excluded in divided.excluded)
    assert divided.shape.area + taken == pytest.approx(PIPE.area, abs=1e-8)


# As left


def left_after(found: list[TimedSwath], events: list[Event], retests: list[TimedSwath]) -> Ground:
    swaths = coverage.as_left(PIPE, found, events, retests, 0.1)
    return divide(PIPE.outline, swaths)


WHOLE = TimedSwath(PIPE.outline, "stands", at(8))
PATCH = Event(box(2, 1, 3, 2), at(10))


def test_a_place_coated_since_is_untested_with_its_margin() -> None:
    ground = left_after([WHOLE], [PATCH], [])
    assert same(ground.gap, box(1.9, 0.9, 3.1, 2.1))


def test_the_margin_of_a_place_at_the_seam_reaches_over_it() -> None:
    ground = left_after([WHOLE], [Event(box(2, 0, 3, 1), at(10))], [])
    assert ground.gap.area == pytest.approx(1.2 * 1.2)


def test_a_standing_retest_restores_what_its_swath_swept() -> None:
    retest = TimedSwath(box(1.8, 0.8, 2.5, 2.2), "stands", at(12))
    ground = left_after([WHOLE], [PATCH], [retest])
    assert same(ground.gap, box(2.5, 0.9, 3.1, 2.1))


def test_a_retest_that_is_lost_restores_nothing() -> None:
    retest = TimedSwath(PIPE.outline, "lost", at(12))
    ground = left_after([WHOLE], [PATCH], [retest])
    assert same(ground.lost, box(1.9, 0.9, 3.1, 2.1))


def test_a_swath_begun_before_the_place_was_disturbed_does_not_count_there() -> None:
    ground = left_after([WHOLE], [PATCH], [TimedSwath(PIPE.outline, "stands", at(10))])
    assert ground.gap.area == pytest.approx(1.44)


def test_a_place_swept_only_after_it_was_coated_is_tested() -> None:
    late = TimedSwath(PIPE.outline, "stands", at(11))
    assert left_after([late], [PATCH], []).gap.is_empty


def test_a_place_disturbed_again_after_its_retest_is_untested_again() -> None:
    retest = TimedSwath(PIPE.outline, "stands", at(12))
    again = Event(box(2, 1, 2.5, 1.5), at(14))
    ground = left_after([WHOLE], [PATCH, again], [retest])
    assert ground.gap.area == pytest.approx(0.7 * 0.7)


@settings(max_examples=30)
@given(found=sweeps, hours=st.lists(st.integers(1, 20), min_size=24, max_size=24))
def test_as_left_is_the_history_replayed_hour_by_hour(found: list[Sweep], hours: list[int]) -> None:
    shapes = [shape for shape, _ in swaths_of(found)]
    middle = len(shapes) // 2
    swept = [TimedSwath(shape, "stands", at(hour)) for shape, hour in zip(shapes[:middle], hours[:12], strict=False)]
    events = [Event(shape, at(hour)) for shape, hour in zip(shapes[middle:], hours[12:], strict=False)]
    replayed: Areal = shapely.MultiPolygon()
    for hour in range(24):
        for swath in swept:
            if swath.at == at(hour):
                replayed = replayed | swath.shape
        for event in events:
            if event.at == at(hour):
                replayed = replayed - PIPE.with_margin(event.shape, 0.1)
    assert same(left_after(swept, events, []).stands, replayed)


# Paths


def test_a_straight_path_sweeps_a_rectangle_with_flat_ends() -> None:
    swept = coverage.path_swath([(1, 1), (4, 1)], 0.5)
    assert same(swept, box(1, 0.75, 4, 1.25))


def test_a_bend_is_mitred() -> None:
    swept = coverage.path_swath([(1, 1), (4, 1), (4, 3)], 0.5)
    assert same(swept, box(1, 0.75, 4.25, 1.25) | box(3.75, 0.75, 4.25, 3))


def test_a_path_over_its_own_track_counts_once() -> None:
    swept = coverage.path_swath([(1, 1), (4, 1), (4, 2), (2, 2), (2, 0)], 0.5)
    assert swept.is_valid
    bars = [
        box(1, 0.75, 4.25, 1.25),
        box(3.75, 0.75, 4.25, 2.25),
        box(1.75, 1.75, 4.25, 2.25),
        box(1.75, 0, 2.25, 2.25),
    ]
    assert same(swept, shapely.union_all(bars))


@pytest.mark.parametrize(
    ("points", "width", "named"),
    [([(1, 1)], 0.5, "path"), ([(1, 1), (1, 1)], 0.5, "path"), ([(1, 1), (2, 1)], 0, "width")],
)
def test_a_path_that_sweeps_nothing_is_refused(points: list[tuple[float, float]], width: float, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        coverage.path_swath(points, width)
