"""Which questions are asked of a run and of readings: worked examples by hand, borders, order, keys that stay."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.course import Air, Change, Course, LaneSaid, Reading, SpotRead, Swept
from inspections.odd_readings import sun_on
from inspections.permits import PermitFact
from inspections.plausibility import questions_of, questions_on_readings
from inspections.questions import KINDS, Question, arithmetic_of, code_of, key_of, sentence_of, source_of

START = datetime(2025, 5, 6, 8, 0, tzinfo=UTC)


def at(minutes: float) -> datetime:
    return START + timedelta(minutes=minutes)


def swath(name: str, start: float, end: float, area: float = 0.0, **more: Any) -> Swept:
    given: dict[str, Any] = {"order": int(end * 10), "stands": True, **more}
    return Swept(name, f"1+{name}", at(start), at(end), area=area, **given)


def course(*swept: Swept, **more: Any) -> Course:
    """A closed run of eight hours with a 0.3 m electrode, a limit of 0.3 m/s, and air measured all along."""
    given: dict[str, Any] = {
        "electrical": True,
        "opened_at": at(0),
        "closed_at": at(600),
        "electrode": 0.3,
        "speed_limit": 0.3,
        "airs": tuple(Air(f"air {hour}", at(60 * hour), 15.0, (15.0,)) for hour in range(0, 40, 2)),
        **more,
    }
    return Course("run", swept=swept, **given)


def asked(course: Course) -> list[str]:
    return [question.code for question in questions_of(course)]


def only(questions: list[Question]) -> Question:
    (question,) = questions
    return question


# Speed. By hand: 12 m2 with an electrode of 0.3 m at 0.3 m/s take at least 12 / (0.3 * 0.3) = 133.3 s.


def test_twelve_square_metres_take_a_brush_of_0_3_m_at_least_133_seconds() -> None:
    question = only(questions_of(course(swath("100", 0, 2, 12.0))))
    assert question.code == "ground_speed"
    assert question.figures["least"].value == pytest.approx(133.33, abs=0.01)
    assert sentence_of(question) == (
        "1+100: 12.0 m² in 2 min with an electrode of 0.3 m; at the limit of 0.30 m/s it takes at least 2 min 13 s. "
        "Was it swept too fast?"
    )
    assert arithmetic_of(question) == "12.0 m² / (0.3 m × 0.30 m/s) = 2 min 13 s. Speed that 2 min takes: 0.33 m/s."


def test_ground_swept_in_just_the_least_possible_time_is_not_asked_about() -> None:
    assert asked(course(swath("100", 0, 5 / 3, 9.0))) == []  # 9 / 0.09 = 100 s


def test_ground_swept_in_no_time_needs_a_speed_that_nobody_has() -> None:
    question = only(questions_of(course(swath("100", 3, 3, 1.0))))
    assert arithmetic_of(question).endswith("Speed that 0 s takes: none would do.")


def test_a_weld_takes_its_length_over_the_speed() -> None:
    """By hand: 9 m at 0.3 m/s take 30 s."""
    question = only(questions_of(course(swath("W-1", 0, 0.25, length=9.0))))
    assert (question.code, question.figures["least"].value) == ("feature_speed", pytest.approx(30.0))
    assert asked(course(swath("W-1", 0, 0.5, length=9.0))) == []


def test_the_limit_is_the_specifications() -> None:
    assert asked(course(swath("100", 0, 2, 12.0), speed_limit=0.4)) == []


def test_two_swaths_that_share_the_clock_take_their_times_one_after_the_other() -> None:
    """By hand: 9 m2 take 100 s each, 200 s together; the clock had 150 s."""
    first, second = swath("100", 0, 2, 9.0), swath("200", 0.5, 2.5, 9.0)
    question = only(questions_of(course(first, second)))
    assert (question.code, question.about) == ("together_speed", ("100", "200"))
    assert question.figures["least"].value == pytest.approx(200.0)
    assert question.figures["taken"].value == pytest.approx(150.0)


def test_times_that_overlap_by_less_than_there_is_to_spare_are_not_asked_about() -> None:
    assert asked(course(swath("100", 0, 5, 9.0), swath("200", 4.5, 9, 9.0))) == []


def test_a_swath_that_is_a_question_itself_is_not_asked_about_again_with_others() -> None:
    assert asked(course(swath("100", 0, 1, 9.0), swath("200", 0, 2, 9.0))) == ["ground_speed"]


def test_a_visual_run_is_not_asked_how_fast_it_went() -> None:
    assert asked(course(swath("100", 0, 0, 12.0), electrical=False, electrode=None)) == []


# Lanes. By hand: a ring of 3.83 m takes ceil(3.83 / (0.45 - 0.03)) = 10 lanes of 0.45 m with an overlap of 0.03 m;
# 9 lanes overlap by 0.45 - 3.83 / 9 = 0.0244 m.


def in_lanes(of: int, across: float = 3.83, closed: bool = True, **more: Any) -> Course:
    lanes = [
        swath(str(number), 20 * number, 20 * number + 19, 4.5, lane=LaneSaid(number, of, 0.45, across, closed))
        for number in range(1, of + 1)
    ]
    return course(*lanes, electrode=0.45, **more)


def test_lanes_that_overlap_less_than_asked_are_asked_about() -> None:
    question = only(questions_of(in_lanes(9, overlap=0.03)))
    assert question.code == "lanes_few"
    assert question.figures["overlap"].value == pytest.approx(0.02444, abs=1e-5)
    assert question.figures["needed"].value == 10


def test_as_many_lanes_as_the_overlap_takes_are_no_question() -> None:
    assert asked(in_lanes(10, overlap=0.03)) == []


def test_more_lanes_than_the_width_needs_are_asked_about() -> None:
    """By hand: a panel 2 m wide takes ceil(2 / 0.45) = 5 lanes without overlap; 6 overlap by (6 * 0.45 - 2) / 5 = 0.14 m."""
    question = only(questions_of(in_lanes(6, across=2.0, closed=False)))
    assert question.code == "lanes_many"
    assert question.figures["overlap"].value == pytest.approx(0.14)
    assert arithmetic_of(question) == "(6 × 0.45 m − 2 m) / (6 − 1) = 0.14 m"


def test_more_lanes_of_the_same_division_leave_the_question_the_same() -> None:
    whole = in_lanes(9, overlap=0.03)
    half = replace(whole, swept=whole.swept[:4])
    assert [question.key for question in questions_of(half)] == [question.key for question in questions_of(whole)]


def test_a_lane_wider_than_the_electrode_is_asked_about() -> None:
    wide = swath("1", 0, 60, 4.5, lane=LaneSaid(1, 1, 0.9, 0.9, False))
    assert asked(course(wide, electrode=0.45)) == ["wide_lane"]


def test_what_stands_and_is_marked_again_in_the_same_run_is_asked_about() -> None:
    first = swath("100", 0, 10, 4.5)
    again = replace(first, id="again", started_at=at(10), ended_at=at(20), order=200)
    question = only(questions_of(course(first, again)))
    assert (question.code, question.about) == ("swept_again", ("again",))


def test_ground_that_was_lost_is_swept_again_without_a_question() -> None:
    first = swath("100", 0, 10, 4.5, stands=False)
    assert asked(course(first, replace(first, id="again", started_at=at(10), ended_at=at(20), order=200))) == []


# Battery, permit, checks, clock


def test_more_than_eight_hours_on_one_battery_are_asked_about() -> None:
    assert asked(course(swath("100", 0, 8 * 60, 1.0))) == []
    question = only(questions_of(course(swath("100", 0, 8 * 60 + 45, 1.0))))
    assert (question.code, question.figures["taken"].value) == ("battery", 31500.0)


def test_a_change_of_battery_begins_the_eight_hours_anew() -> None:
    long = swath("100", 0, 12 * 60, 1.0)
    assert asked(course(long, batteries=(Change("b", at(6 * 60)),))) == []
    assert asked(course(long, batteries=(Change("b", at(60)),))) == ["battery"]


PERMIT = PermitFact("permit", "hot work permit 7", at(0), at(120))


def test_swaths_after_the_permit_ran_out_are_asked_about_together() -> None:
    swept = swath("100", 0, 60, 1.0), swath("200", 100, 121, 1.0), swath("300", 121, 150, 1.0)
    question = only(questions_of(course(*swept, permits=(PERMIT,))))
    assert question.code == "after_permit"
    assert set(question.about) == {"permit", "200", "300"}


def test_a_renewal_counts() -> None:
    renewed = PermitFact("more", "hot work permit 8", at(110), at(300), renews="permit")
    assert asked(course(swath("200", 100, 200, 1.0), permits=(PERMIT, renewed))) == []


def test_another_swath_after_the_permit_is_another_question() -> None:
    one = course(swath("200", 100, 121, 1.0), permits=(PERMIT,))
    two = replace(one, swept=(*one.swept, swath("300", 121, 150, 1.0)))
    assert only(questions_of(one)).key != only(questions_of(two)).key


def checks(*measured: int | None) -> tuple[Reading, ...]:
    return tuple(Reading(f"c{place}", at(60 * place), 600 * place, volts) for place, volts in enumerate(measured))


def test_three_checks_in_a_row_with_the_same_reading_are_asked_about() -> None:
    question = only(questions_of(course(checks=checks(2490, 2510, 2510, 2510, 2480))))
    assert (question.code, question.about) == ("same_checks", ("run",))
    assert [question.figures[name].value for name in ("count", "volts")] == [3, 2510]


def test_a_steady_detector_is_asked_about_once_a_run_and_the_answer_stays() -> None:
    early = only(questions_of(course(checks=checks(2510, 2510, 2510))))
    late = only(questions_of(course(checks=checks(2510, 2510, 2510, 2500, 2490, 2490, 2490, 2490))))
    assert late.key == early.key
    assert late.figures["count"].value == 4


def test_checks_of_the_sensitivity_alarm_at_the_same_resistor_without_a_question() -> None:
    assert asked(course(checks=checks(None, None, None, None))) == []


def test_two_checks_with_the_same_reading_are_no_question() -> None:
    assert asked(course(checks=checks(2510, 2510, 2490, 2510))) == []


def test_a_clock_that_goes_back_by_more_than_a_minute_is_asked_about() -> None:
    first, second = swath("100", 0, 60, 1.0, order=1), swath("200", 20, 40, 1.0, order=2)
    question = only(questions_of(course(first, second)))
    assert (question.code, question.figures["back"].value) == ("clock_back", 1200.0)


def test_times_edited_by_hand_do_not_set_the_clock_back() -> None:
    first, second = swath("100", 0, 60, 1.0, order=1), swath("200", 20, 40, 1.0, order=2, hand_timed=True)
    assert asked(course(first, second)) == []


def test_a_check_written_down_afterwards_does_not_set_the_clock_back() -> None:
    late = Reading("late", at(20), 2, 2510, hand_timed=True)
    assert asked(course(swath("100", 0, 60, 1.0, order=1), checks=(late,))) == []
    assert asked(course(swath("100", 0, 60, 1.0, order=1), checks=(late._replace(hand_timed=False),))) == ["clock_back"]


# Air, steel, thickness


def test_a_run_without_air_and_steel_is_asked_whether_they_were_measured() -> None:
    assert asked(course(swath("100", 0, 60, 1.0), airs=())) == ["air_missing"]


def test_air_and_steel_from_before_the_four_hours_are_none() -> None:
    early = (Air("early", at(-241), 15.0, (15.0,)),)
    assert asked(course(swath("100", 0, 60, 1.0), airs=early)) == ["air_missing"]


def test_a_swath_more_than_four_hours_after_the_air_was_measured_is_asked_about() -> None:
    airs = (Air("morning", at(0), 15.0, (15.0,)), Air("evening", at(420), 15.0, (15.0,)))
    swept = swath("100", 200, 240, 1.0), swath("200", 240, 241, 0.1), swath("300", 300, 360, 1.0)
    question = only(questions_of(course(*swept, airs=airs)))
    assert (question.code, question.about) == ("air_old", ("200",))


def test_steel_warmer_than_the_air_is_asked_about_only_where_no_sun_was() -> None:
    noon = Air("noon", at(0), 15.0, (14.0, 18.5))
    assert questions_on_readings([noon], []) == []
    question = only(questions_on_readings([noon._replace(sun=False, inside=True)], []))
    assert sentence_of(question) == (
        "On 2025-05-06 08:00 the steel was 18.5 °C and the air 15 °C: 3.5 °C warmer inside, where no sun gets. What warmed it?"
    )


def test_steel_less_than_a_degree_warmer_is_no_question() -> None:
    assert questions_on_readings([Air("night", at(0), 15.0, (15.9,), sun=False)], []) == []


@pytest.mark.parametrize(
    ("hour", "inside", "sun"), [(12, False, None), (12, True, False), (23, False, False), (4, False, None)]
)
def test_sun_is_ruled_out_inside_and_at_night_and_else_not_known(hour: int, inside: bool, sun: bool | None) -> None:
    assert sun_on(START.replace(hour=hour), inside=inside) is sun


def spot(name: str, minutes: float, *readings: str) -> SpotRead:
    return SpotRead(name, f"1+{name}", at(minutes), readings)


def test_a_spot_whose_readings_are_alike_to_the_digit_is_asked_about() -> None:
    spots = [spot("100", 0, "512 µm", "512 µm", "512 µm"), spot("200", 1, "512 µm", "512 µm", "513 µm")]
    question = only(questions_on_readings([], spots))
    assert (question.code, question.about) == ("same_film", ("100",))


def test_several_such_spots_are_one_question() -> None:
    spots = [spot("100", 0, *["512 µm"] * 3), spot("200", 1, "500 µm", "510 µm"), spot("300", 2, *["507 µm"] * 3)]
    question = only(questions_on_readings([], spots))
    assert question.about == ("100", "300")
    assert sentence_of(question) == "2 spots have readings that are all alike: 1+100, 1+300. Were they all taken?"


@pytest.mark.parametrize(("reading", "asked"), [("20 mil", 0), ("20,1 mil", 1), ("0.51 mm", 0), ("0.512 mm", 1)])
def test_readings_told_coarsely_are_alike_without_a_question(reading: str, asked: int) -> None:
    """By hand: the last digit of 20 mil is worth 5 % of it, of 20.1 mil 0.498 %."""
    assert len(questions_on_readings([], [spot(str(place), place, *[reading] * 3) for place in range(4)])) == asked


def test_coarse_readings_that_repeat_a_pattern_are_asked_about() -> None:
    spots = [spot(str(place), place, "20 mil", "21 mil", "20 mil") for place in range(3)]
    assert only(questions_on_readings([], spots)).code == "same_film"


def test_three_spots_in_a_row_with_the_same_readings_are_one_question() -> None:
    spots = [spot(name, place, "498 µm", "512 µm", "507 µm") for place, name in enumerate(("100", "200", "300"))]
    assert only(questions_on_readings([], spots)).about == ("100", "200", "300")


def test_single_readings_that_agree_now_and_then_are_no_question() -> None:
    assert questions_on_readings([], [spot(str(place), place, "512 µm") for place in range(5)]) == []


# Order and keys


@given(st.randoms(use_true_random=False))
def test_the_order_of_the_rows_does_not_matter(random: random.Random) -> None:
    whole = replace(
        in_lanes(9, overlap=0.03),
        checks=checks(2510, 2510, 2510),
        permits=(PERMIT,),
        batteries=(Change("b", at(5)), Change("d", at(9))),
    )
    mixed = replace(
        whole,
        **{name: tuple(random.sample(rows, len(rows)))
           for name in ("swept", "checks", "permits", "batteries", "airs") if (rows := list(getattr(whole, name)))},
    )  # fmt: skip
    assert questions_of(mixed) == questions_of(whole)


def test_a_key_is_the_code_and_the_rows_whatever_their_order() -> None:
    assert key_of("battery", ["b", "a"]) == key_of("battery", ["a", "b"]) != key_of("battery", ["a"])
    assert key_of("battery", ["a"]) != key_of("same_checks", ["a"])


def test_a_key_that_no_question_can_have_names_no_code() -> None:
    good = key_of("battery", ["a"])
    assert code_of(good) == "battery"
    assert [code_of(text) for text in ("", "battery", good[:-1], good.replace("battery", "charger"))] == [None] * 4


def test_a_question_of_an_unknown_code_names_those_there_are() -> None:
    with pytest.raises(ValueError, match="'charger' is not one of: ground_speed"):
        key_of("charger", [])


@pytest.mark.parametrize("code", KINDS)
def test_every_kind_says_what_it_rests_on_and_how_well_that_is_known(code: str) -> None:
    question = Question(code, key_of(code, []), None, (), START, "", "", {})
    assert source_of(question).endswith(
        ("(by the specification)", "(common practice, no source)", "(our own choice, no source)")
    )
