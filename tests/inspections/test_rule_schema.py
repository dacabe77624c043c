"""Voltage rules read from JSON: what is refused by name, and that what is shipped reads."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

import inspections
from inspections.rule_schema import RuleRefused, rule_from_json, shipped_bodies, shipped_rule, shipped_rules
from inspections.voltage_formulas import thickness_given

OWNERS: dict[str, Any] = {
    "id": "northern-water-7",
    "document": "Northern Water coating schedule",
    "edition": "7",
    "kind": "project specification",
    "provenance": "owner",
    "scope": {"families": ["tank lining"], "conditions": ["new"]},
    "forms": [
        {
            "unit": "um",
            "branches": [
                {
                    "formula": {
                        "kind": "steps",
                        "rows": [
                            {"from": 0, "from_in": False, "to": 250, "volts": 1800},
                            {"from": 250, "from_in": False, "to": 500, "volts": 2600},
                            {"from": 500, "from_in": False, "to": 900.5, "volts": "4200"},
                        ],
                    }
                }
            ],
        }
    ],
    "tolerance": {"percent": 5},
    "volts_rounding": {"to": 100, "way": "up"},
}


def changed(path: str, value: object) -> dict[str, Any]:
    """The owner's rule with one field changed; the path is its names and places joined by points."""
    body: Any = copy.deepcopy(OWNERS)
    *inner, last = path.split(".")
    at = body
    for name in inner:
        at = at[int(name)] if name.isdigit() else at[name]
    at[int(last) if last.isdigit() else last] = value
    return body


ROWS = "forms.0.branches.0.formula.rows"


def test_an_owners_table_is_read() -> None:
    rule = rule_from_json(OWNERS)
    assert rule.name == "Northern Water coating schedule, 7"
    steps = rule.forms[0].branches[0].formula
    assert [steps.volts(thickness_given(um, "um"))[0] for um in (250, "250.1", "900.5")] == [1800, 2600, 4200]  # type: ignore[union-attr]


@pytest.mark.parametrize("rule", shipped_rules(), ids=lambda rule: rule.id)
def test_every_shipped_rule_says_where_its_figures_come_from(rule: Any) -> None:
    assert rule.provenance in ("published", "from memory", "common practice")


def test_rules_whose_tables_are_not_ours_are_shipped_without_figures() -> None:
    assert {rule.id for rule in shipped_rules() if not rule.forms} == {
        "astm-g62-b-2023", "nace-sp0188-2024", "astm-d5162", "astm-d4787", "iso-29601", "as-3894-1",
    }  # fmt: skip


def test_a_body_copied_into_a_specification_reads_as_the_shipped_rule() -> None:
    assert rule_from_json(shipped_bodies()["nace-sp0490"]) == shipped_rule("nace-sp0490")


def test_the_name_of_a_file_is_the_id_of_its_rule() -> None:
    names = {path.stem for path in (Path(inspections.__file__).parent / "rules").iterdir()}
    assert names == {rule.id for rule in shipped_rules()}


def test_a_rule_that_is_not_shipped_is_answered_with_those_that_are() -> None:
    with pytest.raises(KeyError, match='rule "sp-1" is not one of: as-3894-1, astm-d4787'):
        shipped_rule("sp-1")


@pytest.mark.parametrize(
    ("path", "value", "problem"),
    [
        ("document", "", 'document is ""; it must be text of 1 to 200 characters'),
        ("kind", "letter", 'kind is "letter"; it must be one of: project specification, product data sheet, standard'),
        (
            "scope.families",
            ["boat"],
            'scope.families is \\["boat"\\]; it must be a list of: pipeline, fusion-bonded epoxy',
        ),
        ("scope.colour", "red", 'scope: has an unknown field "colour"; it may have: conditions, families'),
        ("forms", {}, "forms is {}; it must be a list of objects"),
        ("forms.0.unit", "inch", r'forms\[0\].unit is "inch"; it must be one of: um, mm, mil'),
        ("forms.0.branches", [], r"forms\[0\].branches is \[\]; it must be a list of at least one object"),
        (
            "forms.0.branches.0.formula",
            {"kind": "exp"},
            r'forms\[0\].branches\[0\].formula.kind is "exp"; it must be one of: power, per unit, steps, below',
        ),
        (
            "forms.0.branches.0.formula",
            {"kind": "power", "factor": "525"},
            r"formula.exponent is absent; it must be a number above 0",
        ),
        (
            "forms.0.branches.0.formula",
            {"kind": "power", "factor": "525", "exponent": "3"},
            r'formula.exponent is "3"; it must be above 0 and at most 2',
        ),
        (f"{ROWS}.1.volts", -5, r"rows\[1\].volts is -5; it must be a number above 0"),
        (f"{ROWS}.1.volts", True, r"rows\[1\].volts is true; it must be a number above 0"),
        (f"{ROWS}.1.volts", "1e9999999", r'rows\[1\].volts is "1e9999999"; it must be a number above 0'),
        (f"{ROWS}.1.volts", float("inf"), r"rows\[1\].volts is Infinity; it must be a number"),
        (f"{ROWS}.1.volts", 1700, r"rows\[1\].volts is 1700; it must be not below the row before, 1800"),
        (f"{ROWS}.1.from_in", "no", r'rows\[1\].from_in is "no"; it must be true or false'),
        (f"{ROWS}.1.to", 200, r"rows\[1\].to is 200; it must be not below from, 250"),
        (
            f"{ROWS}.1.from",
            240,
            r"rows\[1\] is above 240 µm to 500 µm; it must begin after rows\[0\] ends, which is above 0 µm to 250 µm",
        ),
        (f"{ROWS}.1.from_in", True, r"rows\[1\] is from 250 µm to 500 µm; it must begin after rows\[0\] ends"),
        ("tolerance", {"percent": 100}, "tolerance.percent is 100; it must be from 0 to below 100"),
        ("tolerance", {"percent": 5, "volts": 50}, "tolerance: give percent or volts, one of the two"),
        ("tolerance", {}, "tolerance: give percent or volts, one of the two"),
        ("volts_rounding.to", "2.5", 'volts_rounding.to is "2.5"; it must be a whole number of volts'),
        ("volts_rounding.way", "sideways", 'volts_rounding.way is "sideways"; it must be one of: nearest, up, down'),
        ("thickness_basis", "eyed", 'thickness_basis is "eyed"; it must be one of: nominal, specified minimum'),
        ("thickness_range", {"unit": "mm", "from": "x"}, 'thickness_range.from is "x"; it must be a number from 0 up'),
        ("formula", "V = 3T", 'the rule: has an unknown field "formula"'),
    ],
)
def test_a_wrong_field_is_refused_with_its_name_value_and_what_is_allowed(
    path: str, value: object, problem: str
) -> None:
    with pytest.raises(RuleRefused, match=problem):
        rule_from_json(changed(path, value))


def test_every_problem_is_told_at_once() -> None:
    body = changed("kind", "letter") | {"document": None, "tolerance": {"percent": "many"}}
    with pytest.raises(RuleRefused) as refused:
        rule_from_json(body)
    assert [problem.split(" is ")[0] for problem in refused.value.problems[:3]] == [
        "document",
        "kind",
        "tolerance.percent",
    ]


def test_two_forms_in_one_unit_are_refused() -> None:
    with pytest.raises(RuleRefused, match="forms has 2 forms in um; it must have one a unit"):
        rule_from_json(OWNERS | {"forms": OWNERS["forms"] * 2})


def test_a_range_of_voltage_upside_down_is_refused() -> None:
    with pytest.raises(RuleRefused, match="volts_to is 900; it must not be below volts_from, 20000"):
        rule_from_json(OWNERS | {"volts_from": 20000, "volts_to": 900})


@pytest.mark.parametrize("body", [None, [], "525*sqrt(T)", 3])
def test_what_is_no_rule_at_all_is_refused(body: object) -> None:
    with pytest.raises(RuleRefused, match="it must be an object"):
        rule_from_json(body)
