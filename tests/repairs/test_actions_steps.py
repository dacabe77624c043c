"""Steps of a repair, handing over, and striking steps out."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from rest_framework.exceptions import PermissionDenied, ValidationError

from accounts.acting import perform
from accounts.people import Role
from repairs.state import PatchState, state
from repairs.work import Patch
from tests.factories import OrganisationFactory, appointed
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db


@pytest.fixture
def begun() -> tuple[Scene, Patch]:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    return scene, patch


def told(scene: Scene, patch: Patch, **given: object) -> tuple[object, ...]:
    return scene.perform("record_step", scene.painter, patch, **given).consequences


def test_the_first_step_opens_the_first_cycle_for_the_contractor(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun

    step = scene.step(patch, "prepared")

    assert (step.cycle.number, step.cycle.worker_org) == (1, scene.contractor)


def test_a_step_inside_its_window_is_recorded_without_a_flag(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    scene.step(patch, "prepared")

    assert told(scene, patch, kind="coated", coat=1, product="Ferrobond P", wet="300 µm") == ()


def test_a_coat_put_on_too_early_is_recorded_and_flagged(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    scene.step(patch, "prepared")
    scene.step(patch, "coated", 1)
    scene.wait(hours=1)

    assert told(scene, patch, kind="coated", coat=2) == ("Coat 2 of 2, topcoat came 3.0 h too early.",)


def test_a_coat_put_on_too_late_is_recorded_and_flagged(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    scene.step(patch, "prepared")
    scene.step(patch, "coated", 1)
    scene.wait(hours=30)

    assert told(scene, patch, kind="coated", coat=2) == ("Coat 2 of 2, topcoat came 6.0 h too late.",)


def test_another_product_than_specified_is_recorded_and_flagged(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    scene.step(patch, "prepared")

    assert told(scene, patch, kind="coated", coat=1, product="Oldpaint") == (
        "Product Oldpaint; the specification asks for Ferrobond P.",
    )


def test_a_coat_that_is_not_specified_is_refused(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun

    with pytest.raises(ValidationError, match="Coat 3 is not in the specification: 1 to 2 are allowed"):
        scene.step(patch, "coated", 3)


def test_a_coat_without_its_number_is_refused(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun

    with pytest.raises(ValidationError, match="Say which repair coat"):
        scene.step(patch, "coated")


def test_a_step_in_the_future_is_refused(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    tomorrow = (timezone.now() + timedelta(days=1)).isoformat()

    with pytest.raises(ValidationError, match="lies in the future"):
        scene.step(patch, "prepared", at=tomorrow)


def test_another_contractor_cannot_record_work_on_the_patch(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    rival = appointed(Role.CONTRACTOR, scene.asset, OrganisationFactory())

    with pytest.raises(PermissionDenied, match="Patch 1 is issued to"):
        scene.do("record_step", rival, patch, kind="prepared")


def test_sending_a_step_twice_records_it_once(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    step = scene.step(patch, "prepared")

    again = perform("record_step", scene.painter, patch.pk, {"kind": "prepared"}, operation=step.pk)

    assert (again.status, patch.cycles.get().steps.count()) == ("already", 1)


def test_handing_over_names_what_is_missing(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    scene.step(patch, "prepared")
    scene.step(patch, "coated", 1)

    with pytest.raises(ValidationError, match=r"Not recorded: coat 2 \(topcoat\), cured"):
        scene.do("hand_over", scene.painter, patch)


def test_a_patch_prepared_again_after_its_last_coat_is_coated_again_before_handing_over(
    begun: tuple[Scene, Patch],
) -> None:
    scene, patch = begun
    scene.work(patch)
    scene.step(patch, "prepared")

    with pytest.raises(ValidationError, match="Coat 1 of 2, primer after the surface was prepared again"):
        scene.do("hand_over", scene.painter, patch)


def test_a_patch_with_every_coat_and_cured_is_handed_over(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    scene.repair(patch)

    assert state(patch) == PatchState.READY


def test_a_patch_is_handed_over_once(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    scene.repair(patch)

    with pytest.raises(ValidationError, match="cannot be handed over: it is ready for retest"):
        scene.do("hand_over", scene.painter, patch)


def test_a_late_step_goes_to_the_cycle_it_was_done_in_and_is_flagged(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    scene.repair(patch)
    during = scene.clock.isoformat()
    scene.retest(patch)

    done = scene.perform("record_step", scene.painter, patch, kind="cured", at=during)

    assert (done.made.cycle.number, state(patch)) == (1, PatchState.ACCEPTED)
    assert "Recorded after Patch 1, cycle 1 was settled (passed)." in done.consequences


def test_work_on_an_accepted_patch_opens_another_cycle(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    scene.repair(patch)
    scene.retest(patch)

    step = scene.step(patch, "prepared")

    assert (step.cycle.number, state(patch)) == (2, PatchState.BEGUN)


def test_striking_the_step_that_opened_a_cycle_brings_back_what_was_before(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    scene.repair(patch)
    scene.retest(patch)
    step = scene.step(patch, "prepared")

    scene.do("strike_step", scene.lead, step, why="another patch was meant")

    assert state(patch) == PatchState.ACCEPTED


def test_the_contractor_strikes_its_own_step_on_the_same_day(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    now = timezone.now()
    step = perform("record_step", scene.painter, patch.pk, {"kind": "prepared"}, device_at=now).made

    perform("strike_step", scene.painter, step.pk, {"why": "not done yet"})

    assert state(patch) == PatchState.TO_DO


def test_a_step_recorded_in_place_of_a_struck_one_begins_the_work_even_when_it_was_earlier(
    begun: tuple[Scene, Patch],
) -> None:
    scene, patch = begun
    earlier = scene.clock.isoformat()
    step = scene.step(patch, "prepared")
    scene.do("strike_step", scene.lead, step, why="the time was wrong")

    scene.step(patch, "prepared", at=earlier)

    assert state(patch) == PatchState.BEGUN


def test_the_contractor_does_not_strike_a_step_of_another_day(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    step = scene.step(patch, "prepared")

    with pytest.raises(PermissionDenied, match="not of today"):
        scene.do("strike_step", scene.painter, step, why="too late")


def test_the_contractor_does_not_strike_a_step_somebody_else_recorded(begun: tuple[Scene, Patch]) -> None:
    scene, patch = begun
    mate = appointed(Role.CONTRACTOR, scene.asset, scene.contractor)
    step = perform("record_step", mate, patch.pk, {"kind": "prepared"}).made

    with pytest.raises(PermissionDenied, match="recorded by somebody else"):
        perform("strike_step", scene.painter, step.pk, {"why": "not mine"})
