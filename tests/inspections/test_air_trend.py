"""The trend of the margin above the dew point. Oracle: numpy.polyfit of degree 1."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.air_trend import Measured, margin_trend

SIX = datetime(2031, 5, 14, 6, tzinfo=UTC)


def told(*pairs: tuple[float, float]) -> list[Measured]:
    return [Measured(SIX + timedelta(minutes=minutes), margin) for minutes, margin in pairs]


@given(
    st.lists(st.tuples(st.integers(0, 240), st.floats(-5, 20)), min_size=3, max_size=30, unique_by=lambda pair: pair[0])
)
def test_the_line_is_that_of_numpy(pairs: list[tuple[int, float]]) -> None:
    found = margin_trend(told(*pairs))
    assert found is not None
    last = max(minutes for minutes, _ in pairs)
    slope, fitted = np.polyfit([(minutes - last) / 60 for minutes, _ in pairs], [margin for _, margin in pairs], 1)
    assert (found.per_hour, found.fitted_c) == pytest.approx((slope, fitted), abs=1e-7)


def test_a_margin_that_falls_one_degree_an_hour_from_six_closes_an_hour_after_four() -> None:
    found = margin_trend(told((0, 6.0), (60, 5.0), (120, 4.0)))
    assert found is not None
    assert found.closes_at is not None
    assert abs(found.closes_at - (SIX + timedelta(hours=3))) < timedelta(seconds=1)


@pytest.mark.parametrize(
    "pairs", [[(0, 3.0), (60, 4.0), (120, 5.0)], [(0, 9.0), (60, 8.9), (120, 8.8)]], ids=["rising", "far away"]
)
def test_a_margin_that_does_not_close_within_four_hours_has_no_hour(pairs: list[tuple[float, float]]) -> None:
    found = margin_trend(told(*pairs))
    assert found is not None
    assert found.closes_at is None


def test_two_records_make_no_trend() -> None:
    assert margin_trend(told((0, 6.0), (60, 4.0))) is None


def test_records_of_more_than_four_hours_before_the_latest_are_left_out() -> None:
    found = margin_trend(told((0, 99.0), (300, 6.0), (360, 5.0), (420, 4.0)))
    assert found is not None
    assert (found.records, found.per_hour) == (3, pytest.approx(-1.0))


def test_a_falling_margin_that_is_below_already_is_closed_now() -> None:
    found = margin_trend(told((0, 4.0), (60, 3.0), (120, 2.0)))
    assert found is not None
    assert found.closes_at == found.latest


def test_records_of_one_moment_make_no_trend() -> None:
    assert margin_trend(told((0, 4.0), (0, 3.0), (0, 2.0))) is None


def test_a_margin_that_is_no_number_is_named() -> None:
    with pytest.raises(ValueError, match="margin_c is nan"):
        margin_trend(told((0, float("nan"))))
