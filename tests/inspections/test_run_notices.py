"""What is told of a run whose voltage or thickness can hardly be what was read; nothing is refused for it."""

from __future__ import annotations

import pytest
from rest_framework.exceptions import ValidationError

from inspections.instruments import Instrument
from inspections.run_notices import beyond_certificate, other_unit, voltmeter_beyond
from inspections.runs import Run
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db


def calibrated(scene: Scene, instrument: Instrument, **over: float) -> None:
    paper = {"number": "C-8", "issued": "2025-02-01", "due": "2026-02-01", **over}
    scene.do("register_certificate", scene.lead, instrument, **paper)


def crest(scene: Scene) -> Instrument:
    return scene.do(
        "register_instrument", scene.lead, scene.detector.organisation, kind="crest voltmeter", name="Crest",
        serial="V-9", volts_max="2 kV",
    )  # fmt: skip


def test_a_thickness_that_fits_in_mil_is_asked_about_with_what_to_do() -> None:
    # 12 mil = 304.8 um (NIST SP 811).
    scene = pipe_scene()
    asked = scene.coating.terms.final_stage.dft_nominal

    run = scene.open_run(thickness="12 µm")

    assert 0.4 < 304.8 / asked < 2.5
    assert "12 mil would be 304.8 µm: was it mil? The voltage follows from it" in other_unit(run)
    assert not other_unit(scene.open_run(thickness="20 mil"))


@pytest.mark.parametrize("thickness", ["-12 µm", "0 µm", "900 mm", "twelve"])
def test_a_thickness_that_no_film_has_is_refused_by_name(thickness: str) -> None:
    with pytest.raises(ValidationError) as refused:
        pipe_scene().open_run(thickness=thickness)
    assert thickness in str(refused.value.detail["thickness"])  # type: ignore[index,call-overload]


def test_a_voltage_the_detector_was_not_calibrated_at_is_said() -> None:
    scene = pipe_scene()
    calibrated(scene, scene.detector, range_min=500, range_max=2000)

    told = beyond_certificate(Run.objects.get(pk=scene.open_run().pk))

    assert told.startswith("2500 V is beyond what certificate C-8 of")
    assert "500 to 2000 V. Set it within that range" in told


def test_a_reading_beyond_the_voltmeter_is_said_with_what_to_do() -> None:
    scene = pipe_scene()
    voltmeter = crest(scene)
    calibrated(scene, voltmeter)

    check = scene.check(scene.open_run(), voltmeter=str(voltmeter.pk))

    assert "beyond Crest, serial V-9: 0 to 2000 V. Read it again, and its unit" in voltmeter_beyond(check)


def test_a_reading_the_voltmeter_was_not_calibrated_at_is_said() -> None:
    scene = pipe_scene()
    voltmeter = scene.do("amend_instrument", scene.lead, crest(scene), name="Crest", volts_max="30 kV")
    calibrated(scene, voltmeter, range_max=1000)

    check = scene.check(scene.open_run(), voltmeter=str(voltmeter.pk))

    assert "certificate C-8 of Crest, serial V-9 covers: 0 to 1000 V" in voltmeter_beyond(check)
