"""Film thickness: spots, summary and acceptance. SSPC-PA 2 numbers from memory and public summaries."""

from __future__ import annotations

import statistics
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.thickness import (
    Level,
    Shift,
    Spot,
    areas_asked,
    judge_dft,
    judge_shifts,
    spot_mean,
    spot_range,
    summary,
)


def area(*means: float, name: str = "") -> list[Spot]:
    return [Spot(f"{name}{number}", (mean, mean, mean), name) for number, mean in enumerate(means, 1)]


def test_a_spot_is_complete_from_three_readings_on() -> None:
    assert spot_mean([250, 260]).complete is False
    assert spot_mean([250, 260, 255]) == (255, 3, True)


@pytest.mark.parametrize("readings", [[], [-1, 250, 250], [float("nan")] * 3])
def test_readings_that_cannot_be_are_refused(readings: Sequence[float]) -> None:
    with pytest.raises(ValueError, match="readings_um"):
        spot_mean(readings)


@given(st.lists(st.floats(0, 2000), min_size=2, max_size=200))
def test_percentiles_are_those_of_type_7(readings: list[float]) -> None:
    # Python's statistics module calls Hyndman and Fan's type 7 "inclusive".
    cuts = statistics.quantiles(readings, n=20, method="inclusive")
    found = summary(readings)
    assert (found.p5_um, found.p50_um, found.p95_um) == pytest.approx((cuts[0], cuts[9], cuts[18]))


def test_a_summary_tells_mean_and_extremes() -> None:
    found = summary([300, 200, 250])
    assert (found.readings, found.mean_um, found.least_um, found.most_um) == (3, 250, 200, 300)


@pytest.mark.parametrize(
    ("surface", "asked"), [(8, 1), (10, 1), (10.1, 2), (30, 3), (31, 3), (100, 3), (100.1, 4), (200, 4), (412, 7)]
)
def test_number_of_area_measurements(surface: float, asked: int) -> None:
    assert areas_asked(surface) == asked


def test_an_area_within_its_range_is_accepted() -> None:
    found = judge_dft(area(310, 320, 330, 340, 350), 300, 500)
    assert found.verdict == "accepted"
    assert found.areas[0].mean_um == 330
    assert tuple(map(str, found.areas[0].arithmetic)) == (
        "mean of 5 spots 330 µm, within 300 µm to 500 µm",
        "all 5 spots within 240 µm to 600 µm",
    )


def with_one_spot_at(spot: float) -> list[Spot]:
    """Five spots whose mean is 400 um."""
    rest = (2000 - spot) / 4
    return area(spot, rest, rest, rest, rest)


@pytest.mark.parametrize(("level", "low"), [(1, 300), (2, 300), (3, 240), (4, 240), (5, 240)])
def test_a_spot_may_reach_its_levels_share_of_the_minimum_and_no_less(level: Level, low: float) -> None:
    assert judge_dft(with_one_spot_at(low), 300, 500, level).verdict == "accepted"
    assert judge_dft(with_one_spot_at(low - 0.1), 300, 500, level).verdict == "not accepted"


@pytest.mark.parametrize(("level", "high"), [(1, 500), (2, 600), (3, 600), (4, 750)])
def test_a_spot_may_reach_its_levels_share_of_the_maximum_and_no_more(level: Level, high: float) -> None:
    assert judge_dft(with_one_spot_at(high), 300, 500, level).verdict == "accepted"
    assert judge_dft(with_one_spot_at(high + 0.1), 300, 500, level).verdict == "not accepted"


def test_level_5_knows_no_maximum_for_spot_or_area_mean() -> None:
    assert judge_dft(area(5000, 400, 400, 400, 400), 300, 500, 5).verdict == "accepted"


def test_the_area_mean_passes_on_the_border() -> None:
    # 299.9, 300.0 and 300.1 added as floating-point numbers miss 900 by a hair.
    spots = [Spot(number, (299.9, 300.0, 300.1)) for number in range(5)]
    assert judge_dft(spots, 300, 500).verdict == "accepted"


def test_an_area_mean_below_the_minimum_is_not_accepted_though_every_spot_is_allowed() -> None:
    found = judge_dft(area(290, 290, 290, 290, 290), 300, 500)
    assert found.verdict == "not accepted"
    assert str(found.areas[0].arithmetic[0]) == "mean of 5 spots 290 µm, outside 300 µm to 500 µm"


def test_a_thin_spot_is_named() -> None:
    found = judge_dft(area(200, 400, 400, 400, 400), 300, 500)
    assert found.verdict == "not accepted"
    assert "spot 1 200 µm, outside 240 µm to 600 µm" in map(str, found.areas[0].against)
    assert found.areas[0].outside == ("1",)


def test_fewer_than_five_complete_spots_are_not_judged() -> None:
    spots = [*area(400, 400, 400, 400), Spot("short", (100, 100))]
    found = judge_dft(spots, 300, 500)
    assert found.verdict == "not judged"
    assert tuple(map(str, found.missing)) == ("area 1: 4 of 5 complete spots (1 with under three readings)",)


def test_incomplete_spots_do_not_count_against_the_film() -> None:
    assert judge_dft([*area(400, 400, 400, 400, 400), Spot("short", (100, 100))], 300, 500).verdict == "accepted"


def test_areas_asked_for_and_not_taken_are_missing() -> None:
    found = judge_dft(area(400, 400, 400, 400, 400, name="A"), 300, 500, areas=3)
    assert found.verdict == "not judged"
    assert tuple(map(str, found.missing)) == ("1 of 3 area measurements taken",)


def test_a_thick_area_does_not_make_up_for_a_thin_one() -> None:
    spots = [*area(500, 500, 500, 500, 500, name="A"), *area(290, 290, 290, 290, 290, name="B")]
    found = judge_dft(spots, 300, 500)
    assert found.verdict == "not accepted"
    assert [result.verdict for result in found.areas] == ["accepted", "not accepted"]


def test_without_a_specified_maximum_no_film_is_too_thick() -> None:
    assert judge_dft(area(3000, 3000, 3000, 3000, 3000), 300, None).verdict == "accepted"


@pytest.mark.parametrize(
    ("minimum", "maximum", "level", "message"),
    [
        (0, 500, 3, "minimum is 0 um"),
        (300, 200, 3, "maximum is 200 um; it must not be below the minimum, 300 um"),
        (300, 500, 6, "level is 6; it must be 1, 2, 3, 4 or 5"),
    ],
)
def test_a_range_that_cannot_be_is_refused_by_name(minimum: float, maximum: float, level: Level, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        judge_dft([], minimum, maximum, level)


FULL = tuple(area(400, 400, 400, 400, 400))
THIN = tuple(area(290, 290, 290, 290, 290))


def test_each_shift_is_judged_by_its_own_area_measurements() -> None:
    whole, by_shift = judge_shifts([Shift("Monday", 1, FULL), Shift("Tuesday", 1, THIN)], 300, 500)
    assert (whole.verdict, by_shift["Monday"].verdict, by_shift["Tuesday"].verdict) == (
        "not accepted",
        "accepted",
        "not accepted",
    )
    assert [result.area for result in whole.areas] == ["Monday", "Tuesday"]


def test_what_one_shift_lacks_keeps_the_whole_from_being_judged() -> None:
    whole, _ = judge_shifts([Shift("Monday", 1, FULL), Shift("Tuesday", 2, FULL)], 300, 500)
    assert whole.verdict == "not judged"
    assert tuple(map(str, whole.missing)) == ("shift Tuesday: 1 of 2 area measurements taken",)


def test_every_shift_accepted_is_the_whole_accepted() -> None:
    whole, _ = judge_shifts([Shift("Monday", 1, FULL), Shift("Tuesday", 1, FULL)], 300, 500)
    assert whole.verdict == "accepted"


@pytest.mark.parametrize("names", [[], ["Monday", "Monday"]])
def test_shifts_absent_or_of_one_name_are_refused(names: list[str]) -> None:
    with pytest.raises(ValueError, match="they must be one or more, each with its own name"):
        judge_shifts([Shift(name, 1, FULL) for name in names], 300, 500)


def test_without_a_maximum_the_range_of_a_spot_has_none() -> None:
    assert spot_range(300, None, 3) == (240, None)
