"""Dew point and whether work may go on, against published tables and formulas."""

from __future__ import annotations

from math import exp, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.atmosphere import FAHRENHEIT, dew_point, humidity_from_wet_bulb, work_may_go_on


@pytest.mark.parametrize(
    ("air", "humidity", "dew"),
    # Dew point table reprinted with DIN 4108-3, to 0.1 degC; values from memory.
    [(20, 50, 9.3), (20, 60, 12.0), (20, 80, 16.4), (25, 50, 13.9), (25, 70, 19.1), (30, 60, 21.4), (10, 80, 6.7)],
)
def test_dew_point_matches_the_published_table(air: float, humidity: float, dew: float) -> None:
    assert dew_point(air, humidity).celsius == pytest.approx(dew, abs=0.1)


@given(st.floats(1, 45), st.floats(30, 100))
def test_dew_point_over_water_matches_the_magnus_formula(air: float, humidity: float) -> None:
    # WMO-No. 8 (CIMO guide), annex on formulas: 17.62 and 243.12 over water; coefficients from memory.
    found = dew_point(air, humidity)
    gamma = log(humidity / 100) + 17.62 * air / (243.12 + air)
    if found.over == "water":
        assert found.celsius == pytest.approx(243.12 * gamma / (17.62 - gamma), abs=0.06)


@given(st.floats(-40, -0.1), st.floats(30, 100))
def test_frost_point_below_zero_matches_the_magnus_formula_over_ice(air: float, humidity: float) -> None:
    # WMO-No. 8 (CIMO guide), annex on formulas: 22.46 and 272.62 over ice; coefficients from memory.
    found = dew_point(air, humidity)
    gamma = log(humidity / 100) + 22.46 * air / (272.62 + air)
    assert (found.over, found.humidity_over) == ("ice", "ice")
    assert found.celsius == pytest.approx(272.62 * gamma / (22.46 - gamma), abs=0.06)


def test_air_above_zero_may_have_a_frost_point() -> None:
    found = dew_point(5, 50)
    assert (found.over, found.humidity_over) == ("ice", "water")
    # Vapour pressure 50 % of 6.112 exp(17.62*5/248.12) hPa, saturated over ice (Magnus, as above).
    vapour = 0.5 * exp(17.62 * 5 / 248.12)
    assert found.celsius == pytest.approx(272.62 * log(vapour) / (22.46 - log(vapour)), abs=0.06)


@given(st.floats(-40, 50), st.floats(1, 100))
def test_the_dew_point_is_never_above_the_air(air: float, humidity: float) -> None:
    assert dew_point(air, humidity).celsius <= air


@pytest.mark.parametrize(
    ("air", "wet", "humidity"),
    # Sling psychrometer tables at sea level, whole percents; values from memory.
    [(20, 15, 59), (25, 20, 63), (30, 25, 67), (10, 10, 100)],
)
def test_humidity_from_a_wet_bulb_matches_psychrometer_tables(air: float, wet: float, humidity: float) -> None:
    assert humidity_from_wet_bulb(air, wet) == pytest.approx(humidity, abs=1)


def test_work_may_go_on_with_warm_steel_in_dry_air() -> None:
    found = work_may_go_on(20, 60, [17.5, 16.0, 18.0])
    assert found.may_go_on
    assert found.coldest_steel_c == 16.0
    assert found.margin_c == pytest.approx(4.0, abs=0.1)
    assert found.notes() == ("The dew point is over water.",)


def test_the_coldest_steel_reading_counts() -> None:
    found = work_may_go_on(20, 60, [25, 25, 14.0])
    assert not found.may_go_on
    assert found.reasons() == (
        "The coldest steel (14.0 °C) is 1.99 °C above the dew point (12.0 °C); at least 3 °C is asked.",
    )


def test_a_reader_of_fahrenheit_is_told_temperatures_and_differences_in_it() -> None:
    # degF = 1.8 degC + 32, a difference only times 1.8: NIST SP 811 (2008), appendix B.
    assert work_may_go_on(20, 60, [14.0]).reasons(FAHRENHEIT) == (
        "The coldest steel (57.2 °F) is 3.59 °F above the dew point (53.6 °F); at least 5.4 °F is asked.",
    )
    assert work_may_go_on(-5, 60, [5]).notes(FAHRENHEIT)[0] == "Below 32 °F humidity is taken relative to ice."


def test_the_margin_is_inclusive() -> None:
    dew = dew_point(20, 60).celsius
    assert work_may_go_on(20, 60, [dew + 3], least_margin_c=(dew + 3) - dew).may_go_on


@pytest.mark.parametrize(("humidity", "may"), [(85, True), (85.1, False)])
def test_humidity_of_85_percent_is_allowed_and_more_is_not(humidity: float, may: bool) -> None:
    # IMO MSC.215(82): not above 85 %.
    assert work_may_go_on(20, humidity, [25]).may_go_on is may


def test_without_a_steel_reading_work_may_not_go_on() -> None:
    assert work_may_go_on(20, 60, []).reasons() == ("No steel temperature was read.",)


def test_steel_below_the_dew_point_is_wet() -> None:
    assert work_may_go_on(20, 60, [10]).reasons() == (
        "The coldest steel (10.0 °C) is below the dew point (12.0 °C): it is wet.",
    )


def test_below_zero_the_screen_is_told_that_humidity_is_over_ice() -> None:
    assert work_may_go_on(-5, 60, [5]).notes() == (
        "Below 0 °C humidity is taken relative to ice.",
        "Shown is the frost point, over ice.",
    )


@pytest.mark.parametrize(
    ("air", "humidity", "steel", "message"),
    [
        (20, 0, [20], "humidity_percent is 0; it must be above 0 and at most 100"),
        (20, 101, [20], "humidity_percent is 101"),
        (200, 50, [20], "air_c is 200; it must be from -60 to 80 degC"),
        (20, 50, [500], "steel_c holds 500"),
    ],
)
def test_what_cannot_be_is_refused_by_name(air: float, humidity: float, steel: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        work_may_go_on(air, humidity, steel)


@pytest.mark.parametrize(("wet", "message"), [(26, "must not be above the air"), (2, "too far below 25 degC")])
def test_a_wet_bulb_that_cannot_be_is_refused(wet: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        humidity_from_wet_bulb(25, wet)
