"""The owner's decisions: concessions, release and its withdrawal."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction
from rest_framework.exceptions import PermissionDenied, ValidationError

from accounts.acting import perform
from accounts.people import Person
from accounts.record import Entry, Record
from repairs.picture import zone_picture
from repairs.release import Release
from repairs.state import PatchState, state
from tests.scenes import Scene, pipe_scene, releasable_scene

pytestmark = pytest.mark.django_db


def gate(scene: Scene, code: str) -> str:
    return next(each.state for each in zone_picture(scene.coating).gates if each.code == code)


def test_a_zone_whose_gates_are_all_green_is_released_with_the_gates_and_the_head_of_the_record() -> None:
    scene = releasable_scene()
    head = Record.objects.get(pk=scene.asset.pk).head

    release = scene.release("inspect again within a year")

    assert {row["state"] for row in release.gates} == {"green"}
    assert all(row["evidence"] and row["evidence"][0]["who"] for row in release.gates_with_names())
    assert (release.head_seq, release.head_hash) == head
    assert release.conditions == "inspect again within a year"


def test_the_entry_of_a_release_names_nobody() -> None:
    scene = releasable_scene()
    scene.release()
    told = Entry.objects.get(record=scene.asset.pk, what="release_zone").body
    people = Person.objects.values_list("name", flat=True)
    assert "flaw classified" in told
    assert [name for name in people if name in told] == []


def test_release_is_refused_while_a_gate_is_red_and_names_it() -> None:
    scene = pipe_scene()
    scene.survey("1+000.00 to 1+010.00")

    with pytest.raises(ValidationError, match="Required coverage: Finished system, as left: 31.4 m² not tested"):
        scene.release()
    assert not Release.objects.exists()


def test_only_the_owner_releases() -> None:
    scene = releasable_scene()

    with pytest.raises(PermissionDenied):
        scene.do("release_zone", scene.lead, scene.coating)


def test_a_token_that_may_not_decide_does_not_release() -> None:
    scene = releasable_scene()

    with pytest.raises(PermissionDenied, match="may not decide"):
        perform("release_zone", scene.owner, scene.coating.pk, {}, may_decide=False)


def test_a_released_zone_is_not_released_twice() -> None:
    scene = releasable_scene()
    scene.release()

    with pytest.raises(ValidationError, match="released already"):
        scene.release()


def test_a_withdrawn_release_stays_with_its_reason_and_the_zone_can_be_released_again() -> None:
    scene = releasable_scene()
    release = scene.release()

    scene.do("withdraw_release", scene.owner, scene.coating, why="leak at the flange")
    release.refresh_from_db()
    again = scene.release()

    assert (release.withdrawn_by, release.withdrawn_why) == (scene.owner, "leak at the flange")
    assert again.pk != release.pk


def test_a_release_that_is_not_there_is_not_withdrawn() -> None:
    scene = pipe_scene()

    with pytest.raises(ValidationError, match="not released"):
        scene.do("withdraw_release", scene.owner, scene.coating, why="none")


def test_the_database_refuses_a_withdrawal_without_a_reason() -> None:
    scene = releasable_scene()
    scene.release()

    with pytest.raises(IntegrityError, match="release_withdrawn_whole"), transaction.atomic():
        Release.objects.update(withdrawn_at=scene.clock, withdrawn_by=scene.owner)


def test_a_conceded_patch_passes_its_gate_and_its_flaw_counts_as_conceded() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    scene.hand_in()

    scene.do("concede", scene.owner, scene.coating, patch=str(patch.pk), reason="above ground, inspected yearly")
    picture = zone_picture(scene.coating)

    assert state(patch) == PatchState.CONCEDED
    assert [flaw.status.value for flaw in picture.flaws] == ["conceded"]
    assert picture.open_flaws == 0
    assert picture.may_release


def test_a_conceded_gate_turns_green_and_says_why() -> None:
    scene = pipe_scene()
    scene.survey("1+000.00 to 1+019.00")
    scene.hand_in()

    scene.do("concede", scene.owner, scene.coating, gate="coverage", reason="the last metre is cast in")

    (coverage,) = [each for each in zone_picture(scene.coating).gates if each.code == "coverage"]
    assert coverage.state == "green"
    assert coverage.sentence.startswith("Conceded because the last metre is cast in.")


def test_a_concession_taken_back_no_longer_counts() -> None:
    scene = pipe_scene()
    scene.survey("1+000.00 to 1+019.00")
    concession = scene.do("concede", scene.owner, scene.coating, gate="coverage", reason="cast in")
    before = gate(scene, "coverage")

    scene.do("strike_concession", scene.owner, concession, why="it is not")

    assert (before, gate(scene, "coverage")) == ("green", "red")


@pytest.mark.parametrize("both", [True, False])
def test_a_concession_is_of_one_thing(both: bool) -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    given = {"patch": str(patch.pk), "gate": "coverage"} if both else {}

    with pytest.raises(ValidationError, match="Name one thing"):
        scene.do("concede", scene.owner, scene.coating, reason="unclear", **given)


def test_the_same_gate_is_not_conceded_twice() -> None:
    scene = pipe_scene()
    scene.do("concede", scene.owner, scene.coating, gate="cure", reason="cold spell")

    with pytest.raises(ValidationError, match="conceded already"):
        scene.do("concede", scene.owner, scene.coating, gate="cure", reason="again")


def test_the_lead_inspector_grants_no_concession() -> None:
    scene = pipe_scene()

    with pytest.raises(PermissionDenied):
        scene.do("concede", scene.lead, scene.coating, gate="cure", reason="not mine to give")
