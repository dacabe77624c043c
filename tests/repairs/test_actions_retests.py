"""Retests: who may settle one, by which swath, and what follows."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from rest_framework.exceptions import PermissionDenied, ValidationError

from accounts.people import Role
from repairs.state import PatchState, state
from repairs.work import Cycle, Patch, PatchFlaw, Retest
from tests.factories import AppointmentFactory, appointed
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db


def repaired(**terms: Any) -> tuple[Scene, Patch]:
    """A patch handed over for retest."""
    scene = pipe_scene(**terms)
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    scene.repair(patch)
    return scene, patch


def test_a_passed_retest_whose_swath_stands_accepts_the_patch() -> None:
    scene, patch = repaired()

    scene.retest(patch)

    assert state(patch) == PatchState.ACCEPTED


def test_the_contractor_cannot_pass_its_own_work() -> None:
    scene, patch = repaired()
    swath = scene.retest_swath(patch)
    mate = appointed(Role.CONTRACTOR, scene.asset, scene.contractor)

    with pytest.raises(PermissionDenied, match="the specification asks for another retester"):
        scene.settle(patch, swath, person=mate)
    assert state(patch) == PatchState.READY


def test_whoever_recorded_work_on_the_patch_cannot_pass_it_even_as_crew() -> None:
    scene, patch = repaired()
    swath = scene.retest_swath(patch)
    AppointmentFactory(person=scene.painter, organisation=scene.crew.organisation, asset=scene.asset, role=Role.CREW)

    with pytest.raises(PermissionDenied, match="You recorded work on Patch 1"):
        scene.settle(patch, swath, person=scene.painter)


@pytest.mark.parametrize("outcome", ["passed", "failed"])
def test_the_database_refuses_an_outcome_given_by_the_workers_own_firm(outcome: str) -> None:
    scene, _ = repaired()
    settled = {"outcome": outcome, "settled_at": scene.clock, "retester": scene.painter}

    with pytest.raises(IntegrityError, match="cycle_not_passed_by_its_worker"), transaction.atomic():
        Cycle.objects.update(**settled, retester_org=scene.contractor)


def test_the_database_refuses_a_pass_by_nobody() -> None:
    repaired()

    with (
        pytest.raises(IntegrityError, match="cycle_not_passed_by_its_worker"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("UPDATE repairs_cycle SET outcome = 'passed', settled_at = opened_at")


def test_the_contractors_own_quality_control_passes_with_a_witness_where_the_specification_allows() -> None:
    scene, patch = repaired(own_quality_control_may_retest=True)
    control = appointed(Role.CONTRACTOR, scene.asset, scene.contractor)
    swath = scene.retest_swath(patch, control)

    cycle = scene.settle(patch, swath, person=control, witness=scene.owner.email)

    assert (cycle.witness, state(patch)) == (scene.owner, PatchState.ACCEPTED)


def test_own_quality_control_without_a_witness_is_refused() -> None:
    scene, patch = repaired(own_quality_control_may_retest=True)
    control = appointed(Role.CONTRACTOR, scene.asset, scene.contractor)
    swath = scene.retest_swath(patch, control)

    with pytest.raises(ValidationError, match="name the witness"):
        scene.settle(patch, swath, person=control)


def test_a_witness_from_the_workers_own_firm_is_refused() -> None:
    scene, patch = repaired(own_quality_control_may_retest=True)
    control = appointed(Role.CONTRACTOR, scene.asset, scene.contractor)
    swath = scene.retest_swath(patch, control)

    with pytest.raises(ValidationError, match="by another organisation"):
        scene.settle(patch, swath, person=control, witness=scene.painter.email)


def test_the_witness_email_stays_out_of_the_record() -> None:
    scene, patch = repaired()
    swath = scene.retest_swath(patch)

    done = scene.perform(
        "settle_retest", scene.crew, patch, swath=str(swath.pk), outcome="passed", witness=scene.owner.email
    )

    assert scene.owner.email not in done.entry.body
    assert str(scene.owner.pk) in done.entry.body


def test_a_swath_that_leaves_a_part_of_the_patch_untested_is_refused_with_the_area() -> None:
    scene, patch = repaired()
    run = scene.open_run("retest")
    swath = scene.sweep(run, "1+003.50 to 1+004.00")

    with pytest.raises(ValidationError, match=r"leaves 200 cm² of Patch 1 untested"):
        scene.settle(patch, swath)


def test_a_survey_swath_settles_no_retest() -> None:
    scene, patch = repaired()
    run = scene.open_run("survey")
    swath = scene.sweep(run, "1+003.00 to 1+005.00")

    with pytest.raises(ValidationError, match="no swath of a retest run"):
        scene.settle(patch, swath)


def test_a_swath_from_before_the_last_work_is_refused() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    swath = scene.retest_swath(patch)
    scene.repair(patch)

    with pytest.raises(ValidationError, match="swept before the last work on Patch 1"):
        scene.settle(patch, swath)


def test_a_retest_before_the_cure_is_over_is_recorded_and_flagged() -> None:
    scene = pipe_scene(cure_before_retest_h=48.0)
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    scene.step(patch, "prepared")
    scene.step(patch, "coated", 1)
    scene.wait(hours=5)
    scene.step(patch, "coated", 2)
    scene.step(patch, "cured")
    scene.do("hand_over", scene.painter, patch)
    swath = scene.retest_swath(patch)

    done = scene.perform("settle_retest", scene.crew, patch, swath=str(swath.pk), outcome="passed")

    assert any("Retested before the cure asked for was over" in told for told in done.consequences)
    assert state(patch) == PatchState.ACCEPTED


def test_a_patch_without_work_has_no_retest_to_settle() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    swath = scene.retest_swath(patch)

    with pytest.raises(ValidationError, match="no retest to settle: Patch 1 is to do"):
        scene.settle(patch, swath)


def test_a_failed_retest_opens_the_next_cycle() -> None:
    scene, patch = repaired()

    scene.retest(patch, "failed")

    assert list(patch.cycles.order_by("number").values_list("number", "outcome")) == [(1, "failed"), (2, None)]
    assert state(patch) == PatchState.FAILED


def test_reaching_the_cycle_limit_is_flagged() -> None:
    scene, patch = repaired(cycle_limit=1)
    swath = scene.retest_swath(patch)

    done = scene.perform("settle_retest", scene.crew, patch, swath=str(swath.pk), outcome="failed")

    assert "Patch 1 has failed 1 times; the specification allows 1: the owner decides." in done.consequences


def test_what_a_failed_retest_found_inside_the_patch_is_repaired_with_it() -> None:
    scene, patch = repaired()
    run = scene.open_run("retest")
    swath = scene.sweep(run, "1+003.50 to 1+004.50")
    inside, beside = scene.flaw(run, "1+004.05 @ 3:00"), scene.flaw(run, "1+004.40 @ 3:00")
    scene.close(run)

    scene.settle(patch, swath, "failed")

    assert PatchFlaw.objects.get(flaw=inside).patch == patch
    assert not PatchFlaw.objects.filter(flaw=beside).exists()


def test_losing_the_swath_of_a_passed_retest_reopens_the_patch() -> None:
    scene, patch = repaired()
    swath = scene.retest(patch)

    scene.do("strike_run", scene.lead, swath.run, why="the lead fell off")

    assert state(patch) == PatchState.REOPENED


def test_a_reopened_patch_is_accepted_by_another_retest_without_new_work() -> None:
    scene, patch = repaired()
    swath = scene.retest(patch)
    scene.do("strike_swath", scene.lead, swath, why="the wrong patch was swept")

    scene.retest(patch)

    assert state(patch) == PatchState.ACCEPTED
    assert list(patch.cycles.order_by("number").values_list("number", "outcome")) == [(1, "passed"), (2, "passed")]


def test_a_retest_that_waits_for_its_closing_check_does_not_accept_yet() -> None:
    scene, patch = repaired()
    run = scene.open_run("retest")
    swath = scene.sweep(run, "1+003.50 to 1+004.50")
    scene.settle(patch, swath)
    before = state(patch)

    scene.close(run)

    assert (before, state(patch)) == (PatchState.RETEST_WAITS, PatchState.ACCEPTED)


def test_an_accepted_patch_is_not_passed_again() -> None:
    scene, patch = repaired()
    swath = scene.retest(patch)

    with pytest.raises(ValidationError, match="no retest to settle: Patch 1 is accepted"):
        scene.settle(patch, swath)


def test_a_cycle_given_up_leaves_the_patch_to_do() -> None:
    scene, patch = repaired()

    scene.do("abandon_cycle", scene.lead, patch, why="the product was recalled")

    assert state(patch) == PatchState.TO_DO
    assert not Retest.objects.exists()


def test_two_cycles_of_a_patch_are_never_open_at_once() -> None:
    scene, patch = repaired()

    with pytest.raises(IntegrityError), transaction.atomic():
        Cycle.objects.create(patch=patch, number=9, worker_org=scene.contractor, opened_at=scene.clock)
