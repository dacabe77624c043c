"""Features on a zone's page: sums in sentences, what is not tested named, where a press sweeps it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from inspections.runs import Run
from repairs.pages.feature_rows import features_shown, sum_words
from repairs.picture import ZonePicture, zone_picture
from tests.scenes import TERMS, Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]


@pytest.fixture
def scene() -> Scene:
    made = pipe_scene()
    for kind, name, place in (
        ("weld", "W-1", "1+006.00, all around"),
        ("weld", "L-1", "1+006.00 @ 3:00 to 1+016.00 @ 3:00"),
        ("nozzle", "N1", "1+004.00 @ 3:00"),
    ):
        made.do("add_feature", made.crew, made.zone, kind=kind, name=name, place=place)
    return made


def picture_after(scene: Scene, **swept: str) -> ZonePicture:
    """The zone after a closed run in which these features were swept, whole ("") or in part."""
    run = scene.open_run()
    for feature in scene.zone.features.all():
        if feature.name.replace("-", "") in swept:
            scene.wait(minutes=5)
            part = swept[feature.name.replace("-", "")]
            scene.do("sweep_feature", scene.crew, run, feature=str(feature.pk), part=part)
    scene.close(run)
    return zone_picture(scene.coating)


def shown(scene: Scene, picture: ZonePicture, run: Run | None = None) -> dict[str, Any]:
    return features_shown(scene.crew, picture, run)


def test_sums_are_said_by_kind_in_the_person_s_units(scene: Scene) -> None:
    sums = picture_after(scene, W1="", L1="0.00 to 4.00 m").features.sums()
    assert [sum_words(each, "si") for each in sums] == [
        "2 welds: 7.14 m of 13.14 m tested, as left.",
        "1 nozzle: 0 of 1 tested, as left.",
    ]
    assert sum_words(sums[0], "us").startswith("2 welds: 23.43 ft of 43.12 ft tested")


def test_each_feature_says_its_state_and_what_is_missing_along_it(scene: Scene) -> None:
    rows = shown(scene, picture_after(scene, W1="", L1="0.00 to 4.00 m"))["feature_rows"]
    assert [(row.feature.name, row.words, row.untested) for row in rows] == [
        ("N1", "not swept", ""),
        ("L-1", "not swept", "4.00 to 10.00 m"),
        ("W-1", "tested", ""),
    ]


def test_a_press_in_the_open_run_sweeps_what_is_missing(scene: Scene) -> None:
    picture = picture_after(scene, W1="")
    run = scene.open_run()
    rows = {row.feature.name: row for row in shown(scene, picture, run)["feature_rows"]}
    assert f"/do/sweep_feature/{run.pk}/" in rows["N1"].sweep
    assert rows["W-1"].sweep == ""


def test_later_work_takes_metres_of_weld_away_with_its_margin(scene: Scene) -> None:
    picture_after(scene, W1="", L1="", N1="")
    scene.do("record_disturbance", scene.crew, scene.coating, place="1+010.00 to 1+011.00", kind="weld")
    (seam,) = [each for each in zone_picture(scene.coating).features.features if each.feature.name == "L-1"]
    assert seam.found.missing == []
    assert [end for piece in seam.now.missing for end in piece] == pytest.approx([3.9, 5.1], abs=1e-5)


def test_an_accepted_exclusion_takes_its_metres_out_of_the_count(scene: Scene) -> None:
    drawn = scene.do("draw_exclusion", scene.crew, scene.zone, place="1+003.00 to 1+008.00", reason="under the clamp")
    scene.do("decide_exclusion", scene.owner, drawn, accepted=True)
    sums = {each.kind: each for each in picture_after(scene).features.sums()}
    assert sums["weld"].testable == pytest.approx(8.0, abs=1e-5)
    assert (sums["nozzle"].count, sums["nozzle"].testable, sums["nozzle"].percent) == (1, 0.0, None)


def test_the_gate_asks_what_the_specification_asks() -> None:
    scene = pipe_scene(stages=(replace(TERMS.final_stage, required_line_coverage_percent=100.0),))
    gate = {gate.code: gate for gate in zone_picture(scene.coating).gates}["features"]
    assert (gate.state, gate.whose) == ("red", "lead")
    weld = scene.do("add_feature", scene.crew, scene.zone, kind="weld", name="W-1", place="1+006.00, all around")
    run = scene.open_run()
    scene.wait(minutes=5)
    scene.do("sweep_feature", scene.crew, run, feature=str(weld.pk))
    scene.close(run)
    gate = {gate.code: gate for gate in zone_picture(scene.coating).gates}["features"]
    assert (gate.state, gate.sentence) == (
        "green",
        "Finished system, as left: 3.14 m of 3.14 m of weld and edge tested.",
    )
