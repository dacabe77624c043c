"""Permits, briefings and qualifications in the tables that are taken along and in the dossier."""

from __future__ import annotations

from datetime import timedelta

import pypdfium2
import pytest
from django.utils import timezone

from repairs.dossier import Reader, dossier_of
from repairs.exports.people import ATTENDEES, BRIEFINGS, PERMITS, QUALIFICATIONS
from repairs.exports.scope import Scope, Table
from tests.factories import PersonFactory
from tests.scenes import WHOLE, Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]


def told() -> Scene:
    """A run under a permit that is renewed, swept by somebody whose card had run out; the recorder's holds."""
    scene = pipe_scene()
    ines = PersonFactory(organisation=scene.crew.organisation, name="Ines Holt")
    card = {"scheme": "Coating inspector", "level": "level 2", "issued": "2022-03-01"}
    scene.do("record_qualification", scene.lead, ines, **card, number="CI-9", expires="2025-03-01")
    scene.do("record_qualification", scene.lead, scene.crew, **card, number="CI-1")
    scene.do("hold_briefing", scene.crew, scene.asset, people=["Ines Holt"], gone_through=True)
    gas = {"gas_reading": "0 % LEL", "gas_limits": "below 10 % LEL", "tester": "Tove Lind"}
    until = (scene.clock + timedelta(minutes=20)).isoformat()
    permit = scene.do("record_permit", scene.crew, scene.coating, number="HW-7", expires_at=until, **gas)
    run = scene.open_run(permit=str(permit.pk))
    until = (scene.clock + timedelta(hours=8)).isoformat()
    scene.do("renew_permit", scene.crew, run, number="HW-8", expires_at=until, **gas)
    scene.sweep(run, WHOLE)
    scene.close(run)
    return scene


def lines(table: Table, scene: Scene) -> list[dict[str, object]]:
    return [dict(zip(table.heads, line, strict=True)) for line in table.lines(Scope(scene.asset))]


def test_each_table_takes_one_query_and_says_what_was_recorded(django_assert_num_queries: object) -> None:
    scene = told()
    tables = (PERMITS, BRIEFINGS, ATTENDEES, QUALIFICATIONS)
    with django_assert_num_queries(len(tables)):  # type: ignore[operator]
        permits, briefings, attendees, cards = (lines(table, scene) for table in tables)
    assert [(row["number"], row["renews"], row["gas limits"]) for row in permits] == [
        ("HW-7", None, "below 10 % LEL"),
        ("HW-8", "HW-7", "below 10 % LEL"),
    ]
    assert "pacemaker" in str(briefings[0]["points"])
    assert [row["name"] for row in attendees] == ["Ines Holt"]
    assert {(row["person"], row["expires"]) for row in cards} == {("Ines Holt", "2025-03-01"), (scene.crew.name, None)}


def test_neither_testers_nor_numbers_of_cards_are_given_out() -> None:
    scene = told()
    said = str([lines(table, scene) for table in (PERMITS, BRIEFINGS, ATTENDEES, QUALIFICATIONS)])
    assert "Tove Lind" not in said
    assert "CI-9" not in said


def test_the_dossier_says_of_a_run_what_its_people_leave_to_be_said() -> None:
    scene = told()
    pdf = dossier_of(scene.coating, Reader("Piet Lindqvist", "si", scene.asset.zone_info), timezone.now())
    with pypdfium2.PdfDocument(pdf) as document:
        words = " ".join(page.get_textpage().get_text_range() for page in document).split()
    text = " ".join(words)
    assert "Something is to be said of 1 run." in text
    assert "Ines Holt swept on 3 March 2025; their qualification had run out on 1 March 2025" in text
    assert "renews HW-7" in text
    assert "Barespot never authorises entry or work" in text
