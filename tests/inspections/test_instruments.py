"""Certificates that overlap, fall due or were entered wrongly; instruments corrected and retired."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.exceptions import ValidationError

from accounts.acting import Done
from inspections.instruments import Certificate, Instrument
from inspections.pages.offers import offers
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db


def paper(scene: Scene, number: str, issued: str, due: str, **given: Any) -> Done:
    dates = {"number": number, "issued": issued, "due": due}
    return scene.perform("register_certificate", scene.lead, scene.detector, **dates, **given)


def test_overlapping_certificates_are_answered_with_which_one_counts() -> None:
    scene = pipe_scene()
    (before,) = scene.detector.certificates.all()
    done = paper(scene, "C-2", "2025-03-01", "2026-03-01")

    (told, *_) = [str(text) for text in done.consequences]
    assert before.number in told
    assert "C-2 counts" in told


@pytest.mark.parametrize(
    ("given", "field", "told"),
    [
        ({"issued": "2126-03-01", "due": "2127-03-01"}, "issued", "2126-03-01 lies in the future"),
        ({"range_min": -500, "range_max": 2000}, "range_min", "-500 cannot be for a detector; write 0 or more"),
        ({"range_min": 3000, "range_max": 2000}, "range_min", "3000 is above the highest, 2000"),
    ],
)
def test_a_certificate_that_cannot_be_is_refused_with_what_to_write(given: Any, field: str, told: str) -> None:
    dates = {"number": "C-2", "issued": "2025-03-01", "due": "2026-03-01"}
    with pytest.raises(ValidationError) as refused:
        paper(pipe_scene(), **{**dates, **given})
    assert told in str(refused.value.detail[field])  # type: ignore[index,call-overload]


def test_the_certificate_issued_last_is_the_one_in_force() -> None:
    scene = pipe_scene()
    paper(scene, "C-2", "2025-03-01", "2025-09-01")

    in_force = scene.detector.certificate_at(scene.clock)
    assert in_force is not None
    assert in_force.number == "C-2"


def test_a_struck_out_certificate_takes_the_ground_it_carried() -> None:
    scene = pipe_scene()
    swath = scene.sweep(scene.open_run(), "whole zone")
    (only,) = scene.detector.certificates.all()
    scene.do("strike_certificate", scene.lead, only, why="Of another instrument.")

    swath.refresh_from_db()
    assert swath.standing == "lost"


def test_a_certificates_file_is_kept_as_evidence(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path
    scene = pipe_scene()
    scan = SimpleUploadedFile("c-2.pdf", b"%PDF-1.7", content_type="application/pdf")
    made = paper(scene, "C-2", "2025-03-01", "2026-03-01", file=scan).made

    assert made.evidence.name == "c-2.pdf"


@pytest.mark.parametrize(("today", "left"), [("2026-02-28", 1), ("2026-01-30", 30), ("2026-01-29", None)])
def test_a_certificate_falls_due_soon_in_its_last_thirty_days(today: str, left: int | None) -> None:
    due = Certificate(number="C", issued=date(2025, 3, 1), due=date(2026, 3, 1))

    assert due.due_within(date.fromisoformat(today)) == left


def test_a_retired_detector_is_offered_no_more() -> None:
    scene = pipe_scene()
    scene.do("retire_instrument", scene.lead, scene.detector, why="Case broken.")

    assert offers("open_run", scene.crew, scene.sheet)["instrument"] == []


def test_a_check_names_the_crest_voltmeter_it_was_read_on() -> None:
    scene = pipe_scene()
    meter = scene.do(
        "register_instrument",
        scene.lead,
        scene.detector.organisation,
        kind=Instrument.Kind.CREST_VOLTMETER,
        name="Crest",
        serial="CV-9",
    )
    run = scene.open_run()
    done = scene.perform(
        "verify", scene.crew, run, phase="during", measured=2500, alarm_seen=True, voltmeter=str(meter.pk)
    )

    assert done.made.voltmeter == meter
    assert "no certificate in force" in str(done.consequences)
