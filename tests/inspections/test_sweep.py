"""Speed of sweeping: common practice of the trade, no source; the arithmetic is checked by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.sweep import implied_speed, is_too_fast, minutes_till_check, speed_question

NOON = datetime(2031, 5, 6, 12, tzinfo=UTC)


def test_the_implied_speed_is_area_by_width_and_time() -> None:
    # A lane of 30 m with an electrode of 0.5 m in 60 s is walked at 0.5 m/s.
    assert implied_speed(15, 0.5, 60) == pytest.approx(0.5)


def test_ground_swept_in_no_time_is_infinitely_fast() -> None:
    assert implied_speed(15, 0.5, 0) == inf


def test_exactly_the_limit_is_no_question() -> None:
    assert not is_too_fast(15, 100, 0.5, 0.3)
    assert is_too_fast(15, 99, 0.5, 0.3)


@given(st.floats(0.01, 1000), st.floats(0.05, 2), st.floats(0.05, 1))
def test_a_lane_walked_at_the_limit_is_never_asked_about(length: float, width: float, limit: float) -> None:
    assert not is_too_fast(length * width, length / limit, width, limit)


def test_the_question_says_what_was_done_and_what_is_possible() -> None:
    asked = speed_question(15, 60, 0.5, 0.3)
    assert asked is not None
    assert asked.least_s == pytest.approx(100)
    assert asked.sentence == (
        "15.0 m² in 1 min 0 s with an electrode of 0.5 m, that is 0.50 m/s or more. "
        "The limit is 0.3 m/s, so it takes at least 1 min 40 s. Was it swept too fast?"
    )


def test_times_that_are_possible_raise_no_question() -> None:
    assert speed_question(15, 101, 0.5, 0.3) is None


def test_a_swath_that_ended_before_it_began_is_asked_about() -> None:
    asked = speed_question(15, -5, 0.5, 0.3)
    assert asked is not None
    assert asked.sentence.startswith("15.0 m² in 0 s with an electrode of 0.5 m. ")


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ((-1, 60, 0.5, 0.3), "area_m2 is -1; it must be from 0 up"),
        ((15, 60, 0, 0.3), "electrode_width_m is 0; it must be above 0"),
        ((15, 60, 0.5, 0), "speed_limit_m_s is 0; it must be above 0"),
    ],
)
def test_what_cannot_be_is_refused_by_name(given: tuple[float, float, float, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        is_too_fast(*given)


def test_the_next_check_is_counted_from_the_previous_one() -> None:
    assert minutes_till_check(NOON, 60, NOON + timedelta(minutes=25)) == 35


def test_an_overdue_check_is_below_nothing() -> None:
    assert minutes_till_check(NOON, 60, NOON + timedelta(minutes=61)) == -1
