"""What the voltage rules say. Formulas and tables are checked against the standards' published figures.

The figures of ASTM G62 (editions to 2014), NACE SP0490, SP0274 and SP0188-2006, ISO 21809-1 and -2 and AWWA C213 are from
memory; the range of applied voltage of ASTM G62, that of its 2023 edition, and the wet-sponge limits are published.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from inspections.rule_schema import rule_from_json, shipped_rule, shipped_rules
from inspections.voltage import Band
from inspections.voltage_formulas import thickness_given
from inspections.voltage_rules import (
    DETECTOR_WARNING,
    MEMORY_WARNING,
    THUMB_WARNING,
    Answer,
    Job,
    apply,
    ruling,
    side_by_side,
)

FBE = Job("fusion-bonded epoxy")
POLYOLEFIN = Job("three-layer polyolefin")
LINING = Job("tank lining")
PIPELINE = Job("pipeline")


def said(rule_id: str, value: object, unit: str, job: Job, **more: Any) -> Answer:
    return apply(shipped_rule(rule_id), thickness_given(value, unit), job, **more)


@pytest.mark.parametrize(
    ("rule", "job", "value", "unit", "volts"),
    [
        # ASTM G62 method B, editions to 2014, from memory: 525 and 1250 by mil, 3294 and 7843 by mm.
        ("astm-g62-b-2014", PIPELINE, 16, "mil", 525 * 4),
        ("astm-g62-b-2014", PIPELINE, 100, "mil", 1250 * 10),
        ("astm-g62-b-2014", PIPELINE, 0.25, "mm", 3294 / 2),
        ("astm-g62-b-2014", PIPELINE, 4, "mm", 7843 * 2),
        # NACE SP0490, from memory: 525 by mil, 104 by um.
        ("nace-sp0490", FBE, 25, "mil", 525 * 5),
        ("nace-sp0490", FBE, 400, "um", 104 * 20),
        # NACE SP0274, from memory: 1250 by mil, 7900 by mm.
        ("nace-sp0274", PIPELINE, 400, "mil", 1250 * 20),
        ("nace-sp0274", PIPELINE, 4, "mm", 7900 * 2),
        # ISO 21809-1, from memory: 10 kV per mm, not above 25 kV.
        ("iso-21809-1", POLYOLEFIN, 1.8, "mm", 18_000),
        ("iso-21809-1", POLYOLEFIN, 2.5, "mm", 25_000),
        ("iso-21809-1", POLYOLEFIN, 3.2, "mm", 25_000),
        # ISO 21809-2, from memory: 5 V per um.
        ("iso-21809-2", FBE, 400, "um", 2000),
        # AWWA C213, from memory: 125 V per mil.
        ("awwa-c213", FBE, 14, "mil", 1750),
        # Rule of thumb, common practice, no source: 100 V per mil.
        ("rule-of-thumb", PIPELINE, 14, "mil", 1400),
    ],
)
def test_a_formula_gives_the_documents_voltage(rule: str, job: Job, value: float, unit: str, volts: float) -> None:
    assert said(rule, value, unit, job).volts == pytest.approx(volts, abs=0.5)


# NACE SP0188-2006, from memory: whole mils from, to, and kV.
SP0188 = [
    (8, 11, 1.5),
    (12, 15, 2),
    (16, 20, 2.5),
    (21, 40, 3),
    (41, 55, 4),
    (56, 80, 6),
    (81, 125, 10),
    (126, 135, 15),
]


@pytest.mark.parametrize(("low", "high", "kilovolts"), SP0188)
def test_the_lining_table_gives_its_steps_at_both_ends_of_each_row(low: int, high: int, kilovolts: float) -> None:
    found = [said("nace-sp0188-2006", mils, "mil", LINING).volts for mils in (low, high)]
    assert found == [kilovolts * 1000] * 2


@pytest.mark.parametrize(
    ("mils", "volts"),
    [("7.49", None), ("7.5", 1500), ("11.49", 1500), ("11.5", 2000), ("135.49", 15000), ("135.5", None)],
)
def test_half_mils_are_rounded_up_before_the_lining_tables_range_is_tested(mils: str, volts: int | None) -> None:
    assert said("nace-sp0188-2006", mils, "mil", LINING).volts == volts


def test_the_rounding_of_a_metric_thickness_to_whole_mils_is_told() -> None:
    found = said("nace-sp0188-2006", 300, "um", LINING)
    assert (found.volts, found.thickness) == (2000, "12 mil")
    assert found.notes == (
        "300 µm was converted exactly to 11.811 mil.",
        "11.811 mil was rounded to 12 mil, halves up, before the table was read.",
    )


@pytest.mark.parametrize(
    ("value", "unit", "volts"),
    [
        ("39.999", "mil", 3320), ("40", "mil", None), ("40.5", "mil", None), ("41", "mil", None), ("41.001", "mil", 8004),
        ("1.0159", "mm", 3320), ("1.016", "mm", None), ("1.03", "mm", None), ("1.041", "mm", None), ("1.0411", "mm", 8003),
        ("1015.9", "um", 3320), ("1016", "um", None), ("1041", "um", None), ("1041.1", "um", 8003),
    ],
)  # fmt: skip
def test_g62_gives_no_figure_from_40_to_41_mil_both_ends_included(value: str, unit: str, volts: int | None) -> None:
    assert said("astm-g62-b-2014", value, unit, PIPELINE).volts == volts


def test_between_the_branches_of_g62_both_are_shown_and_the_specifier_is_asked() -> None:
    found = said("astm-g62-b-2014", 40, "mil", PIPELINE)
    assert found.applies
    assert [branch.volts for branch in found.branches] == [3320, 7906]
    assert found.why.endswith("Ask the specifier.")


@pytest.mark.parametrize(("mils", "applies"), [("2.9", False), ("3", True), ("256", True), ("256.01", False)])
def test_g62_gives_no_voltage_outside_the_range_it_states(mils: str, applies: bool) -> None:
    # 900 to 20 000 V, published; 525*sqrt(3) = 909 V, 1250*sqrt(256) = 20 000 V exactly.
    assert said("astm-g62-b-2014", mils, "mil", PIPELINE).applies is applies


def test_a_voltage_outside_the_stated_range_is_told_with_the_range() -> None:
    assert said("astm-g62-b-2014", 400, "mil", PIPELINE).why == (
        "Does not apply: 1250·√T V, T in mil gives 25000 V at 400 mil, outside the range of applied voltage it states, "
        "0.9 kV to 20 kV."
    )


@pytest.mark.parametrize(
    ("rule", "job", "value", "unit", "applies"),
    [
        ("nace-sp0490", FBE, "0.762", "mm", True),  # 30 mil exactly
        ("nace-sp0490", FBE, "0.7621", "mm", False),
        ("nace-sp0490", FBE, "10", "mil", True),
        ("nace-sp0490", FBE, "9.99", "mil", False),
        ("nace-sp0274", PIPELINE, "20", "mil", True),
        ("nace-sp0274", PIPELINE, "507.9", "um", False),
        ("nace-sp0274", PIPELINE, "19.05", "mm", True),  # 750 mil exactly
        ("nace-sp0274", PIPELINE, "19.06", "mm", False),
        ("astm-g62-b-2023", PIPELINE, "0.508", "mm", False),  # above 0.508 mm, published
        ("astm-g62-b-2023", PIPELINE, "0.509", "mm", True),
    ],
)
def test_the_borders_are_those_of_the_documents_own_unit(
    rule: str, job: Job, value: str, unit: str, applies: bool
) -> None:
    assert said(rule, value, unit, job).applies is applies


def test_the_form_of_the_unit_given_is_used_and_said() -> None:
    by_mil, by_um = said("nace-sp0274", 100, "mil", PIPELINE), said("nace-sp0274", 2540, "um", PIPELINE)
    assert (by_mil.volts, by_um.volts) == (12_500, 12_591)
    assert "The document's mm form was used, for thickness given in µm; its forms differ by a little." in by_um.notes


@pytest.mark.parametrize("rule", [rule for rule in shipped_rules() if not rule.forms], ids=lambda rule: rule.id)
def test_a_document_without_its_table_gives_no_figure(rule: Any) -> None:
    substrate = rule.scope.substrates[0] if rule.scope.substrates else "steel"
    family = rule.scope.families[0] if rule.scope.families else "pipeline"
    found = apply(rule, thickness_given(50, "mil"), Job(family, substrate))
    assert (found.applies, found.volts) == (True, None)
    assert "the table of this document is not shipped" in found.why


def test_the_classic_field_error_is_seen_side_by_side() -> None:
    # 40 mil: the lining table says 3 kV, the pipeline formula 7.9 kV (both from memory).
    found = {answer.rule.id: answer for answer in side_by_side(thickness_given(40, "mil"), LINING)}
    lining, pipeline = found["nace-sp0188-2006"], found["nace-sp0274"]
    assert (lining.applies, lining.volts) == (True, 3000)
    assert (pipeline.applies, pipeline.volts, pipeline.elsewhere) == (False, None, 7906)
    assert (
        pipeline.why == "Does not apply: it is for pipeline coating or three-layer polyolefin, and this is tank lining."
    )


def test_every_rule_stands_side_by_side_those_that_apply_first() -> None:
    found = side_by_side(thickness_given(14, "mil"), FBE)
    assert len(found) == len(shipped_rules())
    assert [answer.applies for answer in found] == sorted((answer.applies for answer in found), reverse=True)


def test_a_lining_in_service_is_not_for_the_table_of_new_linings() -> None:
    found = said("nace-sp0188-2006", 40, "mil", Job("tank lining", condition="in service"))
    assert found.why == "Does not apply: it is for new film, and this is film in service."


@pytest.mark.parametrize("rule", shipped_rules(), ids=lambda rule: rule.id)
def test_no_rule_applies_to_a_conductive_film(rule: Any) -> None:
    found = apply(rule, thickness_given(14, "mil"), Job("tank lining", conductive=True))
    assert (found.applies, found.volts, found.elsewhere) == (False, None, None)
    assert "conductive films (zinc-rich, carbon, static-dissipative) cannot be tested" in found.why


@pytest.mark.parametrize(
    ("value", "unit", "medium", "below"),
    [
        ("10", "mil", "water", 100), ("0.254", "mm", "water", 100), ("10.01", "mil", "water", None),
        ("20", "mil", "water with wetting agent", 100), ("0.5081", "mm", "water with wetting agent", None),
    ],
)  # fmt: skip
def test_a_wet_sponge_reaches_through_10_mil_with_water_and_20_with_a_wetting_agent(
    value: str, unit: str, medium: str, below: int | None
) -> None:
    # Published: to 10 mil (0.254 mm) and 20 mil (0.508 mm), below 100 V DC.
    job = Job("tank lining", method="wet_sponge", medium=medium)
    rule = "wet-sponge-water" if medium == "water" else "wet-sponge-wetting-agent"
    found = said(rule, value, unit, job)
    assert (found.applies, found.below_volts, found.volts) == (below is not None, below, None)


def test_the_rule_of_thumb_warns() -> None:
    assert THUMB_WARNING in said("rule-of-thumb", 14, "mil", FBE).warnings


def test_figures_from_memory_say_so() -> None:
    assert MEMORY_WARNING in said("nace-sp0490", 14, "mil", FBE).warnings


@pytest.mark.parametrize(("mils", "warned"), [("4.99", True), ("5", False), ("300", False), ("300.1", True)])
def test_a_voltage_beyond_what_detectors_give_is_warned_of(mils: str, warned: bool) -> None:
    # 0.5 to 30 kV: common practice, no source. The rule of thumb gives 100 V per mil.
    assert (DETECTOR_WARNING in said("rule-of-thumb", mils, "mil", FBE).warnings) is warned


def test_a_doubtful_rule_says_why() -> None:
    assert "Editions differ: confirm with the edition that is named." in said("awwa-c213", 14, "mil", FBE).warnings


def test_twelve_micrometres_where_mils_were_meant_are_questioned_and_not_extrapolated() -> None:
    found = said("nace-sp0490", 12, "um", FBE)
    assert (
        found.why
        == "Does not apply: 12 µm is thinner than the document is for (from 10 mil to 30 mil); nothing is extrapolated."
    )
    assert any("If 12 mil was meant" in warning for warning in found.warnings)


def test_another_thickness_than_the_document_goes_by_is_warned_of() -> None:
    rule = owners(thickness_basis="specified minimum")
    found = apply(rule, thickness_given(14, "mil", "measured mean"), FBE)
    assert (
        "The document goes by specified minimum thickness; the thickness given is mean of the readings."
        in found.warnings
    )


def owners(**more: Any) -> Any:
    """An invented owner's rule: 600 V per root mil."""
    formula = {"kind": "power", "factor": 600, "exponent": "0.5"}
    body = {
        "id": "owner", "document": "Harbour Board specification", "edition": "3", "kind": "project specification",
        "provenance": "owner", "forms": [{"unit": "mil", "branches": [{"formula": formula}]}],
    }  # fmt: skip
    return rule_from_json(body | more)


def test_the_band_is_the_documents_voltage_and_its_tolerance() -> None:
    assert apply(owners(tolerance={"volts": 50}), thickness_given(16, "mil"), FBE).band == Band(2350, 2450, 2400)


def test_the_specifications_tolerance_takes_the_place_of_the_documents() -> None:
    found = apply(owners(tolerance={"volts": 50}), thickness_given(16, "mil"), FBE, tolerance_percent=10)
    assert found.band == Band(2160, 2640, 2400)


def test_without_any_tolerance_there_is_no_band() -> None:
    assert said("nace-sp0274", 40, "mil", PIPELINE).band is None


def test_the_voltage_is_rounded_as_the_owner_says() -> None:
    rule = owners(volts_rounding={"to": 100, "way": "up"})
    found = apply(rule, thickness_given(17, "mil"), FBE)
    assert (found.volts, found.unrounded) == (2500, pytest.approx(600 * math.sqrt(17), abs=0.001))


def test_a_voltage_that_rounds_to_nothing_is_no_voltage() -> None:
    assert said("rule-of-thumb", "0.001", "mil", FBE).why == "Does not apply: 100 V per mil rounds to 0 V at 0.001 mil."


def test_a_table_with_a_hole_is_not_interpolated() -> None:
    rows = [{"from": 8, "to": 11, "volts": 1500}, {"from": 12, "to": 15, "volts": 2000}]
    rule = owners(forms=[{"unit": "mil", "branches": [{"formula": {"kind": "steps", "rows": rows}}]}])
    found = apply(rule, thickness_given("11.5", "mil"), FBE)
    assert (found.volts, found.why) == (None, "No figure: the table has no row for 11.5 mil; nothing is interpolated.")


def test_the_project_specification_rules_over_the_standard() -> None:
    answers = [said("nace-sp0490", 16, "mil", FBE), apply(owners(), thickness_given(16, "mil"), FBE)]
    found = ruling(answers)
    assert found.answer is answers[1]
    assert found.why.startswith("Harbour Board specification, 3 rules: project specification")


def test_another_precedence_lets_another_document_rule() -> None:
    answers = [said("nace-sp0490", 16, "mil", FBE), apply(owners(), thickness_given(16, "mil"), FBE)]
    assert ruling(answers, ["standard", "project specification"]).answer is answers[0]


def test_two_documents_of_one_kind_do_not_rule_until_one_is_named() -> None:
    found = ruling([said("nace-sp0490", 16, "mil", FBE), said("iso-21809-2", 16, "mil", FBE)])
    assert found == (
        None,
        "2 documents of one kind apply (NACE SP0490: 2100 V; ISO 21809-2: 2032 V): the specification has to name one.",
    )


def test_a_ruling_document_without_a_figure_is_not_replaced_by_a_lower_one() -> None:
    rule = owners(forms=[])
    found = ruling([apply(rule, thickness_given(16, "mil"), FBE), said("nace-sp0490", 16, "mil", FBE)])
    assert found.answer is not None
    assert (found.answer.rule, found.answer.volts) == (rule, None)


def test_the_rule_of_thumb_never_rules_by_itself() -> None:
    assert ruling([said("rule-of-thumb", 16, "mil", FBE)]).answer is None


def test_a_precedence_of_unknown_documents_is_refused() -> None:
    with pytest.raises(ValueError, match='precedence holds "letter"; it must hold: project specification'):
        ruling([], ["letter"])


@pytest.mark.parametrize(
    ("field", "value"),
    [("family", "boat"), ("substrate", "wood"), ("condition", "old"), ("method", "ear"), ("medium", "tea")],
)
def test_a_job_of_unknown_words_is_refused_by_name(field: str, value: str) -> None:
    with pytest.raises(ValueError, match=f'{field} is "{value}"; it must be one of: '):
        Job(**{"family": "pipeline", field: value})
