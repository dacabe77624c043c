"""Issuing patches from open flaws and striking them out."""

from __future__ import annotations

import pytest
from rest_framework.exceptions import PermissionDenied, ValidationError

from repairs.work import PatchFlaw
from tests.factories import OrganisationFactory
from tests.scenes import pipe_scene

pytestmark = pytest.mark.django_db


def test_flaws_whose_footprints_overlap_become_one_patch_numbered_along_the_zone() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+010.00 @ 6:00", "1+004.00 @ 3:00", "1+004.15 @ 3:00"])

    patches = scene.issue()

    assert [(patch.number, patch.patch_flaws.count()) for patch in patches] == [(1, 2), (2, 1)]
    assert [patch.said for patch in patches] == [
        "1+003.90 to 1+004.25, 2:37:04 to 3:22:56",
        "1+009.90 to 1+010.10, 5:37:04 to 6:22:56",
    ]
    assert patches[0].area == pytest.approx(0.35 * 0.2)


def test_a_patch_over_the_seam_is_one_patch() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 12:00"])

    (patch,) = scene.issue()

    assert patch.area == pytest.approx(0.04)
    assert patch.said == "1+003.90 to 1+004.10, 11:37:04 to 12:22:56"


def test_only_the_proposals_that_hold_a_named_flaw_are_issued() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    scene.sweep(run, "whole zone")
    near, far = scene.flaw(run, "1+004.00 @ 3:00"), scene.flaw(run, "1+010.00 @ 6:00")
    scene.close(run)

    (patch,) = scene.issue(far)

    assert list(patch.patch_flaws.values_list("flaw", flat=True)) == [far.pk]
    assert [later.patch_flaws.get().flaw_id for later in scene.issue()] == [near.pk]


def test_a_flaw_in_a_patch_cannot_be_issued_again() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()

    with pytest.raises(ValidationError, match="A01: in a patch already"):
        scene.issue(patch.patch_flaws.get().flaw)


def test_false_indications_and_repeats_get_no_patch() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    scene.sweep(run, "whole zone")
    scene.flaw(run, "1+004.00 @ 3:00", kind="false indication")
    first, again = scene.flaw(run, "1+008.00 @ 3:00"), scene.flaw(run, "1+012.00 @ 3:00")
    scene.do("same_flaw", scene.crew, again, as_flaw=str(first.pk))

    assert [patch.patch_flaws.get().flaw_id for patch in scene.issue()] == [first.pk]


def test_patches_go_only_to_a_contractor_appointed_on_the_asset() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    stranger = OrganisationFactory()

    with pytest.raises(ValidationError, match=f"Appointed: {scene.contractor.name}"):
        scene.do("issue_patches", scene.lead, scene.coating, contractor=str(stranger.pk))


def test_the_crew_does_not_issue_patches() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])

    with pytest.raises(PermissionDenied):
        scene.do("issue_patches", scene.crew, scene.coating, contractor=str(scene.contractor.pk))


def test_striking_a_patch_frees_its_flaws_for_another_with_the_next_number() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()

    scene.do("strike_patch", scene.lead, patch, why="the wrong contractor")
    (second,) = scene.issue()

    assert second.number == 2
    assert PatchFlaw.objects.filter(flaw=second.patch_flaws.get().flaw).count() == 2


def test_a_patch_whose_work_has_begun_is_not_struck_out() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    scene.step(patch, "prepared")

    with pytest.raises(ValidationError, match="Work on Patch 1 has begun"):
        scene.do("strike_patch", scene.lead, patch, why="too late")


def test_a_flaw_found_after_work_began_makes_a_patch_of_its_own() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (first,) = scene.issue()
    scene.step(first, "prepared")
    scene.survey("1+003.00 to 1+005.00", flaws=["1+004.15 @ 3:00"])

    (second,) = scene.issue()

    assert second.number == 2
    first.refresh_from_db()
    assert first.area == pytest.approx(0.04)
