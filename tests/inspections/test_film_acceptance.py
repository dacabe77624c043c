"""Acceptance by single readings: ISO 19840 (from memory) and the 90/10 rule (IMO MSC.215(82))."""

from __future__ import annotations

from typing import Any

import pytest

from inspections.film_acceptance import correct_for_profile, judge_iso19840, judge_ninety_ten


def test_film_at_nominal_everywhere_is_accepted_with_its_arithmetic() -> None:
    found = judge_iso19840([200, 210, 220, 230, 190], 200, maximum_um=400, asked=5)
    assert found.verdict == "accepted"
    assert tuple(map(str, found.arithmetic)) == (
        "mean of 5 readings 210 µm, nominal 200 µm: kept",
        "0 below 80 % of nominal (160 µm), none allowed: kept",
        "1 of 5 below nominal, 1 allowed (20 %): kept",
        "0 above the maximum (400 µm), none allowed: kept",
    )


def test_a_mean_on_the_nominal_passes_and_below_it_does_not() -> None:
    # 199.9, 200.0 and 200.1 added as floating-point numbers need not make 600.
    assert judge_iso19840([199.9, 200.0, 200.1, 200.0, 200.0], 200).verdict == "accepted"
    assert judge_iso19840([199.8, 200.0, 200.1, 200.0, 200.0], 200).verdict == "not accepted"


def test_a_reading_at_80_percent_of_nominal_passes_and_below_it_does_not() -> None:
    assert judge_iso19840([160, 300, 300, 300, 300], 200).verdict == "accepted"
    found = judge_iso19840([159.9, 300, 300, 300, 300], 200)
    assert (found.verdict, found.low) == ("not accepted", (0,))


def test_a_fifth_of_the_readings_may_lie_below_nominal_and_no_more() -> None:
    assert judge_iso19840([190] * 2 + [300] * 8, 200).verdict == "accepted"
    assert judge_iso19840([190] * 3 + [300] * 8, 200).verdict == "not accepted"


def test_a_reading_above_the_specified_maximum_is_not_accepted() -> None:
    assert judge_iso19840([200, 600], 200, maximum_um=600).verdict == "accepted"
    found = judge_iso19840([200, 600.1], 200, maximum_um=600)
    assert (found.verdict, found.high) == ("not accepted", (1,))


def test_too_few_readings_are_not_judged() -> None:
    found = judge_iso19840([250] * 4, 200, asked=5)
    assert (found.verdict, tuple(map(str, found.missing))) == ("not judged", ("4 of 5 readings taken",))


def test_a_reading_no_later_one_can_heal_decides_at_once() -> None:
    assert judge_iso19840([100], 200, asked=5).verdict == "not accepted"


def test_a_low_mean_waits_for_the_readings_still_missing() -> None:
    assert judge_iso19840([190] * 4, 200, asked=5).verdict == "not judged"


@pytest.mark.parametrize(("profile", "corrected"), [("fine", 190), ("medium", 175), ("coarse", 160), ("unknown", 175)])
def test_the_profile_is_subtracted_from_each_reading(profile: str, corrected: float) -> None:
    # ISO 19840, from memory: 10, 25 and 40 um, and 25 um where the profile is unknown.
    assert correct_for_profile([200, 200.5], profile) == (corrected, corrected + 0.5)


def test_a_reading_thinner_than_the_profile_is_no_film_and_is_judged_so() -> None:
    found = judge_iso19840([30] + [400] * 9, 200, profile="coarse")
    assert (found.verdict, found.low) == ("not accepted", (0,))


def test_the_profile_can_turn_the_verdict_and_is_told() -> None:
    assert judge_iso19840([210] * 5, 200).verdict == "accepted"
    found = judge_iso19840([210] * 5, 200, profile="medium")
    assert found.verdict == "not accepted"
    assert str(found.arithmetic[0]) == "25 µm subtracted from each reading for a profile that is medium."


def test_nine_readings_of_ten_at_nominal_are_enough_and_eight_are_not() -> None:
    assert judge_ninety_ten([320] * 9 + [288]).verdict == "accepted"
    assert judge_ninety_ten([320] * 8 + [288] * 2).verdict == "not accepted"


def test_no_reading_may_lie_below_90_percent_of_nominal() -> None:
    found = judge_ninety_ten([320] * 9 + [287.9])
    assert (found.verdict, found.low) == ("not accepted", (9,))
    assert tuple(map(str, found.arithmetic)) == (
        "9 of 10 at 320 µm or more, 9 needed (90 %): kept",
        "1 below 90 % of nominal (288 µm), none allowed: not kept",
    )


def test_90_percent_of_eleven_readings_are_ten() -> None:
    assert judge_ninety_ten([320] * 10 + [300]).verdict == "accepted"
    assert judge_ninety_ten([320] * 9 + [300] * 2).verdict == "not accepted"


def test_the_90_10_rule_waits_for_the_readings_asked_for() -> None:
    assert judge_ninety_ten([320] * 9, asked=10).verdict == "not judged"
    assert judge_ninety_ten([100], asked=10).verdict == "not accepted"


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: judge_iso19840([], 200), "readings_um is empty; at least one reading is needed"),
        (lambda: judge_iso19840([-5], 200), "readings_um holds -5; a reading is a number from 0 um up"),
        (lambda: judge_iso19840([float("nan")], 200), "readings_um holds nan"),
        (lambda: judge_iso19840([200], 0), "nominal_um is 0; it must be above 0"),
        (
            lambda: judge_iso19840([200], 200, maximum_um=100),
            "maximum_um is 100; it must not be below the nominal, 200",
        ),
        (lambda: judge_iso19840([200], 200, profile="rough"), 'profile is "rough"; it must be one of: fine, medium'),
        (lambda: judge_ninety_ten([200], -1), "nominal_um is -1; it must be above 0"),
    ],
)
def test_what_cannot_be_judged_is_refused_by_name(call: Any, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
