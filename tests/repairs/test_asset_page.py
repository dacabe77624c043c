"""The asset's page: drawn as one sees it, each zone to press, said in words; and what a zone's sheet shows of landmarks."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from accounts.acting import perform
from mapping.wire import legend
from mapping.zones import Zone
from repairs.picture import zone_picture
from repairs.zone_sheet import drawing_of, landmarks_on
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]


def a_strake(scene: Scene, number: int = 1) -> Zone:
    surface = {"number": number, "height": 2.4, "diameter": 12.0}
    given = {"name": f"Strake {number}", "surface_kind": "strake", "surface": surface, "face": "inside"}
    return perform("add_zone", scene.owner, scene.asset.pk, given).made


def asset_page(scene: Scene) -> str:
    client = Client()
    client.force_login(scene.owner)
    return client.get(reverse("asset", args=[scene.asset.pk])).content.decode()


def test_every_zone_of_the_asset_can_be_pressed_in_its_drawing() -> None:
    scene = pipe_scene()
    zones = [scene.zone, a_strake(scene, 1), a_strake(scene, 2)]
    drawing = asset_page(scene).split('class="seen-asset"')[1].split("</div>")[0]
    assert re.findall(r'<a href="([^"]+)"', drawing) == [
        reverse("zone", args=[zone.pk]) for zone in zones[:1] + zones[:0:-1]
    ]


def test_a_zone_in_the_drawing_says_its_state_coverage_and_open_flaws() -> None:
    scene = pipe_scene()
    scene.survey("1+000.00 to 1+010.00", flaws=["1+004.00 @ 3:00"])
    drawing = asset_page(scene).split('class="seen-asset"')[1].split("</div>")[0]
    (words,) = re.findall(r'aria-label="(Spool 1[^"]+)"', drawing)
    assert words.endswith("1 flaw open.")
    assert "50.0 %" in words
    assert 'class="seen-tested"' in drawing
    assert 'class="seen-flaw"' in drawing


def test_landmarks_along_a_line_are_not_drawn_on_a_tank() -> None:
    scene = pipe_scene()
    strake = a_strake(scene)
    perform("add_landmark", scene.owner, scene.asset.pk, {"kind": "girth weld", "name": "W5", "at": "1+005.00"})
    assert [mark.name for mark in landmarks_on(scene.zone)] == ["W5"]
    assert landmarks_on(strake) == []


def test_a_weld_is_drawn_by_its_own_line_and_what_of_it_is_not_tested_stands_out() -> None:
    scene = pipe_scene()
    perform("add_landmark", scene.owner, scene.asset.pk, {"kind": "girth weld", "name": "W-1", "at": "1+006.00"})
    given = {"kind": "weld", "name": "W-1", "place": "1+006.00, all around"}
    perform("add_feature", scene.crew, scene.zone.pk, given)
    strokes = drawing_of(zone_picture(scene.coating)).scene.strokes
    assert [stroke.style for stroke in strokes] == ["weld", "untested"]
    for stroke in strokes:
        assert {u for u, _ in stroke.points} == {6.0}
        assert max(v for _, v in stroke.points) - min(v for _, v in stroke.points) == pytest.approx(3.1416, abs=0.001)


def test_a_nozzle_entered_as_landmark_and_as_feature_is_drawn_once() -> None:
    scene = pipe_scene()
    place, zone = "1+004.00 @ 3:00", str(scene.zone.pk)
    for kind, at in (("nozzle", place), ("bracket", "1+009.00 @ 3:00")):
        perform("add_landmark", scene.owner, scene.asset.pk, {"kind": kind, "name": "N1", "at": at, "zone": zone})
    perform("add_feature", scene.crew, scene.zone.pk, {"kind": "nozzle", "name": "N1", "place": place})
    marks = drawing_of(zone_picture(scene.coating)).scene.landmarks
    assert [(mark.name, mark.x) for mark in marks if mark.name] == [("N1", 1004.0), ("N1", 1009.0)]


def test_a_nozzle_not_tested_stands_out_by_its_mark() -> None:
    scene = pipe_scene()
    given = {"kind": "nozzle", "name": "N1", "place": "1+004.00 @ 3:00"}
    perform("add_feature", scene.crew, scene.zone.pk, given)
    sheet = drawing_of(zone_picture(scene.coating))
    assert "untested-point" in {item.style for row in sheet.rows for item in row.items}
    assert "nozzle or bracket not tested" in [entry.words for entry in legend(sheet)]


def test_a_flaw_of_a_doubtful_test_carries_its_mark_on_the_sheet() -> None:
    scene = pipe_scene()
    run = scene.open_run(set_volts=2900)
    scene.sweep(run, "whole zone")
    scene.flaw(run, "1+004.00 @ 3:00")
    scene.close(run)
    (flaw,) = drawing_of(zone_picture(scene.coating)).scene.flaws
    assert flaw.doubts == ("by-test",)
