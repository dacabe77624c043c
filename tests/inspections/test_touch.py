"""On concrete no ground counts before bare concrete away from the return has alarmed; common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from rest_framework.exceptions import ValidationError

from inspections.pages.air_block import AirTold
from inspections.pages.run_blocks import blocks
from inspections.runs import Run, Swath, TouchTest
from inspections.tested import differences
from tests.inspections.test_standing import CLOSED, check, codes, sweep
from tests.scenes import Scene, pipe_scene

CONCRETE = replace(CLOSED, touch_needed=True)
GOOD = [check(1), check(9)]


def test_without_a_touch_the_ground_is_lost() -> None:
    assert codes(CONCRETE, GOOD, sweep(2, 3)) == ["no_touch"]


def test_with_an_alarm_the_ground_stands() -> None:
    assert codes(replace(CONCRETE, touches={"": True}), GOOD, sweep(2, 3)) == []


def test_without_an_alarm_the_concrete_is_too_dry() -> None:
    assert codes(replace(CONCRETE, touches={"": False}), GOOD, sweep(2, 3)) == ["too_dry"]


def test_each_mat_is_touched_for_itself() -> None:
    run = replace(CONCRETE, proven_islands=frozenset({"mat 1", "mat 2"}), touches={"MAT 1": True})
    assert codes(run, GOOD, replace(sweep(2, 3), island="mat 1")) == []
    assert codes(run, GOOD, replace(sweep(2, 3), island="mat 2")) == ["no_touch"]


def test_on_steel_nothing_is_touched() -> None:
    assert codes(CLOSED, GOOD, sweep(2, 3)) == []


@pytest.fixture
def scene(db: None) -> Scene:
    return pipe_scene(substrate="concrete")


def touched(scene: Scene, run: Run, *, alarm: bool = True, **given: Any) -> TouchTest:
    told = {"said": "kerb at the far end", "distance": "4.2 m", "volts": "2500 V", "alarm": alarm, **given}
    return scene.do("touch_concrete", scene.crew, run, **told)


def standing(swath: Swath) -> tuple[str, str]:
    swath.refresh_from_db()
    return swath.standing, swath.cause


def test_a_touch_recorded_late_still_proves_the_run(scene: Scene) -> None:
    run = scene.open_run()
    swath = scene.sweep(run, "1+000 to 1+005")
    scene.check(run)
    assert standing(swath) == ("lost", "no touch of bare concrete away from the return")
    touched(scene, run)
    assert standing(swath) == ("stands", "")
    assert list(differences(scene.asset.pk)) == []


def test_the_latest_touch_counts_and_striking_it_out_brings_back_the_one_before(scene: Scene) -> None:
    run = scene.open_run()
    touched(scene, run)
    swath = scene.sweep(run, "1+000 to 1+005")
    scene.check(run)
    dry = touched(scene, run, alarm=False)
    assert standing(swath) == ("lost", "bare concrete gave no alarm, being too dry for this test")
    scene.do("strike_touch_test", scene.lead, dry, why="Lead was off.")
    assert standing(swath)[0] == "stands"


def test_a_wet_sponge_on_concrete_asks_for_no_touch(scene: Scene) -> None:
    run = scene.open_run(method="wet_sponge", thickness="200 µm")
    swath = scene.sweep(run, "1+000 to 1+005")
    scene.check(run)
    assert standing(swath)[0] == "stands"


def test_the_run_s_page_says_what_is_missing_and_then_what_was_touched(scene: Scene) -> None:
    run = scene.open_run()
    block = next(each for each in blocks(run, (), AirTold(False, "", "")) if each.title == "Touch of bare concrete")
    assert (block.proven, block.action) == (False, "touch_concrete")
    touched(scene, run)
    block = next(each for each in blocks(run, (), AirTold(False, "", "")) if each.title == "Touch of bare concrete")
    assert (block.proven, block.says) == (True, "kerb at the far end, 4.2 m from the return at 2500 V: alarm.")


def test_a_touch_near_the_return_is_recorded_and_flagged(scene: Scene) -> None:
    run = scene.open_run()
    done = scene.perform("touch_concrete", scene.crew, run, said="kerb", distance="1 m", volts=2500, alarm=True)
    assert "Touched 1 m from the return; about 4 m are usual." in done.consequences


def test_a_touch_without_a_distance_is_refused(scene: Scene) -> None:
    with pytest.raises(ValidationError, match="distance"):
        scene.do("touch_concrete", scene.crew, scene.open_run(), said="kerb", volts=2500, alarm=True)
