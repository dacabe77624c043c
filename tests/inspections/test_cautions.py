"""Cautions: each danger of a method is named in the full text; common practice, no source."""

from __future__ import annotations

import pytest

from inspections.cautions import cautions
from inspections.standing import Method

METHODS: tuple[Method, ...] = ("high_voltage_dc", "high_voltage_pulsed", "wet_sponge", "visual")


@pytest.mark.parametrize("method", METHODS[:2])
@pytest.mark.parametrize(
    "danger",
    ["hot-work permit", "gas test", "uncured", "pacemaker", "rain", "before switching on", "discharge", "ladder",
     "bulkhead", "records", "phone", "confined space", "permit: its number", "trained"],
)  # fmt: skip
def test_high_voltage_names_every_danger_once_a_day(method: Method, danger: str) -> None:
    full = " ".join(cautions(method).full).lower().replace("not cured", "uncured")
    assert danger in full


@pytest.mark.parametrize("method", METHODS)
def test_no_method_goes_without_the_line_that_nothing_is_authorised(method: Method) -> None:
    assert any("never authorises entry or work" in line for line in cautions(method).full)


@pytest.mark.parametrize("method", METHODS)
def test_the_short_text_is_short(method: Method) -> None:
    assert 2 <= len(cautions(method).short) <= 6


def test_an_unknown_method_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="method is 'guess'; it must be one of high_voltage_dc"):
        cautions("guess")  # type: ignore[arg-type]
