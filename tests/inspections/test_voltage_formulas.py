"""Thickness as given, ranges and formulas, exactly."""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.voltage_formulas import (
    PerUnit,
    Power,
    Root,
    Span,
    doubt_of_unit,
    percentile,
    round_half_up,
    thickness_given,
)

THICKNESSES = st.decimals(Decimal("0.001"), Decimal(100_000), places=3)


def test_a_mil_is_exactly_25_4_um() -> None:
    # NIST SP 811 (2008), appendix B.
    assert thickness_given("30", "mil").to("mm") == Fraction("0.762")


@pytest.mark.parametrize("value", [0.762, "0.762", Decimal("0.762"), Fraction(762, 1000)])
def test_a_float_is_the_decimal_it_prints(value: object) -> None:
    assert thickness_given(value, "mm").to("mil") == 30


@pytest.mark.parametrize(
    ("value", "unit", "message"),
    [
        (None, "mil", "thickness is absent; give the film thickness as a number with its unit, such as 12 mil"),
        (" ", "mil", "thickness is absent"),
        (-12, "mil", "thickness is -12 mil; it must be above 0 and at most 1000000 mil"),
        (0, "um", "thickness is 0 um; it must be above 0"),
        ("twelve", "um", 'thickness is "twelve"; it must be a number above 0'),
        (float("nan"), "um", "thickness is nan; it must be a number above 0"),
        (float("inf"), "um", "thickness is inf; it must be a number above 0"),
        ("1e999999999", "um", "thickness is 1e999999999; it must be a number above 0 and at most 1000000 um"),
        ("1e-999999999", "um", "it must be a number above 0"),
        (12, "inch", 'the unit of thickness is "inch"; it must be um, mm or mil'),
    ],
)
def test_a_thickness_that_cannot_be_is_refused_by_name(value: object, unit: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        thickness_given(value, unit)


@pytest.mark.parametrize(
    ("value", "unit", "meant"),
    [("12", "um", "12 mil"), ("0.3", "um", "0.3 mm"), ("305", "mil", "305 µm"), ("305", "mm", "305 µm")],
)
def test_a_figure_unusual_in_its_unit_raises_the_question_which_was_meant(value: str, unit: str, meant: str) -> None:
    question = doubt_of_unit(thickness_given(value, unit))
    assert question is not None
    assert f"{meant} was meant" in question or f"{meant} or " in question


def test_twelve_micrometres_are_told_in_mils() -> None:
    assert doubt_of_unit(thickness_given(12, "um")) == (
        "12 µm is 0.47 mil, thinner than films usually are that are tested with high voltage (25 µm to 7.5 mm, common "
        "practice). If 12 mil was meant, give it in that unit."
    )


@pytest.mark.parametrize(("value", "unit"), [("12", "mil"), ("305", "um"), ("3.2", "mm"), ("25", "um"), ("7.5", "mm")])
def test_a_usual_thickness_raises_no_question(value: str, unit: str) -> None:
    assert doubt_of_unit(thickness_given(value, unit)) is None


@given(THICKNESSES, st.decimals(1, 10_000, places=1), st.sampled_from(["0.5", "0.333", "0.75", "1", "1.5", "2"]))
def test_a_power_is_rounded_as_decimal_arithmetic_of_60_digits_rounds_it(
    thickness: Decimal, factor: Decimal, exponent: str
) -> None:
    with localcontext() as context:
        context.prec = 60
        expected = (factor * thickness ** Decimal(exponent)).quantize(Decimal(1), "ROUND_HALF_UP")
    found = Power(Fraction(factor), Fraction(exponent)).volts(thickness_given(thickness, "um"))
    assert found.rounded() == expected


@pytest.mark.parametrize(
    ("radicand", "way", "to", "rounded"),
    [
        (Fraction("2.25"), "nearest", 1, 2),  # a root of exactly 1.5 goes up
        (Fraction("2.2499"), "nearest", 1, 1),
        (Fraction(4), "up", 1, 2),
        (Fraction("4.0001"), "up", 1, 3),
        (Fraction("8.9999"), "down", 1, 2),
        (Fraction(3320**2), "nearest", 100, 3300),
        (Fraction(3350**2), "nearest", 100, 3400),
        (Fraction(3320**2), "up", 500, 3500),
    ],
)
def test_a_root_is_rounded_as_asked(radicand: Fraction, way: str, to: int, rounded: int) -> None:
    assert Root(radicand, 2).rounded(to, way) == rounded  # type: ignore[arg-type]


def test_a_root_is_compared_exactly() -> None:
    hair = Fraction(1, 10**40)
    assert [Root(Fraction(9) + off, 2).compare(Fraction(3)) for off in (-hair, 0, hair)] == [-1, 0, 1]


def test_volts_per_unit_stop_at_the_cap() -> None:
    capped = PerUnit(Fraction(10_000), Fraction(25_000))
    assert [capped.volts(thickness_given(t, "mm")).rounded() for t in ("2.4", "2.5", "3")] == [24_000, 25_000, 25_000]


@pytest.mark.parametrize(
    ("span", "places"),
    [
        (Span("mil", Fraction(10), Fraction(30)), ("below", "in", "in", "in", "above")),
        (
            Span("mil", Fraction(10), Fraction(30), low_in=False, high_in=False),
            ("below", "below", "in", "above", "above"),
        ),
        (Span("mil"), ("in",) * 5),
    ],
)
def test_an_end_belongs_to_a_range_unless_said_otherwise(span: Span, places: tuple[str, ...]) -> None:
    # 10 mil = 0.254 mm, 30 mil = 0.762 mm.
    given_mm = ("0.2539999", "0.254", "0.5", "0.762", "0.7620001")
    assert tuple(span.place(thickness_given(t, "mm")) for t in given_mm) == places


@pytest.mark.parametrize(
    ("span", "words"),
    [
        (Span("mil", Fraction(10), Fraction(30)), "from 10 mil to 30 mil"),
        (Span("mm", high=Fraction("1.016"), high_in=False), "below 1.016 mm"),
        (Span("mm", low=Fraction("1.041"), low_in=False), "above 1.041 mm"),
        (Span("um", Fraction(0), Fraction(100), low_in=False, high_in=False), "above 0 µm to below 100 µm"),
        (Span("um"), "any thickness"),
    ],
)
def test_a_range_is_told_in_words(span: Span, words: str) -> None:
    assert str(span) == words


def test_halves_are_rounded_up() -> None:
    halves = [Fraction("7.4999"), Fraction("7.5"), Fraction("8.5"), Fraction("8.4999")]
    assert [round_half_up(value, Fraction(1)) for value in halves] == [7, 8, 9, 8]


@given(st.lists(THICKNESSES, min_size=1, max_size=60), st.integers(0, 100))
def test_percentiles_are_numpys(values: list[Decimal], percent: int) -> None:
    expected = np.percentile([float(value) for value in values], percent)
    assert float(percentile([Fraction(value) for value in values], percent)) == pytest.approx(expected)


def test_a_percentile_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="percent is 50 of 0 values; it must be 0 to 100 of at least one"):
        percentile([], 50)
