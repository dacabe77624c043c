"""The allowed band of a test voltage and the outcome of a check, in whole volts."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.voltage import Band, check_outcome, check_tolerance, judge_setting, stated_band


def test_a_band_in_volts_is_the_stated_voltage_plus_and_minus_them() -> None:
    assert stated_band(3000, tolerance_volts=150) == Band(2850, 3150, 3000)


def test_a_band_in_percent_keeps_whole_volts_inside_it() -> None:
    # 5 % of 3325 V is 166.25 V: 3158.75 to 3491.25 V.
    assert stated_band(3325, tolerance_percent=5) == Band(3159, 3491, 3325)


def test_a_tenth_of_a_percent_is_exact() -> None:
    # 0.1 % of 9000 V is 9 V; floating point makes it a little more or less.
    assert stated_band(9000, tolerance_percent=0.1) == Band(8991, 9009, 9000)


@given(st.integers(1, 50_000), st.fractions(0, Fraction(99), max_denominator=100))
def test_every_setting_is_in_the_band_just_when_the_exact_one_allows_it(volts: int, percent: Fraction) -> None:
    band = stated_band(volts, tolerance_percent=percent)
    give = volts * percent / 100
    for setting in (band.low - 1, band.low, volts, band.high, band.high + 1):
        allowed = volts - give <= setting <= volts + give
        assert (judge_setting(band, setting) == "in") == allowed


@pytest.mark.parametrize(
    ("volts", "setting"), [(2849, "below"), (2850, "in"), (3000, "in"), (3150, "in"), (3151, "above")]
)
def test_the_ends_of_the_band_are_allowed(volts: int, setting: str) -> None:
    assert judge_setting(stated_band(3000, tolerance_percent=5), volts) == setting


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"stated_volts": 0, "tolerance_volts": 5}, "stated_volts is 0; it must be above 0"),
        ({"stated_volts": 3000}, "give tolerance_percent or tolerance_volts"),
        ({"stated_volts": 3000, "tolerance_volts": 5, "tolerance_percent": 5}, "one of the two"),
        ({"stated_volts": 3000, "tolerance_percent": 100}, "tolerance_percent is 100"),
        ({"stated_volts": 3000, "tolerance_percent": "five"}, "tolerance_percent is 'five'"),
        ({"stated_volts": 3000, "tolerance_volts": -1}, "tolerance_volts is -1"),
    ],
)
def test_a_band_that_cannot_be_is_refused_by_name(given: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        stated_band(**given)  # type: ignore[arg-type]


@pytest.mark.parametrize(("measured", "outcome"), [(2849, "low"), (2850, "good"), (3150, "good"), (3151, "high")])
def test_a_check_on_the_border_is_good(measured: int, outcome: str) -> None:
    assert check_outcome(3000, measured, 150) == outcome


@pytest.mark.parametrize("measured", [3000, 4000])
def test_a_check_without_the_alarm_on_the_bare_spot_failed_low_whatever_was_read(measured: int) -> None:
    assert check_outcome(3000, measured, 150, alarm_seen=False) == "low"


def test_a_tolerance_in_percent_never_allows_more_whole_volts_than_stated() -> None:
    assert check_tolerance(3325, 5) == 166
