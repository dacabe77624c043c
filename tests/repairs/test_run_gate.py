"""The gate of closed runs: an open run is red, and its permit that ran out is named. Common practice; no verdict hangs on it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.people import Person
from repairs.kept_facts import facts_from_json, facts_to_json
from repairs.picture import zone_picture, zone_picture_at
from repairs.run_gate import OpenPermit, judge_runs
from tests.scenes import WHOLE, Scene, pipe_scene

NOW = datetime(2025, 6, 3, 15, 30, tzinfo=UTC)
PERMIT = OpenPermit("A-1", "HW-7", NOW - timedelta(hours=1.5))


def test_an_open_run_is_red_whether_its_permit_holds_or_not() -> None:
    held = judge_runs(["A-1"], "A-1", [PERMIT._replace(expires_at=NOW)], NOW)
    gone = judge_runs(["A-1"], "A-1", [PERMIT], NOW)
    assert (held.state, gone.state) == ("red", "red")
    assert held.sentence == "1 test run is not closed: A-1."
    assert gone.sentence == (
        "1 test run is not closed: A-1. Permit HW-7 of A-1 ran out 1.5 h ago: renew it or close the run."
    )
    assert gone.whose == "crew"


def test_closed_runs_are_green_and_say_nothing_of_permits() -> None:
    assert judge_runs([], "", [PERMIT], NOW) == ("green", "All test runs are closed.", None)


def open_under_a_permit() -> Scene:
    """A run opened two hours ago under a permit that ran out an hour ago."""
    scene = pipe_scene()
    scene.clock = timezone.now() - timedelta(hours=2)
    until = (scene.clock + timedelta(hours=1)).isoformat()
    permit = scene.do(
        "record_permit",
        scene.crew,
        scene.coating,
        number="HW-7",
        gas_reading="0 % LEL",
        tester="A. Moss",
        expires_at=until,
    )
    scene.open_run(permit=str(permit.pk))
    return scene


@pytest.mark.django_db
def test_the_picture_says_it_now_and_not_at_a_moment_when_the_permit_held() -> None:
    scene = open_under_a_permit()
    now, then = zone_picture(scene.coating), zone_picture_at(scene.coating, timezone.now() - timedelta(minutes=90))
    assert "Permit HW-7 of A-1 ran out 1." in now.gates[0].sentence
    assert then.gates[0].sentence == "1 test run is not closed: A-1."


@pytest.mark.django_db
def test_what_is_kept_of_a_permit_comes_back_the_same() -> None:
    facts = zone_picture(open_under_a_permit().coating).facts
    assert facts_from_json(facts_to_json(facts)).permits == facts.permits != ()


def read(person: Person, name: str, pk: object = None) -> str:
    client = Client()
    client.force_login(person)
    return client.get(reverse(name, args=[pk] if pk else [])).content.decode()


@pytest.mark.django_db
def test_the_pages_of_the_crew_and_the_owner_say_it() -> None:
    scene = open_under_a_permit()
    assert "renew the permit or close the run" in read(scene.crew, "today")
    assert "Nobody is in a high-voltage briefing today" in read(scene.crew, "today")
    run = scene.runs[0]
    scene.sweep(run, WHOLE)
    for name, pk in (("run", run.pk), ("sheet", scene.sheet.pk), ("zone", scene.zone.pk), ("gates", scene.zone.pk)):
        page = read(scene.owner, name, pk)
        assert "is in no high-voltage briefing" in page, name
        assert "renew the permit or close the run" in page, name


@pytest.mark.django_db
def test_a_card_that_runs_out_soon_is_said_to_its_holder_and_to_the_lead_and_not_to_others() -> None:
    scene = pipe_scene()
    soon = (timezone.localdate() + timedelta(days=9)).isoformat()
    card = {"scheme": "Coating inspector", "number": "CI-7", "issued": "2024-01-01", "expires": soon}
    scene.do("record_qualification", scene.lead, scene.crew, **card)
    for person in (scene.crew, scene.lead):
        assert "Runs out in 9 days." in read(person, "today")
    assert "Runs out in" not in read(scene.painter, "today")
    assert "runs out in 9 days" in read(scene.crew, "qualifications", scene.crew.pk)
