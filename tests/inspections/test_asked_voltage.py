"""The specification's voltage at a thickness: which of its documents rules, and where there is no figure."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from inspections.asked_voltage import answers_of, asked_voltage, stage_thickness
from inspections.rule_schema import shipped_bodies
from inspections.terms import Terms, terms_from_json
from inspections.voltage import Band
from inspections.voltage_formulas import thickness_given
from tests.scenes import TERMS


def by_rules(*ids: str, **changed: Any) -> Terms:
    bodies = shipped_bodies()
    given = {"stated_volts": None, "voltage_tolerance_percent": 10.0, **changed}
    return terms_from_json({**TERMS.to_json(), **given, "voltage_rules": [bodies[name] for name in ids]})


def test_a_stated_voltage_rules_whatever_the_thickness() -> None:
    assert asked_voltage(TERMS, thickness_given(2000, "um")).band == Band(2250, 2750, 2500)


@pytest.mark.parametrize(
    ("value", "unit", "volts", "form"),
    [
        # NACE SP0490, from memory: 525 * sqrt(20 mil) = 2347.9; 104 * sqrt(508 um) = 2344.0.
        (20, "mil", 2348, "mil"),
        (508, "um", 2344, "um"),
    ],
)
def test_a_rule_answers_in_the_form_of_the_unit_the_thickness_was_given_in(
    value: int, unit: str, volts: int, form: str
) -> None:
    asked = asked_voltage(by_rules("nace-sp0490", film_family="fusion-bonded epoxy"), thickness_given(value, unit))

    assert (asked.volts, asked.unit, asked.provenance) == (volts, form, "from memory")


def test_the_tolerance_of_the_specification_makes_the_band() -> None:
    # NACE SP0188-2006, from memory: 16 to 20 mil 2.5 kV.
    terms = by_rules("nace-sp0188-2006", film_family="tank lining")

    assert asked_voltage(terms, thickness_given(18, "mil")).band == Band(2250, 2750, 2500)


def test_between_the_branches_of_a_document_there_is_no_figure_and_no_lower_document_steps_in() -> None:
    # ASTM G62, editions to 2014, from memory: no branch from 40 to 41 mil.
    asked = asked_voltage(by_rules("astm-g62-b-2014", "rule-of-thumb"), thickness_given("40.5", "mil"))

    assert (asked.volts, asked.band, asked.rule) == (None, None, "astm-g62-b-2014")
    assert "Ask the specifier" in asked.why


def test_a_thickness_no_document_is_for_gets_no_figure_with_the_reason() -> None:
    asked = asked_voltage(by_rules("nace-sp0490", film_family="fusion-bonded epoxy"), thickness_given(50, "mil"))

    assert (asked.document, asked.volts) == ("", None)
    assert "No document that rules applies" in asked.why


def test_the_order_of_precedence_decides_between_a_stated_voltage_and_a_standard() -> None:
    terms = by_rules("nace-sp0274", stated_volts=3000)
    other = replace(terms, precedence=("standard", "project specification"))
    thick = thickness_given(40, "mil")

    assert asked_voltage(terms, thick).volts == 3000
    # NACE SP0274, from memory: 1250 * sqrt(40 mil) = 7905.7.
    assert asked_voltage(other, thick).volts == 7906


def test_two_standards_that_apply_leave_the_ruling_open() -> None:
    asked = asked_voltage(by_rules("astm-g62-b-2014", "nace-sp0274"), thickness_given(30, "mil"))

    assert asked.document == ""
    assert "the specification has to name one" in asked.why


def test_wet_sponge_asks_to_stay_below_a_voltage() -> None:
    # To 10 mil with water, below 100 V DC (published).
    terms = by_rules("wet-sponge-water", method="wet_sponge", medium="water")

    asked = asked_voltage(terms, thickness_given(8, "mil"))
    assert asked.volts is None
    assert asked.band is not None
    assert (asked.band.low, asked.band.high) == (1, 99)


def test_the_thickness_of_a_stage_is_said_in_the_unit_of_the_specification() -> None:
    stage = replace(TERMS.stages[0], dft_nominal=508.0)

    assert str(stage_thickness(replace(TERMS, stages=(stage,), thickness_unit="mil"), stage)) == "20 mil"


def test_every_document_of_the_specification_answers() -> None:
    answers = answers_of(by_rules("nace-sp0274", "nace-sp0490", stated_volts=3000), thickness_given(20, "mil"))

    assert [answer.applies for answer in answers] == [True, True, False]
