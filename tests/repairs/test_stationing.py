"""Stationing of an asset: imperial stations and station equations, on pages and documents, entered at once or later."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.exceptions import ValidationError

from accounts.assets import Asset
from mapping.positions import Chainage, StationEquation
from mapping.surfaces.pipe import Pipe
from repairs.picture import zone_picture
from tests.scenes import Scene, pipe_scene, scene_of

pytestmark = pytest.mark.django_db
FOOT = 0.3048  # m, NIST SP 811 (2008), B.6
METRIC = {"unit_system": "metric", "foot": "international", "chainage_start": 0.0, "why": "As built."}


def set_stationing(scene: Scene, equations: str, **given: Any) -> Any:
    return scene.do("set_stationing", scene.owner, scene.asset, **{**METRIC, "station_equations": equations, **given})


def fresh(scene: Scene) -> Any:
    return type(scene.zone).objects.get(pk=scene.zone.pk)


def test_an_equation_entered_later_moves_what_lies_behind_it_and_not_what_was_said() -> None:
    scene = pipe_scene(start=1200.0, end=1300.0)
    flaw = scene.flaw(scene.open_run(), "1+280.00 @ 3:00")
    mark = scene.do("add_landmark", scene.crew, scene.asset, kind="girth weld", name="W-1", at="1+275.00")

    set_stationing(scene, "1225.00 back = 1250.00 ahead")

    flaw.refresh_from_db()
    mark.refresh_from_db()
    zone = fresh(scene)
    assert (flaw.said, flaw.x, mark.x) == ("1+280.00 @ 3:00", 1255.0, 1250.0)
    assert zone.surface.limits_text().startswith("1+200.00 to 1+300.00")
    assert zone.surface.end - zone.surface.start == pytest.approx(75.0)


def test_what_an_equation_would_cut_out_is_named() -> None:
    scene = pipe_scene(start=1200.0, end=1300.0)
    flaw = scene.flaw(scene.open_run(), "1+230.00 @ 3:00")

    with pytest.raises(ValidationError, match=f"{flaw.tag}: .*does not occur on this asset"):
        set_stationing(scene, "1225.00 back = 1250.00 ahead")

    assert Asset.objects.get(pk=scene.asset.pk).station_equations == []


def test_units_do_not_change_once_something_is_spoken_in_them() -> None:
    with pytest.raises(ValidationError, match="spoken in m already"):
        set_stationing(pipe_scene(), "", unit_system="imperial")


def imperial_scene() -> Scene:
    """A pipe of an imperial asset with an equation that makes stations occur twice: 12+00 to 12+50 back and ahead."""
    chainage = Chainage("imperial", equations=(StationEquation(1250.0, 1200.0),))
    return scene_of(Pipe(start=1180 * FOOT, end=1300 * FOOT, diameter=1.0, chainage=chainage))


def test_imperial_stations_are_said_back_and_ahead_on_every_page() -> None:
    scene = imperial_scene()
    run = scene.open_run()
    scene.sweep(run, "11+80 to 12+40 back")
    back = scene.flaw(run, "12+25.00 back @ 3:00")
    ahead = scene.flaw(run, "12+25.00 ahead @ 3:00")

    assert (back.x / FOOT, ahead.x / FOOT) == (pytest.approx(1225.0), pytest.approx(1275.0))
    client = Client()
    client.force_login(scene.crew)
    shown = client.get(reverse("flaw", args=[ahead.pk])).content.decode()
    assert "12+25.00 ahead @ 3:00:00" in shown
    lanes = client.get(reverse("run", args=[run.pk])).content.decode()
    assert "11+80.00 to 12+50.00 ahead, lane 1 of 7, 1.64042 ft wide" in lanes
    gap = zone_picture(scene.coating).found.parts[0].said
    assert gap == "12+40.00 back to 12+50.00 ahead"
    answer = client.get(reverse("place_words", args=[scene.zone.pk]), {"first": 1225 * FOOT, "second": 3})
    assert answer.json() == {"said": "12+25.00 back @ 3:00:00"}


def test_a_station_that_occurs_twice_is_asked_for_its_side() -> None:
    scene = imperial_scene()
    run = scene.open_run()
    with pytest.raises(ValidationError, match="occurs twice"):
        scene.flaw(run, "12+25.00 @ 3:00")


def test_the_page_shows_the_equations_that_stand() -> None:
    scene = imperial_scene()
    client = Client()
    client.force_login(scene.owner)
    page = client.get(reverse("set_stationing", args=[scene.asset.pk])).content.decode()
    assert "1250.00 back = 1200.00 ahead" in page
