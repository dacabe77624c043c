"""Permits, briefings and qualifications through the real actions: recorded, flagged, never refused, never erased."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone
from rest_framework.exceptions import PermissionDenied, ValidationError

from accounts.acting import perform
from accounts.people import Role
from accounts.record import Entry
from accounts.verify import verify
from inspections.briefings import Attendee
from inspections.coatings import Permit
from inspections.noted_runs import noted_on, notes_of
from inspections.qualifications import Qualification
from inspections.runs import Run, Swath
from tests.factories import AppointmentFactory, PersonFactory
from tests.scenes import WHOLE, Scene, pipe_scene

pytestmark = pytest.mark.django_db


def codes(run: Run, now: datetime | None = None) -> list[str]:
    run = Run.objects.get(pk=run.pk)
    return [note.code for note in notes_of([run], now or timezone.now())[run.pk]]


def words(run: Run, now: datetime | None = None) -> str:
    run = Run.objects.get(pk=run.pk)
    return " ".join(note.words for note in notes_of([run], now or timezone.now())[run.pk])


def permit_until(scene: Scene, until: datetime, number: str = "HW-7", **given: Any) -> Permit:
    return scene.do(
        "record_permit", scene.crew, scene.coating, number=number, gas_reading="0 % LEL", tester="A. Moss",
        expires_at=until.isoformat(), **given,
    )  # fmt: skip


def brief(scene: Scene, *names: str) -> Any:
    return scene.do("hold_briefing", scene.crew, scene.asset, people=list(names), gone_through=True)


def ines(scene: Scene) -> Any:
    """Somebody registered with the inspector under the name that sweeps in the scene."""
    return PersonFactory(organisation=scene.crew.organisation, name="Ines Holt")


def test_a_run_under_a_permit_that_ran_out_is_recorded_and_flagged_by_the_clock_of_the_asset() -> None:
    scene = pipe_scene()
    scene.asset.time_zone = "America/Denver"
    scene.asset.save()
    brief(scene, "Ines Holt")
    permit = permit_until(scene, datetime(2025, 3, 3, 7, 0, tzinfo=UTC), valid_from="2025-03-03T01:00:00Z")

    run = scene.open_run(permit=str(permit.pk))

    assert "No permit held when the run was opened at 01:03: HW-7 from 2 March 2025, 18:00 to 00:00." in words(run)
    told = json.loads(Entry.objects.get(what="open_run").body)["consequences"]
    assert any("No permit held" in each for each in told)


def test_ground_swept_past_the_expiry_stands_and_is_flagged() -> None:
    scene = pipe_scene()
    brief(scene, "Ines Holt")
    run = scene.open_run(permit=str(permit_until(scene, scene.clock + timedelta(minutes=10)).pk))
    swath = scene.sweep(run, WHOLE)
    scene.close(run)

    swath.refresh_from_db()
    assert swath.standing == "stands"
    assert codes(run) == ["swept_without_permit"]


def test_a_renewal_in_time_leaves_nothing_to_say() -> None:
    scene = pipe_scene()
    brief(scene, "Ines Holt")
    run = scene.open_run(permit=str(permit_until(scene, scene.clock + timedelta(minutes=10)).pk))
    until = (scene.clock + timedelta(hours=9)).isoformat()
    renewal = scene.do(
        "renew_permit", scene.crew, run, number="HW-7", gas_reading="0 % LEL", tester="A. Moss", expires_at=until
    )
    scene.sweep(run, WHOLE)
    scene.close(run)

    assert renewal.renews.number == "HW-7"
    assert codes(run) == []


def test_a_renewal_recorded_too_late_says_from_when_to_when_none_held() -> None:
    scene = pipe_scene()
    run = scene.open_run(permit=str(permit_until(scene, scene.clock + timedelta(minutes=10)).pk))
    scene.wait(hours=1)
    done = scene.perform(
        "renew_permit", scene.crew, run, number="HW-8", gas_reading="0 % LEL", tester="A. Moss",
        expires_at=(scene.clock + timedelta(hours=9)).isoformat(),
    )  # fmt: skip
    assert "hot work permit HW-7 ran out at" in done.said[0]
    assert "hot work permit HW-8 holds from" in done.said[0]


def test_a_permit_that_is_renewed_on_the_zone_covers_the_runs_under_it() -> None:
    scene = pipe_scene()
    brief(scene, "Ines Holt")
    first = permit_until(scene, scene.clock + timedelta(minutes=10))
    run = scene.open_run(permit=str(first.pk))
    permit_until(scene, scene.clock + timedelta(hours=9), "HW-8", renews=str(first.pk))
    scene.sweep(run, WHOLE)
    assert codes(run, scene.clock) == []


def test_a_run_opened_without_a_permit_takes_one_later() -> None:
    scene = pipe_scene(permit_asked=True)
    brief(scene, "Ines Holt")
    run = scene.open_run()
    assert codes(run) == ["permit_absent"]

    scene.do(
        "renew_permit", scene.crew, run, number="HW-9", gas_reading="0 % LEL", tester="A. Moss",
        valid_from=run.opened_at.isoformat(), expires_at=(scene.clock + timedelta(hours=9)).isoformat(),
    )  # fmt: skip
    assert codes(run, scene.clock) == []


def test_an_open_run_past_its_permit_is_said_until_it_is_closed() -> None:
    scene = pipe_scene()
    brief(scene, "Ines Holt")
    run = scene.open_run(permit=str(permit_until(scene, scene.clock + timedelta(hours=1)).pk))
    assert codes(run, scene.clock + timedelta(hours=2)) == ["permit_ran_out"]
    scene.close(run)
    assert codes(run, scene.clock + timedelta(hours=2)) == []


def test_a_permit_that_is_struck_out_holds_no_more() -> None:
    scene = pipe_scene(permit_asked=True)
    permit = permit_until(scene, scene.clock + timedelta(hours=9))
    run = scene.open_run(permit=str(permit.pk))
    scene.do("strike_permit", scene.lead, permit, why="another zone's")
    assert "permit_absent" in codes(run)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"gas_reading": "0"}, "gas_reading"),
        ({"valid_from": "2025-03-03T12:00:00Z", "expires_at": "2025-03-03T12:00:00Z"}, "expires_at"),
        ({"renews": "018f3a00-0000-7000-8000-000000000000"}, "renews"),
    ],
)
def test_a_permit_that_cannot_be_is_refused_by_field(given: dict[str, Any], field: str) -> None:
    scene = pipe_scene()
    permit = {"number": "7", "gas_reading": "0 % LEL", "tester": "A. Moss", "expires_at": "2025-03-03T18:00:00Z"}
    with pytest.raises(ValidationError) as refused:
        scene.do("record_permit", scene.crew, scene.coating, **{**permit, **given})
    assert list(refused.value.detail) == [field]  # type: ignore[arg-type]


def test_a_run_without_a_briefing_of_its_sweeper_is_flagged_and_one_with_it_is_not() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    assert codes(run) == ["not_briefed"]
    brief(scene, "Ines Holt", "  ines   HOLT ")
    assert codes(run) == ["briefed_late"]
    assert codes(scene.open_run()) == []
    assert Attendee.objects.count() == 1


def test_a_briefing_holds_for_its_own_day_of_the_asset() -> None:
    scene = pipe_scene()
    scene.asset.time_zone = "America/Denver"
    scene.asset.save()
    brief(scene, "Ines Holt")  # 01:01 in Denver
    scene.clock = datetime(2025, 3, 4, 5, 0, tzinfo=UTC)  # 22:00 of the same day
    same_day = scene.open_run()
    scene.clock = datetime(2025, 3, 4, 8, 0, tzinfo=UTC)  # 01:00 of the next
    assert codes(same_day) == []
    assert codes(scene.open_run()) == ["not_briefed"]


def test_the_points_of_a_briefing_are_the_cautions_in_full_and_who_took_part_is_on_the_record() -> None:
    scene = pipe_scene()
    briefing = brief(scene, "Ines Holt")
    assert any("pacemaker" in point for point in briefing.points)
    assert "Barespot never authorises entry or work" in briefing.points[-1]
    body = json.loads(Entry.objects.get(what="hold_briefing").body)
    assert body["input"]["people"] == ["Ines Holt"]


def test_whoever_was_not_there_acknowledges_the_briefing_by_their_own_name_on_its_day_only() -> None:
    scene = pipe_scene()
    briefing = brief(scene, "Somebody Else")
    joined = scene.do("join_briefing", scene.crew, briefing, read=True)
    assert (joined.name, joined.acknowledged_themselves) == (scene.crew.name, True)
    with pytest.raises(ValidationError, match="already"):
        scene.do("join_briefing", scene.crew, briefing, read=True)
    scene.wait(hours=24)
    with pytest.raises(ValidationError, match="hold a new one"):
        scene.do("join_briefing", scene.lead, briefing, read=True)


def test_a_briefing_that_is_struck_out_briefed_nobody() -> None:
    scene = pipe_scene()
    briefing = brief(scene, "Ines Holt")
    run = scene.open_run()
    scene.do("strike_briefing", scene.lead, briefing, why="another asset")
    assert codes(run) == ["not_briefed"]


def test_a_run_by_a_lapsed_person_is_flagged_and_its_ground_stands() -> None:
    scene = pipe_scene()
    brief(scene, "Ines Holt")
    card = {"scheme": "Coating inspector", "level": "level 2", "number": "CI-9", "issued": "2022-03-01"}
    scene.do("record_qualification", scene.lead, ines(scene), **card, expires="2025-03-01")
    run = scene.survey()

    assert codes(run) == ["sweeper_lapsed"]
    assert Swath.objects.get(run=run).standing == "stands"


def test_a_run_before_the_card_ran_out_stays_in_order_when_it_has() -> None:
    scene = pipe_scene()
    brief(scene, "Ines Holt")
    card = {"scheme": "Coating inspector", "number": "CI-9", "issued": "2022-03-01", "expires": "2025-03-03"}
    scene.do("record_qualification", scene.lead, ines(scene), **card)
    assert codes(scene.survey()) == []


def test_a_card_that_is_withdrawn_counts_on_no_day_and_stays_with_the_reason() -> None:
    scene = pipe_scene(sweeper_qualification="a coating inspector", qualifications=("Coating inspector",))
    brief(scene, "Ines Holt")
    card = {"scheme": "Coating inspector", "issued": "2022-03-01"}
    paper = scene.do("record_qualification", scene.lead, ines(scene), number="CI-9", **card)
    scene.do("record_qualification", scene.lead, scene.crew, number="CI-1", **card)
    run = scene.open_run()
    assert codes(run) == []

    scene.do("strike_qualification", scene.lead, paper, why="forged")
    assert codes(run) == ["sweeper_not_qualified"]
    paper.refresh_from_db()
    assert paper.struck_why == "forged"


def test_the_number_of_a_card_is_not_in_the_record() -> None:
    scene = pipe_scene()
    scene.do("record_qualification", scene.lead, scene.crew, scheme="Painter", number="SECRET-9", issued="2022-03-01")
    assert "SECRET-9" not in Entry.objects.get(what="record_qualification").body
    assert Qualification.objects.get().number == "SECRET-9"


def test_cards_are_kept_by_a_lead_of_the_same_organisation_and_by_its_administrator_alone() -> None:
    scene = pipe_scene()
    card = {"scheme": "Painter", "number": "9", "issued": "2022-03-01"}
    admin = PersonFactory(organisation=scene.crew.organisation)
    AppointmentFactory(person=admin, role=Role.ADMIN)
    scene.do("record_qualification", admin, scene.crew, **card)
    with pytest.raises(PermissionDenied):
        scene.do("record_qualification", scene.crew, scene.crew, **card)
    with pytest.raises(ValidationError, match="before the day of issue"):
        scene.do("record_qualification", scene.lead, scene.crew, **card, expires="2021-01-01")
    with pytest.raises(ValidationError, match="there already"):
        scene.do("record_qualification", scene.lead, scene.crew, **card)


def test_what_is_recorded_of_people_is_proven_with_the_rest() -> None:
    scene = pipe_scene()
    brief(scene, "Ines Holt")
    run = scene.open_run(permit=str(permit_until(scene, scene.clock + timedelta(hours=2)).pk))
    scene.do("record_qualification", scene.lead, ines(scene), scheme="Painter", number="9", issued="2022-03-01")
    scene.close(run)
    for pk in (scene.asset.pk, scene.crew.organisation_id):
        assert not [each for each in verify(pk) if "qualif" in each.table or "briefing" in each.table]


def test_the_notes_of_many_runs_take_as_many_queries_as_those_of_two(django_assert_num_queries: Any) -> None:
    scene = pipe_scene()
    permit = permit_until(scene, scene.clock + timedelta(minutes=5))
    for _ in range(4):
        run = scene.open_run(permit=str(permit.pk))
        scene.sweep(run, "1+000.00 to 1+002.00")
        scene.close(run)
    with django_assert_num_queries(6):
        found = noted_on([scene.coating], scene.clock)
    assert len(found) == 4


def test_a_struck_run_has_nothing_said_of_it() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    perform("strike_run", scene.lead, run.pk, {"why": "wrong detector"})
    assert codes(run) == []
