"""Drafts are worked out by the lead and issued by the owner; rules are copied; runs take their voltage from them."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.exceptions import PermissionDenied, ValidationError

from accounts.acting import perform
from accounts.people import Role
from inspections.rule_library import OWN, VoltageRule
from inspections.runs import Run, Swath
from inspections.specifications import Specification, SpecificationDraft
from tests.factories import AppointmentFactory, PersonFactory
from tests.scenes import TERMS, Scene, pipe_scene

pytestmark = pytest.mark.django_db

TABLE = {
    "document": "Works standard W-12",
    "edition": "2024",
    "unit": "um",
    "steps": [
        {"thickness_from": "300", "thickness_to": "500", "volts": "2000"},
        {"thickness_from": "501", "thickness_to": "900", "volts": "3500"},
    ],
    "tolerance_percent": "4",
}


def draft_of(scene: Scene, **changed: Any) -> SpecificationDraft:
    body = {**TERMS.to_json(), **changed}
    return perform(
        "draft_specification", scene.lead, scene.asset.pk, {"name": "Lining", "edition": "2", "body": body}
    ).made


def own_rule(scene: Scene, **changed: Any) -> VoltageRule:
    keeper = PersonFactory(organisation=scene.asset.organisation)
    AppointmentFactory(person=keeper, role=Role.OWNER)
    return perform("add_rule", keeper, scene.asset.organisation_id, {**TABLE, **changed}).made


def test_a_draft_may_lack_anything_but_its_name() -> None:
    scene = pipe_scene()
    made = perform("draft_specification", scene.lead, scene.asset.pk, {"name": "Lining"}).made

    assert (made.edition, made.body, made.is_open) == ("", {}, True)


def test_a_draft_keeps_quantities_as_they_were_said() -> None:
    scene = pipe_scene()
    stages = [{"name": "finished system", "dft_nominal": "20 mil"}]
    made = perform(
        "draft_specification", scene.lead, scene.asset.pk, {"name": "Lining", "body": {"stages": stages}}
    ).made

    assert made.body["stages"] == stages


def test_a_draft_refuses_what_cannot_be_by_name() -> None:
    scene = pipe_scene()
    with pytest.raises(ValidationError) as refused:
        draft_of(scene, method="x-ray")

    assert "method" in refused.value.detail["body"]  # type: ignore[index,call-overload]


def test_the_lead_does_not_issue_a_draft() -> None:
    scene = pipe_scene()
    with pytest.raises(PermissionDenied, match="asset owner"):
        perform("issue_draft", scene.lead, draft_of(scene).pk, {})


def test_the_owner_issues_a_complete_draft_as_it_stands() -> None:
    scene = pipe_scene()
    draft = draft_of(scene)
    made = perform("issue_draft", scene.owner, draft.pk, {}).made

    draft.refresh_from_db()
    assert made.terms == TERMS
    assert draft.issued == made


def test_an_incomplete_draft_is_not_issued_and_says_what_it_lacks() -> None:
    scene = pipe_scene()
    draft = perform("draft_specification", scene.lead, scene.asset.pk, {"name": "Lining", "edition": "1"}).made
    with pytest.raises(ValidationError) as refused:
        perform("issue_draft", scene.owner, draft.pk, {})

    assert {"stages", "method"} <= set(refused.value.detail["body"])  # type: ignore[index,call-overload]


def test_an_issued_draft_changes_no_more() -> None:
    scene = pipe_scene()
    draft = draft_of(scene)
    perform("issue_draft", scene.owner, draft.pk, {})
    with pytest.raises(ValidationError, match="has been issued"):
        perform("amend_draft", scene.lead, draft.pk, {"name": "Other"})


def test_a_conducting_film_is_not_tested_by_high_voltage() -> None:
    scene = pipe_scene()
    draft = draft_of(scene, conductive=True)
    with pytest.raises(ValidationError, match="cannot be tested through"):
        perform("issue_draft", scene.owner, draft.pk, {})


def test_two_standards_that_apply_are_not_issued_before_one_is_named() -> None:
    scene = pipe_scene()
    thick = [{"name": "finished system", "dft_nominal": "30 mil", "dft_minimum": "25 mil"}]
    draft = draft_of(scene, stages=thick, stated_volts=None, voltage_rules=["astm-g62-b-2014", "nace-sp0274"])
    with pytest.raises(ValidationError, match="has to name one"):
        perform("issue_draft", scene.owner, draft.pk, {})


def test_a_specification_keeps_its_copy_of_a_rule_that_got_a_later_version() -> None:
    scene = pipe_scene()
    rule = own_rule(scene)
    issued = perform(
        "issue_draft",
        scene.owner,
        draft_of(scene, stated_volts=None, voltage_tolerance_percent=None, voltage_rules=[f"{OWN}{rule.pk}"]).pk,
        {},
    ).made
    perform("new_rule_version", rule.added_by, rule.pk, {**TABLE, "edition": "2025"})

    assert Specification.objects.get(pk=issued.pk).terms.rules[0].name == "Works standard W-12, 2024"


def test_a_replaced_rule_takes_no_second_version() -> None:
    scene = pipe_scene()
    rule = own_rule(scene)
    later = perform("new_rule_version", rule.added_by, rule.pk, TABLE).made

    assert later.number == 2
    with pytest.raises(ValidationError, match="later version"):
        perform("new_rule_version", rule.added_by, rule.pk, TABLE)


def test_a_table_whose_steps_overlap_is_refused_at_its_steps() -> None:
    steps = [
        {"thickness_from": "300", "thickness_to": "500", "volts": "2000"},
        {"thickness_from": "400", "thickness_to": "900", "volts": "3500"},
    ]
    with pytest.raises(ValidationError) as refused:
        own_rule(pipe_scene(), steps=steps)

    assert list(refused.value.detail) == ["steps"]  # type: ignore[arg-type]


def ruled_scene() -> Scene:
    """A scene whose coating goes by the owner's own table: 2000 V to 500 µm, 3500 V from 501 to 900 µm, ± 4 %."""
    scene = pipe_scene()
    rule = own_rule(scene)
    draft = draft_of(scene, stated_volts=None, voltage_tolerance_percent=None, voltage_rules=[f"{OWN}{rule.pk}"])
    specification = perform("issue_draft", scene.owner, draft.pk, {}).made
    scene.do("end_coating", scene.owner, scene.coating, why="Recoated.")
    scene.coating = scene.do("begin_coating", scene.owner, scene.zone, specification=str(specification.pk))
    scene.take_sheet()
    return scene


def test_a_run_takes_voltage_and_band_from_the_rule_for_the_thickness_given() -> None:
    run = ruled_scene().open_run(thickness="600 µm", set_volts=3500)

    assert (run.asked_volts, run.band_low, run.band_high) == (3500, 3360, 3640)
    assert (run.ruling_document, run.rule_edition, run.rule_provenance, run.rule_unit) == (
        "Works standard W-12, 2024",
        "2024",
        "owner",
        "um",
    )


def test_without_a_thickness_the_run_goes_by_the_nominal_one() -> None:
    assert ruled_scene().open_run(set_volts=2000).asked_volts == 2000


def test_ground_is_held_where_the_rule_gives_no_voltage() -> None:
    scene = ruled_scene()
    run: Run = scene.open_run(thickness="2 mm")
    swath: Swath = scene.sweep(run, "whole zone")
    scene.check(run, phase="end")

    swath.refresh_from_db()
    assert run.asked_volts is None
    assert swath.standing == "held"
