"""Film judged by the specification's standard. Counts: SSPC-PA 2 public summaries and IMO MSC.215(82); ISO 19840 from memory."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from inspections.arithmetic import Line
from inspections.film_judgement import FilmJudgement, Measured, judge_film, limits
from inspections.gauge_standing import Checked, Held, doubts, outcome_of
from inspections.plausible_film import unit_question
from inspections.term_parts import Stage
from inspections.terms import Terms

AT = datetime(2031, 5, 6, 8, tzinfo=UTC)
STAGE = Stage("finished system", 320.0, 300.0, 500.0)
PA2 = Terms(
    "steel", "tank lining", (STAGE,), "visual", None, None, "", 240.0, 5.0, None, (),
    thickness_rule="SSPC-PA 2", thickness_level=3,
)  # fmt: skip
ISO = replace(PA2, thickness_rule="ISO 19840", thickness_level=None)
NINETY_TEN = replace(PA2, thickness_rule="90/10", thickness_level=None)


def spot(number: int, *readings: float, **given: Any) -> Measured:
    known: dict[str, Any] = {"correction_um": 0.0, "area": "", "shift": "", **given}
    x = known.pop("x", float(number))
    return Measured(
        str(number), f"spot {number}", x, 0.0, readings or (400.0,) * 3, at=AT + timedelta(minutes=number), **known
    )


def judged(terms: Terms, spots: list[Measured], m2: float, ends: tuple[float, float] = (0.0, 100.0)) -> FilmJudgement:
    found = judge_film(terms, STAGE, spots, m2, ends)
    assert found is not None
    return found


def lines(found: tuple[Line, ...]) -> list[str]:
    return [str(line) for line in found]


def test_without_a_standard_or_without_ground_nothing_is_judged() -> None:
    assert judge_film(replace(PA2, thickness_rule="", thickness_level=None), STAGE, [], 10.0, (0, 1)) is None
    assert judge_film(PA2, STAGE, [], 0.0, (0, 1)) is None


def test_250_square_metres_ask_for_five_area_measurements_of_five_spots() -> None:
    # SSPC-PA 2, public summaries: three for the first 100 m2, one for each further 100 m2 or part.
    found = judged(PA2, [spot(number) for number in range(25)], 250.0)
    assert (found.verdict, found.asked_areas, found.asked_readings, found.taken_areas) == ("accepted", 5, 75, 5)
    assert lines(found.asked) == ["250 m² coated in one shift asks for 5 area measurements of five spots"]


def test_customary_areas_are_counted_in_square_feet_and_not_converted() -> None:
    # 1000 ft2 ask for three, 1001 ft2 for four; 1000 ft2 are 92.9 m2, which metric counts as three as well.
    square_foot = 0.3048**2
    customary = replace(PA2, thickness_system="customary")
    assert judged(customary, [], 1000 * square_foot).asked_areas == 3
    assert judged(customary, [], 1001 * square_foot).asked_areas == 4


def test_spots_with_an_area_of_their_own_stand_together_and_the_rest_go_five_to_one() -> None:
    spots = [spot(number, area="north" if number % 2 else "") for number in range(10)]
    found = judged(PA2, spots, 20.0)
    assert [area.area for area in found.areas] == ["1", "north"]
    assert found.verdict == "accepted"


def test_each_shift_is_judged_by_its_own_measurements() -> None:
    spots = [spot(n, shift="Monday") for n in range(5)] + [
        spot(n, 200.0, 200.0, 200.0, shift="Tuesday") for n in range(5, 10)
    ]
    found = judged(replace(PA2, shift_area=10.0), spots, 20.0)
    assert [(area.area, area.verdict) for area in found.areas] == [
        ("Monday, 1", "accepted"),
        ("Tuesday, 1", "not accepted"),
    ]
    assert found.verdict == "not accepted"


def test_a_shift_without_a_spot_is_missing() -> None:
    found = judged(replace(PA2, shift_area=10.0), [spot(n, shift="Monday") for n in range(5)], 25.0)
    assert lines(found.missing) == [
        "shift 2: 0 of 1 area measurements taken",
        "shift 3: 0 of 1 area measurements taken",
    ]


def test_more_shifts_than_planned_share_the_surface_equally() -> None:
    spots = [spot(n, shift=f"day {n // 5}") for n in range(15)]
    found = judged(replace(PA2, shift_area=20.0), spots, 40.0)
    assert found.asked_areas == 6  # three shifts of 13.3 m2, two measurements each
    assert found.verdict == "not judged"


def test_the_correction_for_the_profile_is_subtracted_from_each_reading() -> None:
    found = judged(PA2, [spot(n, 310.0, 310.0, 310.0, correction_um=25.0) for n in range(5)], 10.0)
    assert found.areas[0].mean_um == 285.0
    assert (found.verdict, len(found.areas[0].outside)) == ("not accepted", 0)


def test_spots_taken_to_bound_a_failed_area_belong_to_no_measurement() -> None:
    spots = [spot(n) for n in range(5)] + [spot(9, 100.0, 100.0, 100.0, bounds=True)]
    found = judged(PA2, spots, 10.0)
    assert found.verdict == "accepted"
    assert lines(found.notes) == ["1 spot was taken to bound a failed area and belongs to no measurement"]


def test_a_spot_in_doubt_does_not_count_until_it_is_decided() -> None:
    (doubt,) = doubts("gauge G", AT, AT.date(), [], [])
    found = judged(PA2, [spot(n, doubts=(doubt,) if n == 2 else ()) for n in range(5)], 10.0)
    assert (found.verdict, found.doubtful) == ("not judged", 1)
    assert lines(found.missing) == ["area 1: 4 of 5 complete spots"]


def test_a_film_without_a_stated_minimum_cannot_be_judged_and_says_so() -> None:
    stage = Stage("finished system", 320.0, 0.0)
    found = judge_film(replace(PA2, stages=(stage,)), stage, [spot(1)], 10.0, (0, 1))
    assert found is not None
    assert lines(found.missing) == ["the specification states no minimum thickness for finished system"]


@pytest.mark.parametrize(("m2", "readings"), [(1, 5), (3, 10), (10, 15), (30, 20), (100, 30), (1000, 120)])
def test_iso_19840_asks_for_readings_by_area(m2: float, readings: int) -> None:
    # ISO 19840, from memory.
    assert judged(ISO, [], m2).asked_readings == readings


def test_iso_19840_divides_above_1000_square_metres_into_equal_parts_along_the_zone() -> None:
    spots = [spot(n, *([400.0] * 30), x=10.0) for n in range(4)]
    found = judged(ISO, spots, 1500.0)
    # two parts of 750 m2: 30 + 10 * 7 = 100 readings each
    assert (found.asked_areas, found.asked_readings) == (2, 200)
    assert [(area.area, area.verdict) for area in found.areas] == [("1", "accepted"), ("2", "not judged")]
    assert lines(found.missing) == ["part 2: 0 of 100 readings taken"]


def test_iso_19840_names_the_spots_that_hold_a_reading_below_80_percent() -> None:
    found = judged(ISO, [spot(1, 400.0, 255.9), spot(2, 400.0, 256.0)], 10.0)
    assert (found.verdict, found.areas[0].outside) == ("not accepted", ("1",))


def test_the_90_10_rule_asks_one_reading_for_every_5_square_metres() -> None:
    # IMO MSC.215(82), annex.
    found = judged(NINETY_TEN, [spot(n, 330.0) for n in range(8)], 42.0)
    assert (found.verdict, lines(found.missing)) == ("not judged", ["8 of 9 readings taken"])
    assert judged(NINETY_TEN, [spot(n, 330.0) for n in range(9)], 42.0).verdict == "accepted"


@pytest.mark.parametrize(("terms", "ends"), [(PA2, (240.0, 600.0)), (ISO, (256.0, 500.0)), (NINETY_TEN, (288.0, None))])
def test_what_a_spot_may_be_by_itself(terms: Terms, ends: tuple[float, float | None]) -> None:
    assert limits(terms, STAGE) == ends


# The gauge


GOOD = Checked("a", AT, "good", 250.0, 250.0, 5.0)
BAD = Checked("b", AT + timedelta(hours=4), "low", 250.0, 230.0, 5.0)
PAPERS = [Held(date(2031, 1, 1), date(2031, 12, 31))]


@pytest.mark.parametrize(("hours", "codes"), [(-1, []), (2, ["check failed later"]), (5, ["check failed before"])])
def test_spots_from_the_last_good_check_to_the_next_good_one_are_in_doubt_around_a_failed_check(
    hours: int, codes: list[str]
) -> None:
    at = AT + timedelta(hours=hours)
    assert [doubt.code for doubt in doubts("G", at, at.date(), [BAD, GOOD], PAPERS)] == codes


def test_a_good_check_ends_the_doubt() -> None:
    again = replace(GOOD, key="c", at=AT + timedelta(hours=6))
    at = AT + timedelta(hours=7)
    assert doubts("G", at, at.date(), [GOOD, BAD, again], PAPERS) == ()


def test_a_gauge_that_only_ever_failed_leaves_all_its_spots_in_doubt() -> None:
    at = AT - timedelta(days=30)
    assert [doubt.code for doubt in doubts("G", at, at.date(), [BAD], PAPERS)] == ["check failed later"]


def test_a_spot_of_a_day_without_certificate_is_in_doubt_and_the_last_day_still_counts() -> None:
    for day, codes in ((date(2031, 12, 31), []), (date(2032, 1, 1), ["no certificate"])):
        assert [doubt.code for doubt in doubts("G", AT - timedelta(hours=1), day, [GOOD], PAPERS)] == codes


@pytest.mark.parametrize(("measured", "outcome"), [(245.0, "good"), (255.0, "good"), (244.9, "low"), (255.1, "high")])
def test_a_check_on_the_border_of_its_tolerance_is_good(measured: float, outcome: str) -> None:
    assert outcome_of(250.0, measured, 5.0) == outcome


# The unit


def test_micrometres_that_would_fit_as_mils_are_asked_about() -> None:
    # 1 mil = 25.4 um (NIST SP 811).
    assert str(unit_question([12.0], "um", 300.0)) == (
        "12 µm is 4 % of the 300 µm asked for; 12 mil would be 304.8 µm: was it mil?"
    )


def test_mils_that_would_fit_as_micrometres_are_asked_about() -> None:
    assert "was it µm?" in str(unit_question([310.0 * 25.4], "mil", 300.0))


def test_thin_film_that_fits_in_no_other_unit_is_not_asked_about() -> None:
    assert unit_question([2.0], "um", 300.0) is None
    assert unit_question([250.0], "um", 300.0) is None
