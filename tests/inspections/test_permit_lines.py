"""Permits in the file of a field sheet: limits and renewals come in, and go out the same. Common practice of paper sheets."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.exceptions import ValidationError

from accounts.acting import perform
from inspections.coatings import Permit
from inspections.sheetfile import read_sheet
from repairs.exports.sheetfile import sheet_csv
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db
FILE = """what;value
zone;Spool 1
sheet;P
date;2025-03-03
what;no;time;gas;limits;tester;valid until;renews
permit;HW-7;06:10;0 % LEL;below 10 % LEL;J. Marsh;12:00;
permit;HW-7;11:50;0 % LEL;;J. Marsh;18:00;HW-7
permit;HW-9;17:30;0 % LEL;;J. Marsh;22:00;{renewed}
"""


def brought(scene: Scene, content: str) -> None:
    file = SimpleUploadedFile("P.csv", content.encode())
    perform("import_sheet", scene.lead, scene.coating.pk, {"file": file})


def test_a_renewal_may_bear_the_number_of_the_first_and_names_it() -> None:
    scene = pipe_scene()
    brought(scene, FILE.format(renewed="HW-7"))
    first, again, last = Permit.objects.order_by("recorded_at")
    assert (first.gas_limits, first.renews) == ("below 10 % LEL", None)
    assert (again.renews, last.renews) == (first, first)


def test_the_same_file_again_changes_nothing() -> None:
    scene = pipe_scene()
    brought(scene, FILE.format(renewed="HW-7"))
    brought(scene, FILE.format(renewed="HW-7"))
    assert Permit.objects.count() == 3


def test_a_renewal_of_a_permit_that_is_not_in_the_file_is_refused_by_row_and_column() -> None:
    with pytest.raises(ValidationError, match="is not known here; there are: HW-7"):
        brought(pipe_scene(), FILE.format(renewed="HW-6"))


def test_permits_go_out_with_what_they_renew_and_are_named_by_their_run() -> None:
    scene = pipe_scene()
    given = {"gas_reading": "0 % LEL", "tester": "A. Moss"}
    until = (scene.clock + timedelta(minutes=10)).isoformat()
    permit = scene.do("record_permit", scene.crew, scene.coating, number="HW-7", expires_at=until, **given)
    run = scene.open_run(permit=str(permit.pk))
    until = (scene.clock + timedelta(hours=8)).isoformat()
    scene.do("renew_permit", scene.crew, run, number="HW-7", expires_at=until, gas_limits="below 10 % LEL", **given)
    scene.do("record_permit", scene.crew, scene.coating, number="HW-8 of others", expires_at=until, **given)

    lines = read_sheet(sheet_csv(scene.sheet)).lines

    permits = [(line.cell("no"), line.cell("renews"), line.cell("limits")) for line in lines if line.what == "permit"]
    assert permits == [("HW-7", "", ""), ("HW-7", "HW-7", "below 10 % LEL")]
    assert [line.cell("permit") for line in lines if line.what == "run"] == ["HW-7"]


def test_a_permit_that_a_run_was_given_later_is_named_by_it_in_the_file() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    until = (scene.clock + timedelta(hours=8)).isoformat()
    scene.do("renew_permit", scene.crew, run, number="HW-9", gas_reading="0 % LEL", tester="A. Moss", expires_at=until)
    lines = read_sheet(sheet_csv(scene.sheet)).lines
    assert [line.cell("permit") for line in lines if line.what == "run"] == ["HW-9"]
