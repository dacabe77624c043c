"""Patches from footprints, and spot repair or recoat; geometry against shapely's own predicates."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box

from mapping.surfaces.cone import Cone
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.strake import Strake
from repairs.patches import RecoatRule, RepairGround, merge, spot_or_recoat

PERIOD = 2.0
AROUND = Pipe(start=0, end=99, circumference=PERIOD)
CONE = Cone(diameter=6.0, height=4.0)  # its slant is 5 m, Pythagoras
FLAT = Cone(diameter=40.0, height=0.05)


def ids(*shapes: Polygon | MultiPolygon, wrapped: bool = False) -> list[tuple[object, ...]]:
    footprints = list(enumerate(shapes))
    proposals = merge(footprints, AROUND) if wrapped else merge(footprints)
    return [proposal.ids for proposal in proposals]


def over_seam(low: float, high: float, left: float = 0.0, right: float = 1.0) -> MultiPolygon:
    """A band from `low` below the seam to `high` above it, cut there."""
    return MultiPolygon([box(left, 0, right, high), box(left, low, right, PERIOD)])


def test_overlapping_footprints_are_one_patch_with_the_area_of_their_union() -> None:
    (patch,) = merge([("B1", box(0, 0, 1, 1)), ("B2", box(0.5, 0, 1.5, 1))])
    assert patch.ids == ("B1", "B2")
    assert patch.area == pytest.approx(1.5)


def test_footprints_apart_stay_apart() -> None:
    assert ids(box(0, 0, 1, 1), box(1.1, 0, 2, 1)) == [(0,), (1,)]


def test_a_shared_edge_joins() -> None:
    assert ids(box(0, 0, 1, 1), box(1, 0.5, 2, 3)) == [(0, 1)]


def test_edges_within_a_micrometre_are_shared() -> None:
    assert ids(box(0, 0, 1, 1), box(1 + 0.9e-6, 0, 2, 1)) == [(0, 1)]
    assert ids(box(0, 0, 1, 1), box(1 + 1.1e-6, 0, 2, 1)) == [(0,), (1,)]


def test_a_corner_alone_does_not_join() -> None:
    assert ids(box(0, 0, 1, 1), box(1, 1, 2, 2)) == [(0,), (1,)]


def test_a_corner_within_a_micrometre_is_still_a_corner() -> None:
    for give in (-0.9e-6, 0.9e-6):
        assert ids(box(0, 0, 1, 1), box(1 + give, 1 + give, 2, 2)) == [(0,), (1,)]


def test_corners_turned_to_each_other_do_not_join() -> None:
    diamond = Polygon([(1, 0.5), (1.5, 0), (2, 0.5), (1.5, 1)])
    assert ids(box(0, 0, 1, 0.5), diamond) == [(0,), (1,)]


def test_a_chain_of_footprints_is_one_patch() -> None:
    assert ids(box(0, 0, 1, 1), box(1.8, 0, 3, 1), box(0.9, 0, 2, 1)) == [(0, 1, 2)]


def test_footprints_join_over_the_seam() -> None:
    shapes = (box(0, 0, 1, 0.2), box(0.5, 1.9, 2, PERIOD))
    assert ids(*shapes, wrapped=True) == [(0, 1)]
    assert ids(*shapes) == [(0,), (1,)]


def test_a_corner_on_the_seam_does_not_join() -> None:
    assert ids(box(0, 0, 1, 0.2), box(1, 1.9, 2, PERIOD), wrapped=True) == [(0,), (1,)]


def test_a_footprint_cut_at_the_seam_is_one_patch_with_what_it_overlaps_on_either_side() -> None:
    (patch,) = merge([("a", over_seam(1.9, 0.1)), ("b", box(0.5, 0.05, 2, 0.3))], AROUND)
    assert patch.ids == ("a", "b")
    assert patch.area == pytest.approx(0.2 + 1.5 * 0.25 - 0.5 * 0.05)


def test_the_seam_may_lie_across_the_other_axis() -> None:
    shapes = [("a", box(0, 0, 0.2, 1)), ("b", box(1.9, 0, PERIOD, 1))]
    assert [proposal.ids for proposal in merge(shapes, Strake(number=1, height=9, circumference=PERIOD))] == [
        ("a", "b")
    ]


def test_no_footprints_are_no_patches() -> None:
    assert merge([], AROUND) == []


@pytest.mark.parametrize("cone", [CONE, FLAT])
def test_footprints_join_over_the_seam_of_a_cone(cone: Cone) -> None:
    before, after, far = (
        cone.footprint(*cone.to_plane(azimuth / 360, 2.0), 0.0, 0.0, 0.1) for azimuth in (358.5, 1.5, 180.0)
    )
    patches = merge([("before", before), ("far", far), ("after", after)], cone)
    assert [patch.ids for patch in patches] == [("before", "after"), ("far",)]


def test_a_patch_over_the_seam_of_a_cone_stands_upright_in_one_piece() -> None:
    shape, near = CONE.upright(CONE.footprint(*CONE.to_plane(0.0, 2.0), 0.0, 0.0, 0.1))
    assert shape.geom_type == "Polygon"
    assert shape.bounds == pytest.approx((-0.1, 1.9, 0.1, 2.1), abs=1e-4)
    assert near(*CONE.to_plane(0.0, 2.0)) == pytest.approx((0.0, 2.0))


def test_neighbours_of_a_flat_cones_seam_that_do_not_touch_stay_apart() -> None:
    one, other = (FLAT.footprint(*FLAT.to_plane(azimuth / 360, 10.0), 0.0, 0.0, 0.1) for azimuth in (1.0, 2.3))
    assert len(merge([("one", one), ("other", other)], FLAT)) == 2


def test_a_footprint_over_the_seam_of_a_cone_is_one_patch_of_its_whole_area() -> None:
    (patch,) = merge([("a", CONE.footprint(*CONE.to_plane(0.0, 2.0), 0.0, 0.0, 0.1))], CONE)
    assert patch.area == pytest.approx(0.04)


@pytest.mark.parametrize(
    ("footprints", "message"),
    [([("a", box(0, 0, 1, 1)), ("a", box(2, 0, 3, 1))], "an id twice"), ([("a", Polygon())], "footprint a is empty")],
)
def test_what_cannot_be_merged_is_refused(footprints: list, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        merge(footprints)


GRID = st.lists(
    st.tuples(st.integers(0, 8), st.integers(0, 8), st.integers(1, 3), st.integers(1, 3)), min_size=1, max_size=12
)


def components(shapes: list[Polygon]) -> set[frozenset[int]]:
    """Groups by shapely's exact predicates on whole-number boxes: a line or an area in common joins."""
    groups = [{index} for index in range(len(shapes))]
    for one in range(len(shapes)):
        for other in range(one):
            shared = shapes[one].intersection(shapes[other])
            if shared.length > 0:
                first = next(group for group in groups if one in group)
                second = next(group for group in groups if other in group)
                if first is not second:
                    groups.remove(second)
                    first |= second
    return {frozenset(group) for group in groups}


@given(GRID)
def test_merging_matches_exact_predicates(cells: list[tuple[int, int, int, int]]) -> None:
    shapes = [box(x, y, x + width, y + height) for x, y, width, height in cells]
    proposals = merge(list(enumerate(shapes)))
    assert {frozenset(proposal.ids) for proposal in proposals} == components(shapes)
    assert sum(proposal.area for proposal in proposals) == pytest.approx(shapely.union_all(shapes).area)


@given(GRID, st.integers(0, 15))
def test_where_the_seam_lies_does_not_matter(cells: list[tuple[int, int, int, int]], turn: int) -> None:
    period = 16

    def cut(x: int, y: int, width: int, height: int) -> Polygon | MultiPolygon:
        low = (y + turn) % period
        whole = box(x, low, x + width, low + height)
        below = whole.intersection(box(-1, 0, 99, period))
        above = shapely.transform(whole.intersection(box(-1, period, 99, 99)), lambda points: points - [0, period])
        return shapely.union_all([part for part in (below, above) if part.area])

    turned = merge(
        [(index, cut(*cell)) for index, cell in enumerate(cells)], Pipe(start=0, end=99, circumference=float(period))
    )
    shapes = [box(x, y, x + width, y + height) for x, y, width, height in cells]
    assert [proposal.ids for proposal in turned] == [proposal.ids for proposal in merge(list(enumerate(shapes)))]


# A guide specification of the UFGS 09 97 13.17 family, as an example: on a floor 1 % of the area or more than one spot
# per 200 m2 needing repair means strip and recoat. Seen in public copies.
FLOOR = RecoatRule(area_percent=1, count=1, per=200)


def test_few_small_spots_are_repaired_under_every_reading() -> None:
    answer = spot_or_recoat(FLOOR, RepairGround(600, 3, 0.01, 1.0, 2.0))
    assert answer.verdict == "spot repair"
    assert [reading.rule for reading in answer.readings] == ["area"] * 3 + ["count"] * 3


def test_an_area_limit_is_reached_at_equality() -> None:
    rule = RecoatRule(area_percent=1, area_basis="patch")
    assert spot_or_recoat(rule, RepairGround(600, 1, 0.1, 1, 6.0)).verdict == "recoat"
    assert spot_or_recoat(rule, RepairGround(600, 1, 0.1, 1, 5.9999)).verdict == "spot repair"


def test_a_silent_specification_is_answered_under_each_reading_of_area() -> None:
    answer = spot_or_recoat(RecoatRule(area_percent=1), RepairGround(100, 2, 0.1, 0.9, 1.3))
    assert answer.verdict == "depends on the reading"
    assert [(reading.reading, reading.recoat) for reading in answer.readings] == [
        ("area of the flaws", False),
        ("prepared area", False),
        ("area of the finished patches", True),
    ]


def test_a_count_is_over_its_limit_only_when_it_is_more() -> None:
    rule = RecoatRule(count=1, per=200, windows="exact")
    assert spot_or_recoat(rule, RepairGround(600, 3, 0, 0, 0)).verdict == "spot repair"
    assert spot_or_recoat(rule, RepairGround(600, 4, 0, 0, 0)).verdict == "recoat"


def test_a_small_zone_shows_how_the_count_rounds() -> None:
    answer = spot_or_recoat(RecoatRule(count=1, per=200), RepairGround(150, 1, 0, 0, 0))
    assert [(reading.reading, reading.recoat) for reading in answer.readings] == [
        ("zone as it is", True),
        ("windows rounded down", True),
        ("windows rounded up", False),
    ]
    assert answer.readings[2].arithmetic == "1 spots; 1 per 200 m² × 1.0000 is 1.0000: not more"


def test_one_rule_that_asks_for_a_recoat_under_every_reading_suffices() -> None:
    assert spot_or_recoat(FLOOR, RepairGround(600, 9, 0, 0, 0)).verdict == "recoat"


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({}, "a rule without a limit decides nothing"),
        ({"count": 1}, "count is 1 per None"),
        ({"area_percent": 0}, "area_percent is 0; it must be above 0"),
    ],
)
def test_a_rule_that_cannot_be_is_refused(given: dict[str, int], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        RecoatRule(**given)  # type: ignore[arg-type]


def test_there_is_no_answer_without_testable_area() -> None:
    with pytest.raises(ValueError, match="testable_m2 is 0"):
        spot_or_recoat(FLOOR, RepairGround(0, 0, 0, 0, 0))
