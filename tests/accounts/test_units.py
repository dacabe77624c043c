"""Quantities in SI or with a unit. Factors: NIST SP 811 (2008), appendix B.8 (exact where printed in bold there)."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rest_framework.exceptions import ValidationError

from accounts import units
from accounts.templatetags.barespot import when
from accounts.units import (
    DurationHoursField,
    FilmField,
    LengthField,
    PercentField,
    Quantity,
    SpeedField,
    TemperatureField,
    VoltField,
    show,
)


@pytest.mark.parametrize(
    ("field", "said", "value"),
    [
        # NIST SP 811: foot 3.048 E-01 m, inch 2.54 E-02 m, mil 2.54 E-05 m, all exact.
        (LengthField(), "1 ft", 0.3048),
        (LengthField(), "1 in", 0.0254),
        (FilmField(), "1 mil", 25.4),
        # NIST SP 811: square foot 9.290 304 E-02 m2, exact; foot per second 3.048 E-01 m/s, exact.
        (units.AreaField(), "1 ft2", 0.09290304),
        (SpeedField(), "1 ft/s", 0.3048),
        # NIST SP 811: t/degC = (t/degF - 32)/1.8; water boils at 212 degF, and -40 is the same on both.
        (TemperatureField(), "212 F", 100.0),
        (TemperatureField(), "-40 degF", -40.0),
        (DurationHoursField(), "90 min", 1.5),
        (DurationHoursField(), "2 days", 48.0),
        (VoltField(), "7.9 kV", 7900),
        (PercentField(), "85 %", 85.0),
    ],
)
def test_a_unit_is_converted_by_its_published_factor(field, said, value) -> None:
    assert field.to_internal_value(said) == Quantity(pytest.approx(value, rel=1e-12), said)


def test_a_number_is_in_si_and_says_so() -> None:
    assert FilmField().to_internal_value(305) == Quantity(305.0, "305 µm")


def test_text_without_a_unit_is_in_si() -> None:
    assert LengthField().to_internal_value("2.5") == Quantity(2.5, "2.5 m")


@pytest.mark.parametrize("said", ["0,3 mm", "0.3 mm", "300 um", "300 µm", "300 μm", "300 microns", "  300\u00a0µm "])
def test_spellings_of_one_thickness_are_one_value(said) -> None:
    assert FilmField().to_internal_value(said).value == pytest.approx(300.0, rel=1e-12)


def test_what_was_said_is_kept_as_said() -> None:
    assert FilmField().to_internal_value("12 MIL").said == "12 MIL"


def test_spaces_part_thousands() -> None:
    assert VoltField().to_internal_value("10 000 V").value == 10_000


@pytest.mark.parametrize("minus", ["-", "\u2212"])
def test_both_minus_signs_are_read(minus) -> None:
    assert TemperatureField().to_internal_value(f"{minus}5 °C").value == -5.0


@pytest.mark.parametrize(
    ("field", "given_", "told"),
    [
        (FilmField(), "12 furlong", '"12 furlong" has the unit "furlong". Write a number in µm, mm or mil.'),
        (FilmField(), "thick", '"thick" does not start with a number. Write a number in µm, mm or mil.'),
        (FilmField(max_value=2000), "3 mm", '"3 mm" is above the most allowed. Write a number in µm, mm or mil, 2000 µm or less.'),
        (PercentField(), -1, '"-1 %" is below the least allowed. Write a number in %, from 0 to 100 %.'),
        (VoltField(), "2437.5", '"2437.5 V" is not a whole number of volts. Write a number in V or kV.'),
    ],
)  # fmt: skip
def test_a_refusal_names_the_value_and_what_is_allowed(field, given_, told) -> None:
    with pytest.raises(ValidationError) as refused:
        field.to_internal_value(given_)
    assert refused.value.detail == [told]


def test_a_comma_that_may_part_thousands_is_refused() -> None:
    with pytest.raises(ValidationError, match="can be read two ways"):
        LengthField().to_internal_value("1,250 mm")


@pytest.mark.parametrize("given_", [True, None, [], {}, float("nan"), float("inf"), "9" * 400])
def test_what_is_no_quantity_is_refused(given_) -> None:
    with pytest.raises(ValidationError):
        LengthField().to_internal_value(given_)


@given(st.decimals(min_value="-1000", max_value="1000", places=3), st.sampled_from(units.TEMPERATURE.units))
def test_conversion_there_and_back_gives_the_number(number, unit) -> None:
    assert units.from_si(units.to_si(number, unit), unit) == pytest.approx(number, abs=Decimal("1e-20"))


@given(st.sampled_from(list(units.KINDS)), st.sampled_from(["si", "us"]), st.integers(-50, 5000))
def test_what_is_shown_can_be_read_again(kind, reader, value) -> None:
    what = units.KINDS[kind]
    number, unit = units.read(show(value, kind, reader, decimals=9), what)
    assert unit is not None
    assert float(units.to_si(number, unit)) == pytest.approx(value, abs=1e-4)


@pytest.mark.parametrize(
    ("shown", "words"),
    [
        (show(21.44, "area"), "21.4 m²"),
        (show(305, "film"), "305 µm"),
        (show(304.8, "film", "us"), "12.0 mil"),
        (show(2500, "volts"), "2500 V"),
        (show(2500, "volts", "us"), "2.50 kV"),
        (show(-3, "celsius"), "\u22123.0 °C"),
        (show(20, "celsius", "us"), "68 °F"),
        (show(-0.001, "metres"), "0.00 m"),
        (show(88.5, "percent"), "88.5 %"),
        (show(None, "metres"), "–"),
    ],
)
def test_a_figure_is_shown_in_the_readers_units(shown, words) -> None:
    assert shown == words


def test_a_moment_is_shown_in_the_assets_zone() -> None:
    assert when(datetime(2024, 5, 14, 14, 40, tzinfo=UTC), "Europe/Oslo") == "14 May 2024, 16:40"


def test_a_moment_of_this_year_is_shown_without_the_year() -> None:
    this_year = datetime.now(UTC).year
    assert when(datetime(this_year, 5, 14, 14, 40, tzinfo=UTC), "UTC") == "14 May, 14:40"
