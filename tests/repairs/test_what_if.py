"""What would be lost is what is lost: each hypothesis is held against the same thing done for good by the real action."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from accounts.record import Entry
from inspections.coatings import Atmosphere
from inspections.instruments import Certificate, Instrument
from repairs.picture import ZonePicture, zone_picture
from repairs.restoring import restoring
from repairs.state import PatchState
from repairs.trace import ALWAYS, Period, trace
from repairs.trace_subjects import find_subject
from repairs.what_if import WhatIf, sentence_of, what_if
from tests.scenes import Scene, pipe_scene, releasable_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]


def asked(scene: Scene, kind: Any, row: Any, period: Period = ALWAYS) -> WhatIf:
    return what_if(trace(scene.owner, find_subject(scene.owner, kind, row.pk), period))


def gauge_of(scene: Scene) -> Instrument:
    """A thickness gauge in calibration: without a certificate its readings would be in doubt already."""
    gauge = Instrument(organisation=scene.detector.organisation, kind="gauge", name="Gauge", serial="G-1")
    gauge.save(force_insert=True)
    paper = Certificate(instrument=gauge, number="C-9", issued=date(2025, 1, 1), due=date(2026, 1, 1))
    paper.save(force_insert=True)
    return gauge


def told(picture: ZonePicture) -> dict[str, Any]:
    """What a reader sees of a zone: ground, patches, gates, and what the release lost."""
    assert picture.left is not None
    return {
        "found": [round(shape.area, 6) for shape in picture.found.ground],
        "left": [round(shape.area, 6) for shape in picture.left.ground],
        "patches": [(patch.number, patch.state) for patch in picture.patches],
        "flaws": [(flaw.tag, flaw.status, flaw.counted) for flaw in picture.flaws],
        "gates": [(gate.code, gate.state, gate.sentence) for gate in picture.gates],
        "undermined": [gate.code for gate in picture.release.undermined] if picture.release else None,
    }


def released() -> Scene:
    scene = releasable_scene()
    scene.release()
    return scene


def test_without_a_certificate_it_is_as_when_it_is_struck_out() -> None:
    scene = released()
    paper = scene.detector.certificates.get()

    (zone,) = asked(scene, "certificate", paper).zones
    scene.do("strike_certificate", scene.lead, paper, why="Issued for another unit.")

    assert told(zone.then) == told(zone_picture(scene.coating))
    assert zone.undermined


def test_without_a_voltmeter_it_is_as_when_its_checks_are_struck_out() -> None:
    scene = pipe_scene()
    voltmeter = Instrument(
        organisation=scene.detector.organisation, kind="crest voltmeter", name="Voltmeter", serial="V-1"
    )
    voltmeter.save(force_insert=True)
    run = scene.open_run()
    scene.sweep(run, "1+000.00 to 1+008.00")
    scene.check(run)
    scene.sweep(run, "1+008.00 to 1+020.00")
    check = scene.check(run, phase="end", voltmeter=str(voltmeter.pk))
    scene.do("close_run", scene.crew, run)

    (zone,) = asked(scene, "instrument", voltmeter).zones
    scene.do("strike_verification", scene.lead, check, why="Read with the wrong scale.")

    assert told(zone.then) == told(zone_picture(scene.coating))
    # From the last good check on: 12 m of a pipe of 1 m.
    assert zone.lost_m2 == pytest.approx(12 * 3.141592653589793)


def test_without_a_gauge_it_is_as_when_its_spots_are_struck_out() -> None:
    scene = pipe_scene(thickness_rule="SSPC-PA 2", thickness_level=3)
    gauge = gauge_of(scene)
    scene.survey()
    spots = [
        scene.do(
            "record_spot", scene.crew, scene.sheet, place=f"1+{metre:03d}.00 @ 12:00", readings=[500, 500, 500],
            gauge=str(gauge.pk),
        )
        for metre in range(15)
    ]  # fmt: skip

    (zone,) = asked(scene, "instrument", gauge).zones
    for spot in spots:
        scene.do("strike_spot", scene.lead, spot, why="Gauge dropped.")

    assert told(zone.then) == told(zone_picture(scene.coating))
    assert [turn.after.code for turn in zone.gates] == ["thickness"]


def test_without_a_hygrometer_it_is_as_when_its_readings_are_struck_out() -> None:
    scene = pipe_scene()
    hygrometer = Instrument(
        organisation=scene.detector.organisation, kind="hygrometer", name="Hygrometer", serial="H-1"
    )
    hygrometer.save(force_insert=True)
    run = scene.survey()
    scene.hand_in()
    scene.do("strike_atmosphere", scene.lead, Atmosphere.objects.get(), why="Read from the wrong scale.")
    row = scene.do(
        "record_atmosphere", scene.crew, scene.coating, air=15, humidity=60, steel=[14], at=run.opened_at.isoformat(),
        hygrometer=str(hygrometer.pk),
    )  # fmt: skip

    found = asked(scene, "instrument", hygrometer)
    scene.do("strike_atmosphere", scene.lead, row, why="Battery cover missing.")

    assert (found.trace.ids("air"), found.trace.ids("run", "under")) == ({row.pk}, {run.pk})
    (zone,) = found.zones
    assert told(zone.then) == told(zone_picture(scene.coating))
    assert [turn.after.code for turn in zone.gates] == ["questions"]
    (again,) = restoring(found)
    assert ({each.pk for each in again.questioned}, again.shut) == ({run.pk}, ())


def test_a_patch_coated_with_a_withdrawn_batch_has_to_be_repaired_again() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00", "1+012.00 @ 3:00"])
    first, second = scene.issue()
    scene.repair(first)
    scene.retest(first)
    scene.step(second, "prepared")
    step = scene.step(second, "coated", 1, product="Ferrobond P", batch="B-7")

    (zone,) = asked(scene, "batch", step).zones

    assert [(turn.patch.number, turn.after) for turn in zone.patches] == [(second.number, PatchState.FAILED)]
    assert zone.patches[0].repair
    assert not zone.stages


def test_a_retest_settled_by_somebody_whose_work_does_not_count_is_open_again() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    scene.repair(patch)
    scene.settle(patch, scene.retest_swath(patch), person=scene.lead)

    (zone,) = asked(scene, "person", scene.lead).zones

    assert [turn.after for turn in zone.patches] == [PatchState.REOPENED]
    assert not zone.stages


def test_only_the_days_that_are_asked_about_fall() -> None:
    scene = released()

    found = asked(scene, "instrument", scene.detector, Period(since=date(2025, 3, 4)))

    # The retest alone: the square of 0.4 m around the flaw, of which 0.2 m are the margin.
    assert found.lost_m2 == pytest.approx(0.16, abs=1e-3)
    assert sentence_of(found, "4 March 2025 and later", lambda m2: f"{m2:.1f} m²") == (
        "If Detector, serial D-1 is withdrawn for 4 March 2025 and later, 0.2 m² in 1 zone is lost, 1 patch reopens, "
        "2 gates are no longer green and the release of Spool 1 is undermined."
    )


def test_asking_writes_nothing() -> None:
    scene = released()
    before = told(zone_picture(scene.coating)), Entry.objects.count()

    asked(scene, "instrument", scene.detector)

    assert (told(zone_picture(scene.coating)), Entry.objects.count()) == before


def test_without_a_gauge_a_run_that_rests_on_its_readings_is_asked_about_as_when_they_are_struck_out() -> None:
    scene = pipe_scene()
    gauge = gauge_of(scene)
    spot = scene.do(
        "record_spot", scene.crew, scene.sheet, place="1+002.00 @ 12:00", readings=[500, 510, 495], gauge=str(gauge.pk)
    )
    run = scene.open_run(thickness_basis="measured mean")
    scene.sweep(run, "whole zone")
    scene.close(run)
    other = scene.survey()
    scene.hand_in()

    found = asked(scene, "instrument", gauge)
    scene.do("strike_spot", scene.lead, spot, why="Gauge dropped.")

    assert found.trace.ids("run") == {run.pk} != {other.pk}
    (zone,) = found.zones
    assert told(zone.then) == told(zone_picture(scene.coating))
    assert [turn.after.code for turn in zone.gates] == ["questions"]
    (again,) = restoring(found)
    assert ([each.pk for each in again.answers], again.shut) == ([run.pk], ())
