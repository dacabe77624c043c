"""A check that failed and comes in late, after release: what falls is exact, and nobody has to call upwards."""

from __future__ import annotations

import pytest

from inspections.asking import asked_of
from inspections.coatings import FieldSheet
from inspections.runs import Run, Swath
from repairs.picture import zone_picture
from repairs.state import PatchState, state
from repairs.work import Patch
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db
THIRDS = ("1+000.00 to 1+007.00", "1+007.00 to 1+014.00", "1+014.00 to 1+020.00")


def three_swaths(scene: Scene, purpose: str, places: tuple[str, ...]) -> tuple[Run, int]:
    """A run that swept, checked, swept, (room for a check,) swept: with the place in the sheet left free for it."""
    run = scene.open_run(purpose)
    scene.sweep(run, places[0])
    scene.check(run, measured=2490)  # three checks alike to the digit would be asked about
    scene.sweep(run, places[1])
    free = FieldSheet.objects.get(pk=scene.sheet.pk).last_seq + 1
    scene.sweep(run, places[2], start_seq=free + 1, sheet_seq=free + 2)
    scene.close(run)
    return run, free


def standings(run: Run) -> list[str]:
    return list(Swath.objects.filter(run=run).order_by("sheet_seq").values_list("standing", flat=True))


def released() -> tuple[Scene, tuple[Run, int], tuple[Run, int], list[Patch]]:
    scene = pipe_scene()
    run = three_swaths(scene, "survey", THIRDS)
    for place in ("1+003.00 @ 3:00", "1+009.00 @ 3:00", "1+016.00 @ 3:00"):
        scene.flaw(run[0], place)
    patches = scene.issue()
    for patch in patches:
        scene.repair(patch)
    retest = three_swaths(scene, "retest", ("1+002.50 to 1+003.50", "1+008.50 to 1+009.50", "1+015.50 to 1+016.50"))
    swaths = Swath.objects.filter(run=retest[0]).order_by("sheet_seq")
    for patch, swath in zip(patches, swaths, strict=True):
        scene.settle(patch, swath)
    scene.hand_in()
    scene.release()
    return scene, run, retest, patches


def test_before_the_late_check_the_release_holds() -> None:
    scene, (run, _), (retest, _), _ = released()

    picture = zone_picture(scene.coating)

    assert standings(run) == standings(retest) == ["stands"] * 3
    assert picture.release is not None
    assert picture.release.undermined == ()


def test_a_late_low_check_loses_exactly_the_swaths_on_both_sides_of_it_and_keeps_the_flaws() -> None:
    scene, (run, free), _, _ = released()

    scene.check(run, measured=1500, sheet_seq=free)
    picture = zone_picture(scene.coating)

    assert standings(run) == ["stands", "lost", "lost"]
    assert picture.found.tested_m2 == pytest.approx(7 * 3.141592653589793)
    assert [part.said for part in picture.found.parts] == ["1+007.00 to 1+020.00"]
    assert [(flaw.tag, flaw.counted) for flaw in picture.flaws] == [("A01", True), ("A02", False), ("A03", False)]


def test_a_late_low_check_in_a_retest_run_reopens_exactly_its_patches() -> None:
    scene, _, (retest, free), patches = released()

    scene.check(retest, measured=1500, sheet_seq=free)

    assert [state(patch) for patch in patches] == [PatchState.ACCEPTED, PatchState.REOPENED, PatchState.REOPENED]
    assert [flaw.status.value for flaw in zone_picture(scene.coating).flaws] == ["accepted", "ready", "ready"]


def test_a_release_that_lost_its_ground_says_so_and_stays() -> None:
    scene, _, (retest, free), _ = released()

    scene.check(retest, measured=1500, sheet_seq=free)
    picture = zone_picture(scene.coating)

    assert picture.release is not None
    assert [gate.code for gate in picture.release.undermined] == [
        "questions",
        "coverage",
        "patches",
    ]  # the clock of the late check is asked about
    assert picture.sentence.endswith("but this does not hold any more. 0.3 m² lost, 2 flaws open.")


def test_evidence_for_the_lost_retest_brings_the_patches_and_the_release_back() -> None:
    scene, _, (retest, free), patches = released()
    scene.check(retest, measured=1500, sheet_seq=free)

    scene.do(
        "reinstate", scene.lead, retest, grounds="late check", why="second voltmeter read 2500 V before adjustment"
    )
    (asked,) = (each for each in asked_of([scene.coating])[scene.coating.pk] if each.is_open)
    given = {"key": asked.question.key, "verdict": "explained", "why": "the check was written in later, from the card"}
    scene.do("answer_question", scene.lead, scene.coating, **given)
    picture = zone_picture(scene.coating)

    assert {state(patch) for patch in patches} == {PatchState.ACCEPTED}
    assert picture.release is not None
    assert picture.release.undermined == ()
