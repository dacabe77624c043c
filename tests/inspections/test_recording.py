"""What a crew records: limits of what is taken, what is flagged instead of refused, who strikes out and until when."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any
from unittest import mock

import pytest
from django.utils import timezone
from rest_framework.exceptions import PermissionDenied, ValidationError

from accounts.acting import perform
from accounts.ids import new_id
from accounts.people import Role
from accounts.record import Entry
from inspections.coatings import Coverage
from inspections.instruments import Certificate
from inspections.run_notices import NOTICES, beyond_range
from inspections.runs import Run, Swath
from inspections.tested import differences
from tests.factories import AppointmentFactory, appointed
from tests.scenes import WHOLE, Scene, pipe_scene

pytestmark = pytest.mark.django_db
HUGE = 2**31


def at_server_time(moment: datetime) -> Any:
    return mock.patch("accounts.acting.timezone.now", return_value=moment)


def in_denver() -> tuple[Scene, Run]:
    """A zone six hours behind UTC, with an open run."""
    scene = pipe_scene()
    scene.asset.time_zone = "America/Denver"
    scene.asset.save()
    return scene, scene.open_run()


def checked_at(scene: Scene, run: Run, at: datetime) -> Any:
    given = {"measured": 2500, "alarm_seen": True, "at": at.isoformat()}
    return perform("verify", scene.crew, run.pk, given).made


def test_the_day_in_which_its_maker_strikes_out_is_the_assets_and_goes_on_past_midnight_utc() -> None:
    scene, run = in_denver()
    check = checked_at(scene, run, datetime(2025, 7, 1, 23, 30, tzinfo=UTC))  # 17:30 in Denver

    with at_server_time(datetime(2025, 7, 2, 1, 30, tzinfo=UTC)):  # 19:30, the same day
        perform("strike_verification", scene.crew, check.pk, {"why": "wrong box"})
    check.refresh_from_db()
    assert check.struck_why == "wrong box"


def test_the_day_in_which_its_maker_strikes_out_ends_at_midnight_of_the_asset() -> None:
    scene, run = in_denver()
    check = checked_at(scene, run, datetime(2025, 7, 2, 3, 0, tzinfo=UTC))  # 21:00 of 1 July in Denver

    with (
        at_server_time(datetime(2025, 7, 2, 14, 0, tzinfo=UTC)),
        pytest.raises(ValidationError, match="on the same day"),
    ):
        perform("strike_verification", scene.crew, check.pk, {"why": "wrong box"})


def test_a_swath_that_ends_before_it_starts_is_named_by_the_clock_of_the_asset() -> None:
    scene, run = in_denver()
    times = {"started_at": "2025-03-03T09:00:00Z", "ended_at": "2025-03-03T08:30:00Z"}

    with pytest.raises(ValidationError, match="It starts at 02:00, after its end at 01:30"):
        scene.do("mark_swept", scene.crew, run, place=WHOLE, **times)


def test_an_island_is_proven_however_its_name_is_spelled_in_capitals() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    scene.do("prove_return", scene.crew, run, said="flange", island="Spool 2")

    swath = scene.sweep(run, WHOLE, island="spool 2")
    scene.close(run)

    swath.refresh_from_db()
    assert swath.standing == "stands"


def test_a_certificate_is_good_to_the_end_of_its_last_day_on_the_asset() -> None:
    scene = pipe_scene()
    scene.asset.time_zone = "America/Denver"
    scene.asset.save()
    Certificate.objects.all().update(struck_at=timezone.now(), struck_by=scene.lead, struck_why="another one")
    paper = {"number": "C-2", "issued": "2025-01-01", "due": "2025-03-03"}
    perform("register_certificate", scene.lead, scene.detector.pk, paper)
    scene.clock = datetime(2025, 3, 4, 1, 0, tzinfo=UTC)  # 18:00 of 3 March

    run = scene.survey()

    assert Swath.objects.get(run=run).standing == "stands"


def test_a_certificate_that_is_recorded_later_restores_the_ground_of_its_runs() -> None:
    scene = pipe_scene()
    Certificate.objects.all().update(struck_at=timezone.now(), struck_by=scene.lead, struck_why="wrong instrument")
    run = scene.survey()
    assert Swath.objects.get(run=run).cause == "the instrument was out of calibration"

    paper = {"number": "C-2", "issued": "2025-01-01", "due": "2026-01-01"}
    perform("register_certificate", scene.lead, scene.detector.pk, paper)

    assert Swath.objects.get(run=run).standing == "stands"
    assert Coverage.objects.get(coating=scene.coating).found_area == pytest.approx(scene.zone.true_area)
    assert list(differences(scene.asset.pk)) == []
    told = Entry.objects.get(what="register_certificate", record=scene.asset.pk)
    assert json.loads(told.body)["consequences"] == [{"run": run.label, "swaths": {"stands": 1}}]


@pytest.mark.parametrize(
    ("name", "given", "field"),
    [
        ("verify", {"measured": -1, "alarm_seen": True}, "measured"),
        ("verify", {"measured": HUGE, "alarm_seen": True}, "measured"),
        ("verify", {"measured": 2500, "alarm_seen": True, "sheet_seq": HUGE}, "sheet_seq"),
        ("mark_swept", {"place": WHOLE, "start_seq": HUGE}, "start_seq"),
        ("mark_swept", {"place": f"1+000.00 to {' ' * 200}1+001.00"}, "place"),
        ("report_flaw", {"place": "1+004.00 @ 3:00", "number": HUGE}, "number"),
        ("report_flaw", {"place": "1+004.00 @ 3:00", "size_x": -0.2}, "size_x"),
        ("report_flaw", {"place": "1+004.00 @ 3:00", "size_y": -0.2}, "size_y"),
        ("report_flaw", {"place": "1+004.00 @ 3:00", "depth": -1}, "depth"),
        ("report_flaw", {"place": "1+004.00 @ 3:00", "give_or_take": -0.1}, "give_or_take"),
        ("report_flaw", {"place": f"1+004.00 @ {' ' * 120}3:00"}, "place"),
        ("report_flaw", {"place": "1+004.00 @ 3:00", "at": "0001-01-01T00:00:00Z"}, "at"),
        ("mark_swept", {"place": WHOLE, "started_at": "0001-01-01T00:00:00Z"}, "started_at"),
    ],
)
def test_what_cannot_be_is_refused_by_field(name: str, given: dict[str, Any], field: str) -> None:
    scene = pipe_scene()
    run = scene.open_run()

    with pytest.raises(ValidationError) as refused:
        perform(name, scene.crew, run.pk, given)
    assert list(refused.value.detail) == [field]  # type: ignore[arg-type]


@pytest.mark.parametrize("volts", [-2500, HUGE])
def test_a_voltage_that_cannot_be_is_refused_whatever_the_instrument_says_of_itself(volts: int) -> None:
    scene = pipe_scene()
    type(scene.detector).objects.update(volts_min=None, volts_max=None)

    with pytest.raises(ValidationError) as refused:
        scene.open_run(set_volts=volts)
    assert list(refused.value.detail) == ["set_volts"]  # type: ignore[arg-type]


def test_a_voltage_below_what_the_instrument_gives_is_recorded_and_flagged_with_what_to_do() -> None:
    scene = pipe_scene()
    type(scene.detector).objects.update(volts_min=5000, volts_max=None)

    run = scene.open_run()

    assert run.set_volts == 2500
    assert "5000 V or more" in beyond_range(run)


def test_a_voltage_above_what_the_instrument_gives_is_recorded_and_flagged_with_what_to_do() -> None:
    scene = pipe_scene()
    type(scene.detector).objects.update(volts_max=2000)

    assert "Read the dial again" in beyond_range(scene.open_run())


@pytest.mark.parametrize(("thickness", "asked"), [("12 µm", True), ("20", True), ("20 mil", False), ("508 µm", False)])
def test_a_run_opened_on_a_thickness_in_the_wrong_unit_is_asked_about(thickness: str, asked: bool) -> None:
    """The specification asks for 500 µm; 20 mil are 508 µm (NIST SP 811)."""
    run = pipe_scene().open_run(thickness=thickness)
    assert any("was it mil?" in notice(run) for notice in NOTICES) is asked


def test_a_permit_may_not_run_out_beyond_every_calendar() -> None:
    scene = pipe_scene()
    given = {"number": "7", "gas_reading": "0 % LEL", "tester": "A. Moss", "expires_at": "9999-12-31T23:59:59Z"}

    with pytest.raises(ValidationError) as refused:
        perform("record_permit", scene.crew, scene.coating.pk, given)
    assert list(refused.value.detail) == ["expires_at"]  # type: ignore[arg-type]


def test_a_certificate_of_the_first_year_of_all_is_refused() -> None:
    scene = pipe_scene()
    paper = {"number": "C-2", "issued": "0001-01-01", "due": "9999-12-31"}

    with pytest.raises(ValidationError) as refused:
        perform("register_certificate", scene.lead, scene.detector.pk, paper)
    assert list(refused.value.detail) == ["issued", "due"]  # type: ignore[arg-type]


def test_the_address_of_a_witness_of_a_run_stays_out_of_the_record() -> None:
    scene = pipe_scene()

    scene.open_run(witness=scene.lead.email)

    assert not Entry.objects.filter(body__contains=scene.lead.email).exists()


def test_what_arrives_on_a_struck_run_of_an_ended_coating_is_recorded_and_flagged() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    scene.close(run)
    scene.hand_in()
    scene.do("strike_run", scene.lead, run, why="wrong zone")
    scene.do("end_coating", scene.owner, scene.coating, why="stripped")

    swept = scene.perform("mark_swept", scene.crew, run, place="1+001.00 to 1+002.00")
    flaw = scene.perform("report_flaw", scene.crew, run, place="1+001.50 @ 3:00")
    check = scene.perform("verify", scene.crew, run, measured=2500, alarm_seen=True)

    for done in (swept, flaw, check):
        said = " ".join(word for word in done.consequences if isinstance(word, str))
        assert "Run A-1 was closed" in said
        assert "Run A-1 has been struck out" in said
        assert "Sheet A was handed in" in said
        assert "Coating 1 has ended" in said


def test_a_swath_whose_first_press_is_named_is_placed_by_its_presses_though_its_times_are_sent() -> None:
    scene = pipe_scene()
    run = scene.open_run()

    swath = scene.do(
        "mark_swept",
        scene.crew,
        run,
        place=WHOLE,
        start_seq=2,
        sheet_seq=3,
        started_at=(scene.clock + timedelta(minutes=1)).isoformat(),
        ended_at=(scene.clock + timedelta(minutes=1)).isoformat(),
    )

    assert not swath.hand_timed


def test_a_run_opened_beside_struck_or_imported_ones_gets_a_number_not_yet_used() -> None:
    scene = pipe_scene()
    scene.open_run()
    imported = Run.objects.get()
    imported.pk, imported.number = new_id(), 7
    imported.save(force_insert=True)

    assert scene.open_run().number == 8


def test_a_survey_by_another_method_than_the_specified_one_tests_nothing() -> None:
    scene = pipe_scene()
    run = scene.open_run(method="visual", instrument=None, electrode=None)
    scene.sweep(run, WHOLE)
    scene.do("close_run", scene.crew, run)

    assert not Coverage.objects.filter(coating=scene.coating, found_area__gt=0).exists()
    assert list(differences(scene.asset.pk)) == []


def test_opening_a_survey_by_another_method_says_that_it_will_not_count() -> None:
    scene = pipe_scene()

    done = scene.perform(
        "open_run", scene.crew, scene.sheet, purpose="survey", method="visual", sweeper="Ines Holt", cautions=True
    )

    assert any("does not count as tested" in str(word) for word in done.consequences)


def test_a_decision_is_made_by_who_may_now_whatever_the_device_says_of_the_time() -> None:
    scene = pipe_scene()
    former = appointed(Role.OBSERVER, scene.asset)
    AppointmentFactory(
        person=former,
        organisation=scene.asset.organisation,
        asset=scene.asset,
        role=Role.OWNER,
        until=datetime(2025, 6, 1, tzinfo=UTC),
    )

    with pytest.raises(PermissionDenied):
        perform("end_coating", former, scene.coating.pk, {"why": "late"}, device_at=datetime(2025, 5, 1, tzinfo=UTC))
