"""The closing check of a retest is struck out after release: exactly what hung on it falls, and nothing else."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from inspections.flaws import Flaw
from inspections.runs import Run, Swath, Verification
from inspections.tested import differences
from repairs.picture import ZonePicture, zone_picture
from repairs.state import PatchState, state
from repairs.work import Patch
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db
FLAWS = ("1+003.00 @ 3:00", "1+009.00 @ 3:00", "1+016.00 @ 3:00")
RETESTED = ("1+002.50 to 1+003.50", "1+008.50 to 1+009.50", "1+015.50 to 1+016.50")


class Released(NamedTuple):
    """A released zone with three patches, retested in one run: one before its check in between, two after it."""

    scene: Scene
    survey: Run
    retest: Run
    patches: list[Patch]

    def strike_closing_check(self) -> ZonePicture:
        closing = Verification.objects.get(run=self.retest, phase="end")
        self.scene.do("strike_verification", self.scene.lead, closing, why="Read on another instrument.")
        return zone_picture(self.scene.coating)


def released() -> Released:
    scene = pipe_scene()
    survey = scene.survey(flaws=FLAWS)
    patches = scene.issue()
    for patch in patches:
        scene.repair(patch)
    retest = scene.open_run("retest")
    scene.sweep(retest, RETESTED[0])
    scene.check(retest, measured=2490)  # three alike to the digit would be asked about
    scene.sweep(retest, RETESTED[1])
    scene.sweep(retest, RETESTED[2])
    scene.close(retest)
    for patch, swath in zip(patches, Swath.objects.filter(run=retest).order_by("sheet_seq"), strict=True):
        scene.settle(patch, swath)
    scene.hand_in()
    scene.release()
    return Released(scene, survey, retest, patches)


def standings(run: Run) -> list[tuple[str, str]]:
    return list(Swath.objects.filter(run=run).order_by("sheet_seq").values_list("standing", "cause"))


def test_exactly_the_swaths_after_the_last_good_check_are_lost() -> None:
    there = released()

    there.strike_closing_check()

    assert [standing for standing, _ in standings(there.retest)] == ["stands", "lost", "lost"]
    assert [standing for standing, _ in standings(there.survey)] == ["stands"]


def test_every_flaw_stays_and_counts_as_before() -> None:
    there = released()

    picture = there.strike_closing_check()

    assert not Flaw.objects.filter(struck_at__isnull=False).exists()
    assert [(flaw.tag, flaw.counted) for flaw in picture.flaws] == [("A01", True), ("A02", True), ("A03", True)]


def test_exactly_the_patches_accepted_by_those_swaths_reopen() -> None:
    there = released()

    picture = there.strike_closing_check()

    assert [state(patch) for patch in there.patches] == [PatchState.ACCEPTED, PatchState.REOPENED, PatchState.REOPENED]
    assert [flaw.status.value for flaw in picture.flaws] == ["accepted", "ready", "ready"]


def test_the_release_stays_and_says_what_it_lost() -> None:
    there = released()

    picture = there.strike_closing_check()

    assert picture.release is not None
    assert [gate.code for gate in picture.release.undermined] == ["coverage", "patches"]
    assert picture.left is not None
    # A point, 0.1 m of overlap and 0.1 m of margin: 0.2 m to each side, which is 0.2 / pi * 12 h = 45 min 50 s around.
    assert [(part.kind, part.said) for part in picture.left.parts] == [
        ("lost", "1+008.80 to 1+009.20, 2:14:09 to 3:45:51"),
        ("lost", "1+015.80 to 1+016.20, 2:14:09 to 3:45:51"),
    ]


def test_what_is_stored_is_what_is_computed_anew() -> None:
    there = released()

    there.strike_closing_check()

    assert list(differences(there.scene.asset.pk)) == []
