"""Physics beside the voltage. Sources: Kuffel, Zaengl, Kuffel, High Voltage Engineering: Fundamentals, from memory."""

from __future__ import annotations

from math import inf, nan, sqrt
from typing import Any

import pytest

from inspections.physics import film_strength, least_spark, spark_over


@pytest.mark.parametrize(
    ("gap_um", "kilovolts"),
    [
        # V = 24.36 pd + 6.72 sqrt(pd) worked by hand at 1 bar and 20 degC.
        (10_000, 24.36 + 6.72),
        (1000, 2.436 + 6.72 * sqrt(0.1)),
        (400, 0.9744 + 6.72 * 0.2),
    ],
)
def test_an_air_gap_sparks_over_as_published(gap_um: float, kilovolts: float) -> None:
    assert spark_over(gap_um, pressure_bar=1).volts == pytest.approx(1000 * kilovolts)


def test_a_centimetre_of_air_sparks_over_at_about_30_kv() -> None:
    # Common handbook value: air at sea level breaks down at about 30 kV/cm.
    assert spark_over(10_000).volts == pytest.approx(30_000, rel=0.06)


def test_thin_air_sparks_over_earlier() -> None:
    high, sea = spark_over(1000, pressure_bar=0.8).volts, spark_over(1000).volts
    assert high is not None
    assert sea is not None
    assert high < sea


def test_warm_air_counts_as_thinner_air() -> None:
    # 293/(273 + 79.6) of the pressure: the same as 0.831 bar at 20 degC.
    warm = spark_over(1000, pressure_bar=1, air_c=79.6).volts
    assert warm == pytest.approx(spark_over(1000, pressure_bar=293 / 352.6).volts)


def test_below_a_hundredth_of_a_bar_cm_there_is_no_figure() -> None:
    found = spark_over(99, pressure_bar=1)
    assert found.volts is None
    assert found.words == (
        "No figure: pd is 0.0099 bar·cm, and the formula holds above about 0.01 bar·cm (100 µm in this air)."
    )


def test_at_a_hundredth_of_a_bar_cm_there_is_a_figure() -> None:
    assert spark_over(100, pressure_bar=1).volts == pytest.approx(243.6 + 672)


def test_the_paschen_minimum_of_air_lies_at_a_few_micrometres() -> None:
    found = least_spark(pressure_bar=1.01325)
    assert found.volts == 327
    assert "near 0.57 Torr·cm, a gap of 7.5 µm" in found.words


def test_the_films_own_strength_is_taken_at_the_thinnest_film_with_a_margin() -> None:
    assert film_strength(20, 250, 0.5).volts == pytest.approx(2500)


def test_without_a_stated_strength_there_is_no_figure() -> None:
    assert film_strength(None, 250).volts is None


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: spark_over(0), "gap_um is 0; it must be above 0 and at most 1000000 um"),
        (lambda: spark_over(-1), "gap_um is -1; it must be above 0"),
        (lambda: spark_over(nan), "gap_um is nan; it must be above 0"),
        (lambda: spark_over(inf), "gap_um is inf; it must be above 0"),
        (lambda: spark_over(500, pressure_bar=101325), "pressure_bar is 101325; it must be from 0.3 to 1.2 bar"),
        (lambda: spark_over(500, air_c=100), "air_c is 100; it must be from -60 to 80 degC"),
        (lambda: least_spark(0), "pressure_bar is 0; it must be from 0.3 to 1.2 bar"),
        (lambda: film_strength(0, 250), "strength_kv_per_mm is 0; it must be above 0"),
        (lambda: film_strength(20, 250, 1.1), "share is 1.1; it must be above 0 and at most 1"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call: Any, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
