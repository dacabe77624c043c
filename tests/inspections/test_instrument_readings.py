"""What an instrument read over time: checks, gauge readings and air, and where the same was read again and again."""

from __future__ import annotations

import pytest
from django.test import Client
from rest_framework.exceptions import ValidationError

from inspections.instrument_readings import alike, readings_of
from inspections.instruments import Instrument
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.once


def test_the_length_of_each_row_of_equal_readings_is_told() -> None:
    assert alike([2500, 2500, 2500, 2510, 2500]) == [3, 3, 3, 1, 1]


@pytest.fixture
def scene(db: None) -> Scene:
    return pipe_scene()


def instrument(scene: Scene, kind: str) -> Instrument:
    row = Instrument(organisation=scene.crew.organisation, kind=kind, name=kind, serial=f"{kind} 1")
    row.save(force_insert=True)
    return row


def test_a_detector_shows_its_checks_over_all_runs_and_three_alike_are_marked(scene: Scene, client: Client) -> None:
    run = scene.open_run()
    scene.check(run, measured=2500)
    scene.check(run, measured=2500)
    scene.check(run, measured=2490)
    client.force_login(scene.lead)
    page = client.get(f"/instruments/{scene.detector.pk}/").content.decode()
    assert [row.same for row in readings_of(scene.detector, scene.lead)] == [1, 3, 3, 3]
    assert page.count("the same 3 times in a row") == 3
    assert "It read the same to the digit 3 times in a row" in page


def test_air_names_what_it_was_measured_with_and_the_hygrometer_shows_it(scene: Scene) -> None:
    hygrometer = instrument(scene, "hygrometer")
    given = {
        "air": 18,
        "humidity": 60,
        "steel": [16],
        "hygrometer": str(hygrometer.pk),
        "thermometer": str(hygrometer.pk),
    }
    scene.do("record_atmosphere", scene.crew, scene.coating, **given)
    (reading,) = readings_of(hygrometer, scene.crew)
    assert reading.read == "air 18.0 °C, 60 %; steel 16.0 °C"


def test_a_detector_is_no_hygrometer(scene: Scene) -> None:
    with pytest.raises(ValidationError, match="That is no hygrometer of"):
        scene.do("record_atmosphere", scene.crew, scene.coating, air=18, humidity=60, steel=[16],
                 hygrometer=str(scene.detector.pk))  # fmt: skip


def test_a_gauge_shows_its_spots(scene: Scene) -> None:
    gauge = instrument(scene, "gauge")
    scene.do(
        "record_spot", scene.crew, scene.sheet, place="1+002.00 @ 12:00", readings=[500, 510, 520], gauge=str(gauge.pk)
    )
    (reading,) = readings_of(gauge, scene.crew)
    assert (reading.what, reading.same) == ("1+002.00 @ 12:00", 1)
