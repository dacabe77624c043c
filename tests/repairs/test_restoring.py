"""The smallest set of sweeps, spots and repairs that brings every gate back, shown by judging the gates with it done."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from shapely import union_all

from inspections.terms import Stage
from repairs.restoring import ZoneSet, restoring
from repairs.trace import ALWAYS, Period, trace
from repairs.trace_subjects import find_subject
from repairs.what_if import what_if
from tests.repairs.test_what_if import gauge_of
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]
THIRDS = ("1+000.00 to 1+007.00", "1+007.00 to 1+014.00", "1+014.00 to 1+020.00")


def asked(scene: Scene, kind: Any, row: Any, period: Period = ALWAYS) -> ZoneSet:
    (found,) = restoring(what_if(trace(scene.owner, find_subject(scene.owner, kind, row.pk), period)))
    return found


def released() -> Scene:
    """Swept in three presses, two flaws repaired and retested one by one a day and more later, released."""
    scene = pipe_scene()
    run = scene.open_run()
    for place in THIRDS:
        scene.sweep(run, place)
    for place in ("1+004.00 @ 3:00", "1+006.00 @ 3:00"):
        scene.flaw(run, place)
    scene.close(run)
    for patch in scene.issue():
        scene.repair(patch)
        scene.retest(patch)
    scene.hand_in()
    scene.release()
    return scene


def test_all_ground_comes_back_as_it_was_swept_and_one_retest_serves_two_patches() -> None:
    scene = released()

    found = asked(scene, "instrument", scene.detector)

    assert [sweep.said for sweep in found.sweeps if sweep.purpose == "survey"] == list(THIRDS)
    # Both patches lie in the first third: one press of it in a retest run covers both.
    assert [[patch.number for patch in sweep.patches] for sweep in found.sweeps if sweep.purpose == "retest"] == [
        [1, 2]
    ]
    assert found.proven
    assert not found.shut
    assert [gate.code for gate in found.restored] == ["coverage", "contract", "patches"]


def test_ground_that_another_standing_swath_covers_is_not_swept_again() -> None:
    scene = pipe_scene()
    scene.survey("1+000.00 to 1+012.00")
    scene.wait(hours=48)
    scene.survey("1+010.00 to 1+020.00")

    found = asked(scene, "instrument", scene.detector, Period(since=date(2025, 3, 4)))

    # Of 10 m of a pipe of 1 m, 2 m stand by the first run.
    assert found.area_m2 == pytest.approx(8 * 3.141592653589793)
    assert [sweep.part_said for sweep in found.sweeps] == ["1+012.00 to 1+020.00"]
    assert union_all([sweep.shape for sweep in found.sweeps]).area == pytest.approx(found.area_m2)


def test_where_a_share_is_asked_for_only_as_much_is_swept_again_as_brings_it_back() -> None:
    """35, 35 and 30 % in three presses, 60 % asked for: two presses do, and no single one."""
    scene = pipe_scene(
        holiday_limit=None, stages=(Stage("finished system", 500.0, 400.0, 800.0, required_coverage_percent=60.0),)
    )
    run = scene.open_run()
    for place in THIRDS:
        scene.sweep(run, place)
    scene.close(run)

    found = asked(scene, "instrument", scene.detector)

    assert [sweep.said for sweep in found.sweeps] in ([THIRDS[0], THIRDS[2]], [THIRDS[1], THIRDS[2]])
    assert found.proven
    assert "coverage" in {gate.code for gate in found.restored}


def test_patches_coated_with_a_withdrawn_batch_are_repaired_again_and_retested() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    scene.step(patch, "prepared")
    step = scene.step(patch, "coated", 1, product="Ferrobond P", batch="B-7")
    scene.wait(hours=48)
    scene.step(patch, "coated", 2)
    scene.wait(hours=48)
    scene.step(patch, "cured")
    scene.do("hand_over", scene.painter, patch)
    scene.retest(patch)

    found = asked(scene, "batch", step)

    assert [each.number for each in found.repairs] == [patch.number]
    assert [(sweep.purpose, len(sweep.patches)) for sweep in found.sweeps] == [("retest", 1)]
    assert not found.shut


def test_of_a_gauges_spots_the_fewest_are_taken_again_that_are_enough() -> None:
    """SSPC-PA 2 asks for three areas of five spots on 62.8 m2 (30 to 100 m2, customary summaries): 15 were taken, 16 fell."""
    scene = pipe_scene(thickness_rule="SSPC-PA 2", thickness_level=3)
    gauge = gauge_of(scene)
    scene.survey()
    for metre in range(16):
        scene.do(
            "record_spot", scene.crew, scene.sheet, place=f"1+{metre:03d}.00 @ 12:00", readings=[500, 500, 500],
            gauge=str(gauge.pk),
        )  # fmt: skip

    found = asked(scene, "instrument", gauge)

    assert len(found.spots) == 15
    assert [gate.code for gate in found.restored] == ["thickness"]


def test_a_retest_that_stands_is_settled_again_and_not_swept_again() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    scene.repair(patch)
    scene.settle(patch, scene.retest_swath(patch), person=scene.lead)

    found = asked(scene, "person", scene.lead)

    assert ([each.number for each in found.settled], found.sweeps, found.shut) == ([patch.number], (), ())
