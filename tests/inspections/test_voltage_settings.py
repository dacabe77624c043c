"""What the readings ask for. Greedy stabbing is proven the fewest against every possible choice of settings."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspections.rule_schema import rule_from_json, shipped_rule
from inspections.voltage_formulas import Given, thickness_given
from inspections.voltage_rules import Job, apply
from inspections.voltage_settings import asked_at_percentiles, fewest_settings

LINING = Job("tank lining")
PIPELINE = Job("pipeline")
SP0188 = shipped_rule("nace-sp0188-2006")
SP0274 = shipped_rule("nace-sp0274")
G62 = shipped_rule("astm-g62-b-2014")


def mils(*values: float | str) -> list[Given]:
    return [thickness_given(value, "mil") for value in values]


def test_the_voltage_is_asked_at_numpys_percentiles() -> None:
    values = [18.5, 22.0, 25.5, 31.0, 40.0, 44.5, 38.0]
    found = asked_at_percentiles(SP0274, mils(*values), PIPELINE)
    expected = np.percentile(values, (5, 50, 95))
    assert [float(at.thickness.value) for at in found] == pytest.approx(list(expected))
    # SP0274, from memory: 1250*sqrt(T mil); the 5th percentile, 19.55 mil, is below its 20 mil.
    assert [at.answer.volts for at in found] == [
        None,
        round(1250 * expected[1] ** 0.5),
        round(1250 * expected[2] ** 0.5),
    ]


def test_readings_of_one_step_need_one_setting_the_tables_own() -> None:
    plan = fewest_settings(SP0188, mils(12, 13, 14, 15), LINING, tolerance_percent=5)
    assert plan.one_serves_all
    assert (plan.settings[0].volts, plan.settings[0].low, plan.settings[0].high) == (2000, 1900, 2100)


def test_readings_straddling_two_steps_need_two_settings_split_by_thickness() -> None:
    plan = fewest_settings(SP0188, mils(14, 17, 15, 16), LINING, tolerance_percent=5)
    assert [(setting.volts, setting.readings) for setting in plan.settings] == [(2000, (0, 2)), (2500, (3, 1))]
    assert plan.sentences == (
        "No single setting serves all 4 readings: 2 settings are needed. Split the work by thickness.",
        "2000 V (any from 1900 V to 2100 V) where the film is 14 mil to 15 mil: 2 readings.",
        "2500 V (any from 2375 V to 2625 V) where the film is 16 mil to 17 mil: 2 readings.",
    )


def test_a_wide_tolerance_lets_one_setting_serve_two_steps() -> None:
    # 2000 + 12 % = 2240 V, 2500 - 12 % = 2200 V.
    plan = fewest_settings(SP0188, mils(15, 16), LINING, tolerance_percent=12)
    assert (plan.one_serves_all, plan.settings[0].low, plan.settings[0].high) == (True, 2200, 2240)


def test_readings_on_both_branches_of_g62_need_two_settings_and_those_between_are_told_apart() -> None:
    plan = fewest_settings(G62, mils(39, "40.5", 42), PIPELINE, tolerance_percent=5)
    assert [setting.volts for setting in plan.settings] == [3279, 8101]
    assert [(item.reading, str(item.thickness)) for item in plan.unserved] == [(1, "40.5 mil")]
    assert "lies between two branches" in plan.unserved[0].why
    assert "1 reading served by no setting. Ask the specifier." in plan.sentences


def test_readings_out_of_range_are_served_by_no_setting() -> None:
    plan = fewest_settings(SP0188, mils(5, 140), LINING, tolerance_percent=5)
    assert plan.settings == ()
    assert [item.reading for item in plan.unserved] == [0, 1]


def test_without_a_tolerance_only_equal_voltages_share_a_setting() -> None:
    plan = fewest_settings(SP0274, mils(25, 25, 36), PIPELINE)
    assert [(setting.volts, setting.readings) for setting in plan.settings] == [(6250, (0, 1)), (7500, (2,))]


@pytest.mark.parametrize(
    "readings", [[], [thickness_given(12, "mil"), thickness_given(300, "um")]], ids=["none", "two units"]
)
def test_readings_absent_or_in_two_units_are_refused(readings: list[Given]) -> None:
    with pytest.raises(ValueError, match="they must be one or more, all in one unit"):
        fewest_settings(SP0188, readings, LINING)


def fewest_by_trying(bands: Sequence[tuple[int, int]]) -> int:
    """The least number of settings by trying every set of upper ends, where some best set always lies."""
    ends = sorted({high for _, high in bands})
    for count in range(len(ends) + 1):
        for chosen in combinations(ends, count):
            if all(any(low <= volts <= high for volts in chosen) for low, high in bands):
                return count
    raise AssertionError("every set was tried")


RULES = st.sampled_from([SP0188, SP0274, G62])


@settings(deadline=None, max_examples=150)
@given(RULES, st.lists(st.integers(8, 130), min_size=1, max_size=9), st.sampled_from([0, 2, 5, 10, 20, 35]))
def test_no_choice_of_fewer_settings_serves_every_reading(rule: object, values: list[int], tolerance: int) -> None:
    job = LINING if rule is SP0188 else PIPELINE
    readings = mils(*values)
    plan = fewest_settings(rule, readings, job, tolerance_percent=tolerance)  # type: ignore[arg-type]
    answers = [apply(rule, reading, job, tolerance_percent=tolerance) for reading in readings]  # type: ignore[arg-type]
    bands = [(answer.band.low, answer.band.high) for answer in answers if answer.band]
    assert len(plan.settings) == fewest_by_trying(bands)


@settings(deadline=None, max_examples=150)
@given(RULES, st.lists(st.integers(8, 130), min_size=1, max_size=40), st.sampled_from([0, 2, 5, 10, 20, 35]))
def test_every_reading_is_served_within_its_band_or_told_why_not(
    rule: object, values: list[int], tolerance: int
) -> None:
    job = LINING if rule is SP0188 else PIPELINE
    readings = mils(*values)
    plan = fewest_settings(rule, readings, job, tolerance_percent=tolerance)  # type: ignore[arg-type]
    for setting in plan.settings:
        for place in setting.readings:
            answer = apply(rule, readings[place], job, tolerance_percent=tolerance)  # type: ignore[arg-type]
            assert answer.band is not None
            assert answer.band.low <= setting.low <= setting.volts <= setting.high <= answer.band.high
    told = [place for setting in plan.settings for place in setting.readings] + [item.reading for item in plan.unserved]
    assert sorted(told) == list(range(len(readings)))


def test_the_split_never_overlaps_in_thickness() -> None:
    plan = fewest_settings(SP0274, mils(*range(20, 120)), PIPELINE, tolerance_percent=5)
    pairs = zip(plan.settings, plan.settings[1:], strict=False)
    assert all(thinner.thickest.um < thicker.thinnest.um for thinner, thicker in pairs)


def test_an_owners_capped_rule_needs_one_setting_above_the_cap() -> None:
    formula = {"kind": "per unit", "factor": 10_000, "cap": 25_000}
    rule = rule_from_json(
        {
            "id": "owner", "document": "Owner", "kind": "project specification", "provenance": "owner",
            "forms": [{"unit": "mm", "branches": [{"formula": formula}]}],
        }
    )  # fmt: skip
    plan = fewest_settings(rule, [thickness_given(mm, "mm") for mm in (2.5, 3, 4.2)], PIPELINE)
    assert (plan.one_serves_all, plan.settings[0].volts) == (True, 25_000)
