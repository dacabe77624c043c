"""The demo loads through the product's own ways in, shows every state, and proves."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import openpyxl
import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.test import override_settings
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from accounts import verify
from accounts.access import visible
from accounts.assets import Asset
from accounts.people import Organisation, Person
from accounts.record import Entry
from inspections.coatings import Coating
from inspections.flaws import Flaw
from inspections.noted_runs import noted_on, permits_of
from inspections.pages.air_block import air_of_run
from inspections.run_basis import basis_questions
from inspections.runs import Run, Standing, Swath
from inspections.sheetfile import read_sheet
from inspections.sweep import minutes_till_check
from inspections.tested import differences
from mapping.jointfile import read_joints
from mapping.positions import Chainage
from mapping.zones import Zone
from repairs.demo.deck import DECK
from repairs.demo.files import shifted
from repairs.demo.setting import ADMIN, CROSSING, FIXTURES, MAIN, PASSWORD, PEOPLE, Setting
from repairs.demo.tank import TANK
from repairs.film import film_picture
from repairs.film_voltage import voltage_of
from repairs.picture import ZonePicture, asset_pictures, zone_picture, zone_picture_at
from repairs.state import PatchState
from tests.repairs.board_agrees import check
from tests.repairs.test_wound_back import told

TABLES = {
    "joints.csv",
    "tank-shell.csv",
    "tank-floor-and-roof.csv",
    "tank-features.csv",
    "deck-features.csv",
    "thickness.csv",
    "thickness-13.csv",
}
SHEETS = sorted(
    path.name for path in FIXTURES.iterdir() if path.suffix in (".csv", ".xlsx") and path.name not in TABLES
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the demo's files lie."""
    return tmp_path_factory.mktemp("files")


@pytest.fixture(scope="module")
def loaded(django_db_setup: None, django_db_blocker: DjangoDbBlocker, folder: Path) -> Iterator[str]:
    """What the command printed; the demo stands while this module's tests read it."""
    out = io.StringIO()
    with django_db_blocker.unblock(), transaction.atomic():
        with override_settings(MEDIA_ROOT=folder):
            call_command("load_demo", "--address", "http://127.0.0.1:8000/", stdout=out)
        yield out.getvalue()
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def pictures(loaded: str) -> dict[int, ZonePicture]:
    return {picture.zone.order: picture for picture in asset_pictures(Asset.objects.get(name=MAIN))}


@pytest.fixture(scope="module")
def tank(loaded: str) -> dict[str, ZonePicture]:
    return {picture.zone.name: picture for picture in asset_pictures(Asset.objects.get(name=TANK))}


@pytest.fixture(scope="module")
def deck(loaded: str) -> dict[str, ZonePicture]:
    return {picture.zone.name: picture for picture in asset_pictures(Asset.objects.get(name=DECK))}


def gate(picture: ZonePicture, code: str) -> str:
    return next(gate.state for gate in picture.gates if gate.code == code)


def test_it_prints_the_address_the_password_and_who_can_sign_in(loaded: str) -> None:
    assert "http://127.0.0.1:8000/" in loaded
    assert PASSWORD in loaded
    assert all(person.email in loaded for person in (*PEOPLE, ADMIN))


def test_everybody_can_sign_in(loaded: str) -> None:
    assert all(Person.objects.get(email=person.email).check_password(PASSWORD) for person in (*PEOPLE, ADMIN))


def test_loading_it_again_changes_nothing(loaded: str) -> None:
    before = Entry.objects.count()
    out = io.StringIO()
    call_command("load_demo", stdout=out)
    assert "The demo is here already" in out.getvalue()
    assert Entry.objects.count() == before


def test_the_record_and_what_is_derived_from_it_prove(loaded: str, folder: Path) -> None:
    with override_settings(MEDIA_ROOT=folder):
        assert [str(problem) for problem in verify.verify()] == []
    for asset in Asset.objects.all():
        assert list(differences(asset.pk)) == []


def test_one_section_is_released_and_one_is_ready(pictures: dict[int, ZonePicture]) -> None:
    assert pictures[1].release is not None
    assert pictures[1].release.undermined == ()
    assert (pictures[2].release, pictures[2].may_release) == (None, True)


def test_one_section_shows_patches_at_every_step(pictures: dict[int, ZonePicture]) -> None:
    states = [patch.state for patch in pictures[3].patches]
    assert {PatchState.TO_DO, PatchState.BEGUN, PatchState.READY, PatchState.ACCEPTED} <= set(states)
    assert {len(patch.cycles) for patch in pictures[3].patches} >= {0, 1, 2}


def test_ground_is_lost_held_pending_and_never_swept(pictures: dict[int, ZonePicture]) -> None:
    assert pictures[4].found.lost_m2 == pytest.approx(25 * 3.1416 * 1.219, rel=1e-3)
    assert pictures[5].found.held_m2 == pytest.approx(75 * 3.1416 * 1.219, rel=1e-3)
    assert pictures[7].found.pending_m2 > 100
    assert pictures[6].found.gap_m2 > 1


def test_an_exclusion_is_accepted_and_another_waits_for_the_owner(pictures: dict[int, ZonePicture]) -> None:
    assert (len(pictures[6].excluded), len(pictures[6].undecided)) == (1, 1)


def test_the_contract_line_is_exceeded_in_one_section_only(pictures: dict[int, ZonePicture]) -> None:
    assert [
        number for number, picture in pictures.items() if picture.contract and picture.contract.verdict == "exceeded"
    ] == [8]


def test_a_swath_waits_for_the_answer_whether_it_was_too_fast(loaded: str) -> None:
    swath = Swath.objects.get(standing=Standing.HELD, run__sheet__coating__zone__order=10)
    assert "faster than allowed" in swath.cause


def test_the_next_check_of_the_open_run_is_due_within_half_an_hour(loaded: str) -> None:
    run = Run.objects.get(closed_at=None, struck_at=None)
    last = run.verifications.latest("at")
    assert 0 < minutes_till_check(last.at, run.check_interval_min or 0, timezone.now()) < 30


def test_the_open_run_warns_before_its_margin_above_the_dew_point_closes(loaded: str) -> None:
    told = air_of_run(Run.objects.get(closed_at=None, struck_at=None), "si")
    assert told.in_order
    assert "comes within 3.0 °C of the dew point" in told.warning


def test_lost_ground_was_swept_again_and_the_second_pass_is_counted(pictures: dict[int, ZonePicture]) -> None:
    repeated = pictures[4].repeated
    assert repeated.areas == {2: pytest.approx(25 * 3.1416 * 1.219, rel=1e-3)}
    assert [each.run.label for each in repeated.places[0].runs] == ["A-1", "B-1"]


def test_a_film_that_no_single_setting_serves_is_split_and_half_of_it_swept_on_its_readings(loaded: str) -> None:
    coating = Coating.objects.get(zone__asset__name=MAIN, zone__order=CROSSING)
    proposal = voltage_of(film_picture(coating))
    assert proposal is not None
    assert [len(part.spots) for part in proposal.along] == [19, 20]
    run = Run.objects.get(sheet__coating=coating)
    assert (run.basis_gauges, run.thickness_basis, len(run.basis_spots)) == (["DFT-310"], "measured mean", 20)
    assert run.rule_provenance == "from memory"


def test_a_reading_struck_out_since_flags_the_run_that_rests_on_it(loaded: str) -> None:
    runs = Run.objects.filter(sheet__coating__zone__order=CROSSING).select_related("sheet__coating__zone__asset")
    (questions,) = basis_questions(runs).values()
    assert [str(question.line) for question in questions] == ["rests on 1 thickness spot that was struck out since"]


def test_runs_are_noted_for_a_card_that_ran_out_and_a_night_without_a_briefing(loaded: str) -> None:
    coatings = Coating.objects.filter(zone__asset__name=MAIN)
    noted = {
        (run.sheet.coating.zone.order, run.label): [note.code for note in run.notes]
        for run in noted_on(coatings, timezone.now())
    }
    assert noted[11, "A-1"] == ["not_briefed"]
    assert noted[7, "B-1"] == ["sweeper_lapsed"]


def test_a_permit_that_ran_out_in_the_open_run_was_renewed_before(loaded: str) -> None:
    run = Run.objects.get(closed_at=None, struck_at=None)
    first, renewed = permits_of([run])[run.pk]
    assert renewed.renews == first.id
    assert first.expires_at < timezone.now() < renewed.expires_at
    assert renewed.begins_at < first.expires_at


def test_flaws_lie_over_many_sections(loaded: str) -> None:
    assert 25 <= Flaw.objects.count() <= 60
    assert Flaw.objects.values("sheet__coating").distinct().count() >= 10


def test_nothing_in_the_story_lies_in_the_future(loaded: str) -> None:
    assert Run.objects.latest("opened_at").opened_at < timezone.now()
    assert Run.objects.earliest("opened_at").opened_at > timezone.now() - timedelta(days=40)


def test_the_tank_has_five_strakes_a_floor_and_a_coned_roof(loaded: str) -> None:
    kinds = Zone.objects.filter(asset__name=TANK).values_list("surface_kind", flat=True)
    assert sorted(kinds) == ["cone", "disk", *["strake"] * 5]


def test_one_strake_is_released_and_later_work_undermines_another(tank: dict[str, ZonePicture]) -> None:
    standing, undermined = tank["Strake 5"].release, tank["Strake 4"].release
    assert standing is not None
    assert undermined is not None
    assert standing.undermined == ()
    assert {each.code for each in undermined.undermined} == {"coverage", "features"}


def test_a_strake_is_ready_with_one_patch_accepted_and_one_conceded(tank: dict[str, ZonePicture]) -> None:
    assert tank["Strake 3"].may_release
    assert {patch.state for patch in tank["Strake 3"].patches} == {PatchState.ACCEPTED, PatchState.CONCEDED}


def test_a_strake_shows_lost_and_held_ground_and_another_patches_at_every_step(tank: dict[str, ZonePicture]) -> None:
    assert tank["Strake 2"].found.lost_m2 == pytest.approx(3.1416 * 18.2 * 2.4 / 3, rel=1e-3)
    assert tank["Strake 2"].found.held_m2 == pytest.approx(3.1416 * 18.2 * 2.4 / 3, rel=1e-3)
    states = {patch.state for patch in tank["Strake 1"].patches}
    assert states == {PatchState.TO_DO, PatchState.BEGUN, PatchState.READY, PatchState.FAILED, PatchState.ACCEPTED}


def test_seams_and_nozzles_of_the_tank_are_counted_and_what_is_not_swept_is_named(tank: dict[str, ZonePicture]) -> None:
    sums = {each.kind: each for each in tank["Strake 1"].features.sums()}
    assert sums["weld"].testable == pytest.approx(6 * 2.4 + 3.14159 * 18.2, rel=1e-5)
    assert (sums["weld"].missing, sums["nozzle"].missing) == (("V1.6",), ("N2",))
    assert gate(tank["Strake 5"], "features") == "green"


def test_ground_over_a_mat_counts_only_where_the_return_is_proven_and_the_concrete_alarms(
    deck: dict[str, ZonePicture],
) -> None:
    causes = Swath.objects.filter(run__sheet__coating__zone__asset__name=DECK, standing=Standing.LOST)
    assert set(causes.values_list("cause", flat=True)) == {
        "mat 2 east: bare concrete gave no alarm, being too dry for this test",
        "mat 3 east: no proof of the return; mat 3 east: no touch of bare concrete away from the return",
    }
    assert deck["Span 1"].may_release


def test_the_same_people_see_all_three_assets(loaded: str) -> None:
    for person in PEOPLE:
        seen = visible(Person.objects.get(email=person.email), Asset)
        assert {asset.name for asset in seen} == {MAIN, TANK, DECK}


def test_the_demo_wants_an_empty_database(db: None) -> None:
    Organisation.objects.create(name="Somebody else")
    with pytest.raises(CommandError, match="empty database only"):
        call_command("load_demo", stdout=io.StringIO())


def examples() -> list[str]:
    """The examples of the page that describes the format."""
    return (FIXTURES / "README.md").read_text(encoding="utf-8").split("```\n")[1::2]


def test_the_examples_of_the_format_are_read() -> None:
    sheet, joints = (text.encode() for text in examples())
    assert read_sheet(sheet, "example.csv").problems == ()
    assert len(read_sheet(sheet, "example.csv").lines) == 12
    assert read_joints(joints, "joints.csv", Chainage()).problems == ()


@pytest.mark.parametrize("name", SHEETS)
def test_every_field_sheet_of_the_fixtures_reads(name: str) -> None:
    found = read_sheet((FIXTURES / name).read_bytes(), name)
    assert (found.problems, found.letter) == ((), name.split(".")[0][-1])


def test_the_fixtures_hold_both_encodings_every_separator_and_workbooks() -> None:
    forms = {read_sheet((FIXTURES / name).read_bytes(), name).form for name in SHEETS}
    assert forms == {
        "CSV, UTF-8, commas",
        "CSV, UTF-8, semicolons",
        "CSV, UTF-8, tabs",
        "CSV, Windows-1252, semicolons",
        "XLSX",
    }


def test_the_joint_list_of_the_fixtures_reads() -> None:
    listed = read_joints((FIXTURES / "joints.csv").read_bytes(), "joints.csv", Chainage())
    assert listed.problems == ()
    assert 190 <= sum(mark.kind == "joint" for mark in listed.marks) <= 210


@pytest.mark.parametrize("name", ["section-01-A.csv", "section-11-A.csv", "section-02-A.xlsx"])
def test_days_of_a_file_move_and_nothing_else(name: str) -> None:
    before = read_sheet((FIXTURES / name).read_bytes(), name)
    after = read_sheet(shifted((FIXTURES / name).read_bytes(), name, 400), name)
    assert after.form == before.form
    for old, new in zip(before.lines, after.lines, strict=True):
        assert (new.what, dict(new.cells)) == (old.what, dict(old.cells))
        assert (new.at and new.at - timedelta(days=400)) == old.at


def test_a_workbook_keeps_its_typed_cells_when_its_days_move() -> None:
    content = shifted((FIXTURES / "section-02-A.xlsx").read_bytes(), "section-02-A.xlsx", 1)
    values = [cell for row in openpyxl.load_workbook(io.BytesIO(content)).worksheets[0].values for cell in row]
    assert "2025-05-29" in values
    assert 2.5 in values


def test_dates_are_moved_by_the_days_since_the_story_was_written() -> None:
    there = Setting.at(datetime(2031, 6, 20, 12, 0, tzinfo=UTC))
    assert there.when("2025-06-20 08:00").isoformat() == "2031-06-20T08:00:00+02:00"


def test_every_zone_wound_back_to_this_moment_is_as_it_stands(pictures: dict[int, ZonePicture]) -> None:
    now = timezone.now()
    for coating in (picture.coating for picture in pictures.values()):
        assert told(zone_picture_at(coating, now)) == told(zone_picture(coating, at=now)), coating.zone.name


def test_the_board_tells_of_each_zone_what_its_page_tells(loaded: str) -> None:
    reader = Person.objects.get(email="observer@example.test")

    assert check(reader, timezone.now()) == Coating.objects.filter(ended_at=None).count()
