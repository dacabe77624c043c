"""Welds, edges, nozzles and brackets swept in a run: they stand, are held and lost by the same table as ground."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.exceptions import ValidationError

from accounts.acting import perform
from inspections.actions.importing import look
from inspections.runs import Run, Swath
from inspections.sheetfile import read_sheet
from inspections.tested import differences, ground_of
from mapping.features import Feature
from repairs.exports.sheetfile import sheet_csv
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    return pipe_scene()


def weld(scene: Scene, name: str = "W-1", place: str = "1+006.00, all around") -> Feature:
    return scene.do("add_feature", scene.crew, scene.zone, kind="weld", name=name, place=place)


def swept(scene: Scene, run: Run, feature: Feature, minutes: float = 5, **given: Any) -> Swath:
    scene.wait(minutes=minutes)
    return scene.do("sweep_feature", scene.crew, run, feature=str(feature.pk), **given)


def test_a_swept_weld_waits_for_the_next_good_check_and_then_stands(scene: Scene) -> None:
    run = scene.open_run()
    swath = swept(scene, run, weld(scene))
    assert (swath.standing, swath.said) == ("pending", "weld W-1")
    scene.check(run)
    swath.refresh_from_db()
    assert swath.standing == "stands"


@pytest.mark.parametrize(("measured", "standing"), [(1500, "lost"), (3500, "held")])
def test_a_check_that_fails_takes_a_weld_as_it_takes_ground(scene: Scene, measured: int, standing: str) -> None:
    run = scene.open_run()
    feature = weld(scene)
    rows = [swept(scene, run, feature), scene.sweep(run, "1+000 to 1+001")]
    scene.check(run, measured=measured)
    assert {Swath.objects.get(pk=row.pk).standing for row in rows} == {standing}
    assert len({Swath.objects.get(pk=row.pk).cause for row in rows}) == 1


def test_a_part_of_a_weld_is_kept_in_metres_along_it(scene: Scene) -> None:
    swath = swept(scene, scene.open_run(), weld(scene), part="0.40 to 1.20 m")
    assert (swath.along, swath.said, swath.area) == ([[0.4, 1.2]], "weld W-1, 0.40 to 1.20 m", 0.0)
    assert swath.shape.length == pytest.approx(0.8)


def test_a_weld_swept_faster_than_the_limit_is_held(scene: Scene) -> None:
    feature = weld(scene, place="1+001.00 @ 3:00 to 1+019.00 @ 3:00")
    run = scene.open_run()
    slow = swept(scene, run, feature, minutes=1.1)  # 18 m at 0.3 m/s take a minute; the press itself a minute more
    fast = scene.do(
        "sweep_feature", scene.crew, run, feature=str(feature.pk),
        started_at=scene.clock.isoformat(), ended_at=scene.clock.isoformat(),
    )  # fmt: skip
    scene.check(run)
    assert [Swath.objects.get(pk=row.pk).standing for row in (slow, fast)] == ["stands", "held"]


def test_a_nozzle_is_swept_whole_and_asks_no_question_of_speed(scene: Scene) -> None:
    nozzle = scene.do("add_feature", scene.crew, scene.zone, kind="nozzle", name="N1", place="1+004.00 @ 3:00")
    run = scene.open_run()
    swath = swept(scene, run, nozzle, minutes=0)
    scene.check(run)
    swath.refresh_from_db()
    assert (swath.standing, swath.parts) == ("stands", ((0.0, 1.0),))
    with pytest.raises(ValidationError, match="A nozzle is swept whole"):
        swept(scene, run, nozzle, part="0.10 to 0.20 m")


def test_sweeping_a_weld_covers_no_ground(scene: Scene) -> None:
    run = scene.open_run()
    swept(scene, run, weld(scene))
    scene.close(run)
    assert ground_of(scene.coating, "finished system").stands.area == 0.0
    assert list(differences(scene.asset.pk)) == []


def test_a_feature_of_another_zone_is_refused(scene: Scene) -> None:
    other = weld(pipe_scene())
    with pytest.raises(ValidationError, match="That is no weld, edge, nozzle or bracket of Spool 1"):
        swept(scene, scene.open_run(), other)


def test_a_sweep_of_a_struck_feature_is_recorded_and_flagged(scene: Scene) -> None:
    feature = weld(scene)
    scene.do("strike_feature", scene.lead, feature, why="Not there.")
    run = scene.open_run()
    done = perform("sweep_feature", scene.crew, run.pk, {"feature": str(feature.pk)}, device_at=scene.wait(minutes=5))
    assert "weld W-1 has been struck out: its coverage does not count." in done.consequences


def imported(scene: Scene, *rows: str) -> Any:
    """The dry run of a field sheet with one run and these rows in it."""
    sheet = (
        "what;value", "zone;Spool 1", "sheet;Z", "date;2025-03-04", "units;volts V",
        "what;run;time;sweeper;instrument;electrode;set;cautions",
        f"run;1;8:00;Ines Holt;{scene.detector.serial};{scene.electrode.name};2500;yes",
        "what;time;until;name;place;measured;alarm;phase",
        "return;8:01;;;bare end",
        "check;8:05;;;;2500;yes;opening",
        *rows,
    )  # fmt: skip
    return look(scene.crew, scene.coating, read_sheet("\n".join(sheet).encode(), "sheet.csv"))


@pytest.fixture
def named(scene: Scene) -> Scene:
    weld(scene)
    scene.do("add_feature", scene.crew, scene.zone, kind="nozzle", name="N1", place="1+004.00 @ 3:00")
    return scene


def test_a_field_sheet_says_which_features_were_swept(named: Scene) -> None:
    plan = imported(
        named, "feature;;8:15;W-1;0.00 to 2.00 m", "feature;;8:20;nozzle N1", "check;8:30;;;;2500;yes;closing"
    )
    assert plan.problems == []
    rows = [row for row in plan.rows if isinstance(row, Swath)]
    assert [(row.feature.name, row.said) for row in rows if row.feature] == [
        ("W-1", "weld W-1, 0.00 to 2.00 m"),
        ("N1", "nozzle N1"),
    ]


def test_a_field_sheet_with_an_unknown_feature_or_part_is_refused_by_row_and_column(named: Scene) -> None:
    plan = imported(named, "feature;;8:15;W-9;", "feature;;8:20;W-1;2.00 to 9.00 m")
    assert [(problem.row, problem.column) for problem in plan.problems] == [(11, "name"), (12, "place")]
    assert "there are: N1, W-1" in plan.problems[0].message


def test_an_exported_sheet_brings_swept_features_and_touches_back(named: Scene) -> None:
    run = named.open_run()
    swept(named, run, Feature.objects.get(name="W-1"), part="0.00 to 2.00 m")
    swept(named, run, Feature.objects.get(name="N1"))
    named.do("touch_concrete", named.crew, run, said="kerb", distance="4.2 m", volts=2500, alarm=True)
    named.close(run)
    named.sheet.refresh_from_db()
    found = read_sheet(sheet_csv(named.sheet), "sheet.csv")
    assert found.problems == ()
    lines = [(line.what, line.cell("name"), line.cell("place")) for line in found.lines]
    assert ("feature", "weld W-1", "0.00 to 2.00 m") in lines
    assert ("feature", "nozzle N1", "") in lines
    (touch,) = [line for line in found.lines if line.what == "touch"]
    assert (touch.cell("distance"), touch.cell("set"), touch.cell("alarm")) == ("4.2 m", "2500 V", "yes")
