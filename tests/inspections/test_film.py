"""Wet and dry film, and paint: against the coverage of one US gallon, and turned back on itself."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.film import dry_from_wet, paint_needed, wet_for_dry

FOOT, MIL_UM = 0.3048, 25.4
# NIST SP 811 (2008), appendix B.8: one US gallon is 3.785412 l (231 cubic inches).
GALLON = 3.785412


def test_one_gallon_without_solvent_covers_1604_square_feet_at_one_mil() -> None:
    """The paint trade's constant, exact by definition: 231 in3 / 0.001 in = 231 000 in2 = 1604.17 ft2."""
    assert paint_needed(1604.1667 * FOOT**2, MIL_UM, 100).litres == pytest.approx(GALLON, rel=1e-6)


def test_a_wet_film_dries_to_its_share_of_solids() -> None:
    assert dry_from_wet(200, 60) == 120


def test_thinner_makes_the_dry_film_thinner() -> None:
    assert dry_from_wet(220, 60, 0.1) == pytest.approx(120)


def test_loss_is_of_the_paint_used() -> None:
    needed = paint_needed(100, 120, 60, 20)
    assert (needed.dry_litres, needed.without_loss, needed.litres) == (12, 20, 25)


@given(st.floats(10, 5000), st.floats(1, 100), st.floats(0, 1))
def test_the_wet_film_for_a_dry_one_dries_to_it(dry: float, solids: float, thinner: float) -> None:
    assert dry_from_wet(wet_for_dry(dry, solids, thinner), solids, thinner) == pytest.approx(dry)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: dry_from_wet(0, 60), "wet_um is 0; it must be above 0"),
        (lambda: wet_for_dry(float("nan"), 60), "dry_um is nan; it must be above 0"),
        (lambda: dry_from_wet(100, 0), "solids_percent is 0; it must be above 0 and at most 100"),
        (lambda: dry_from_wet(100, 60, 1.5), "thinner_fraction is 1.5; it must be from 0 to 1"),
        (lambda: paint_needed(0, 100, 60), "area_m2 is 0; it must be above 0"),
        (lambda: paint_needed(10, 100, 60, 100), "loss_percent is 100; it must be from 0 to below 100"),
    ],
)
def test_what_cannot_be_is_refused_by_name_and_value(call: object, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()  # type: ignore[operator]
