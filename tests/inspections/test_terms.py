"""A specification does not change once it is issued, so what cannot be worked with is refused before, by its name."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from inspections.terms import Terms, terms_from_json
from tests.scenes import TERMS

STAGE = {"name": "primer", "dft_nominal": 100.0, "dft_minimum": 80.0}
COAT = {"name": "primer", "product": "Ferrobond P", "minimum_wait_h": 4.0}


def given(**changed: Any) -> dict[str, Any]:
    return {**TERMS.to_json(), **changed}


def test_what_was_written_is_read_back() -> None:
    assert terms_from_json(given()) == TERMS


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"stated_volts": "2500"}, "stated_volts: '2500' is not a number"),
        ({"stated_volts": 2500.5}, "stated_volts: 2500.5 is not a whole number"),
        ({"stated_volts": -1}, "stated_volts: -1 is not allowed: 1 to 100000"),
        ({"check_interval_min": float("inf")}, "check_interval_min: inf is not a number"),
        ({"check_interval_min": True}, "check_interval_min: True is not a number"),
        ({"speed_limit": 0}, "speed_limit: 0 is not allowed: 0.001 to 10"),
        ({"patch_overlap": -0.1}, "patch_overlap: -0.1 is not allowed: 0 to 10"),
        ({"as_left_margin": -0.1}, "as_left_margin: -0.1 is not allowed: 0 to 10"),
        ({"cycle_limit": 0}, "cycle_limit: 0 is not allowed: 1 to 1000"),
        ({"thickness_level": 6}, "thickness_level: 6 is not allowed: 1 to 5"),
        ({"patch_shape": "star"}, 'patch_shape: "star" is not one of square, round'),
        ({"own_quality_control_may_retest": "no"}, "own_quality_control_may_retest: 'no' is not yes or no"),
        ({"notes": "a\0b"}, "notes: .* is not text"),
        ({"returns": [5]}, "returns: 5 is not text"),
        ({"holiday_limit": {"count": "x", "per": "10"}}, "holiday_limit: "),
        ({"holiday_limit": {"count": "1", "per": "0"}}, "holiday_limit: per is 0; it must be above 0"),
        ({"stages": [STAGE, STAGE]}, "primer, primer: every coat stage needs a name of its own"),
        ({"stages": [{**STAGE, "name": "x" * 61}]}, "stage: 61 characters are too many: 60 are allowed"),
        ({"stages": [{**STAGE, "dft_maximum": 70.0}]}, "stage primer: dft_maximum 70 is below dft_minimum"),
        ({"stages": [{**STAGE, "required_coverage_percent": 101}]}, "required_coverage_percent: 101 is not allowed"),
        (
            {"stages": [{**STAGE, "required_line_coverage_percent": -1}]},
            "required_line_coverage_percent: -1 is not allowed: 0 to 100",
        ),
        (
            {"stages": [{**STAGE, "required_count_coverage_percent": "all"}]},
            "required_count_coverage_percent: 'all' is not a number",
        ),
        ({"repair_coats": [{**COAT, "minimum_wait_h": -4}]}, "repair coat primer, minimum_wait_h: -4 is not allowed"),
        (
            {"repair_coats": [{**COAT, "maximum_wait_h": 2}]},
            "maximum_wait_h of primer is 2; it must not be below its minimum, 4",
        ),
    ],
)
def test_a_term_that_cannot_be_is_named_with_what_is_allowed(changed: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        terms_from_json(given(**changed))


def test_terms_that_may_lack_are_taken_without_a_value() -> None:
    terms = terms_from_json(given(thickness_level=None, primer_within_h=None, cycle_limit=None, holiday_limit=None))

    assert isinstance(terms, Terms)
    assert terms.cycle_limit is None


def test_a_stage_says_what_coverage_it_asks_and_where_it_asks_none() -> None:
    stage = replace(TERMS.final_stage, required_line_coverage_percent=100.0)

    assert stage.coverage_asked == (
        "100 % of the area; 100 % of the metres of weld and edge; nothing asked of nozzles and brackets"
    )
