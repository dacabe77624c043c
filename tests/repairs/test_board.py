"""The owner's board: it tells of each zone what the zone's page tells, in a fixed number of queries, to those who may see."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import translation
from rest_framework.test import APIClient
from statsmodels.stats.rates import confint_poisson  # type: ignore[import-untyped]

from accounts.people import Role
from inspections.coatings import Coating
from inspections.flaws import Flaw
from inspections.runs import Verification
from inspections.terms import HolidayLimit
from repairs.board import board
from repairs.board_rows import Asked
from repairs.kept_facts import facts_from_json, facts_to_json
from repairs.picture import zone_picture
from repairs.tallies import Tally, catch_up, differences, made, waiting
from tests.factories import AppointmentFactory, appointed
from tests.repairs.board_agrees import check, rows_of
from tests.scenes import MORNING, Scene, pipe_scene, releasable_scene
from tests.test_proof_order import made_up_day, send

pytestmark = pytest.mark.django_db
LATER = MORNING + timedelta(days=40)


def add_zone(scene: Scene, name: str, start: float, begin: bool = True) -> None:
    surface = {"diameter": 1.0, "start": start, "end": start + 20}
    zone = scene.do("add_zone", scene.owner, scene.asset, name=name, surface_kind="pipe", surface=surface)
    if begin:
        scene.do("begin_coating", scene.owner, zone, specification=str(scene.specification.pk))


def half_done() -> Scene:
    """Swept but for a gap, flaws in and out of patches, one patch worked on, the contract line kept."""
    scene = pipe_scene(holiday_limit=HolidayLimit("20", "100"))
    scene.survey("1+000.00 to 1+015.00", flaws=["1+004.00 @ 3:00", "1+009.00 @ 6:00", "1+012.00 @ 9:00"])
    first, _ = scene.issue(*Flaw.objects.filter(sheet__coating=scene.coating).order_by("number")[:2])
    scene.work(first)
    return scene


def test_each_zone_is_told_as_on_its_page_at_every_step_from_the_first_sheet_to_a_release_undone() -> None:
    scene = pipe_scene(cure_before_retest_h=24.0)
    add_zone(scene, "Spool 2", 1020.0, begin=False)
    assert check(scene.owner, LATER) == 1
    run = scene.open_run()
    scene.sweep(run, "1+000.00 to 1+010.00")
    check(scene.owner, LATER)  # pending
    scene.flaw(run, "1+004.00 @ 3:00")
    scene.close(run)
    scene.survey("1+008.00 to 1+020.00")
    scene.do("draw_exclusion", scene.crew, scene.zone, place="1+018.00 to 1+020.00", reason="clamp")
    check(scene.owner, LATER)
    (patch,) = scene.issue()
    check(scene.owner, LATER)
    scene.repair(patch)
    for hours in (-30, -1, 0, 30):  # while it cures and after
        check(scene.owner, scene.clock + timedelta(hours=hours))
    scene.retest(patch)
    scene.do("decide_exclusion", scene.owner, scene.zone.exclusions.get(), accepted=True)
    scene.hand_in()
    check(scene.owner, LATER)
    scene.release("Look again in a year.")
    check(scene.owner, LATER)
    closing = Verification.objects.filter(run__purpose="retest", phase="end").latest("at")
    scene.do("strike_verification", scene.lead, closing, why="Read on another instrument.")
    check(scene.owner, LATER)
    assert [row.state for row in rows_of(scene.owner, LATER)] == ["undermined", "not begun"]


def test_a_zone_whose_last_coat_still_cures_waits_for_nobody_and_is_ready_afterwards() -> None:
    scene = releasable_scene()
    (patch,) = scene.coating.patches.all()
    cured_at = zone_picture(scene.coating).facts.cured_at
    assert cured_at is not None

    before, after = (rows_of(scene.owner, cured_at + timedelta(hours=hours))[0] for hours in (-1, 1))

    assert (before.state, before.turn) == ("curing", None)
    assert (after.state, after.turn) == ("ready", None)


def test_earlier_stages_limits_exceeded_held_ground_and_concessions_are_told_as_on_the_page() -> None:
    strict = pipe_scene(holiday_limit=HolidayLimit("1", "100"))
    strict.survey(flaws=["1+004.00 @ 3:00", "1+009.00 @ 6:00"])
    strict.do("concede", strict.owner, strict.coating, gate="contract", reason="Two more are allowed.")
    check(strict.owner, LATER)
    held = pipe_scene()
    run = held.open_run()
    held.sweep(run, "1+000.00 to 1+010.00")
    held.check(run, phase="end", measured=3500)
    check(held.owner, LATER)
    assert rows_of(held.owner, LATER)[0].state == "crew"  # the run is not closed, and that comes first


@pytest.mark.parametrize("seed", range(2))
def test_whatever_a_made_up_day_brings_each_zone_is_told_as_on_its_page(seed: int) -> None:
    day = made_up_day(seed)
    send(day.recordings)

    check(day.scene.owner, LATER)


def test_intervals_on_the_board_are_exact() -> None:
    """Exact Poisson limits as statsmodels computes them (method exact-c, Garwood 1936)."""
    scene = half_done()

    (row,) = rows_of(scene.owner, LATER)

    assert row.found is not None
    low, high = confint_poisson(3, row.found.area_m2, method="exact-c")
    assert tuple(row.found.interval_per_m2) == pytest.approx((low, high))


def test_queries_do_not_grow_with_zones() -> None:
    scene = half_done()
    add_zone(scene, "Spool 2", 1020.0)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            board(scene.owner, Asked(), LATER)
        return len(seen)

    queries()  # makes what waited
    before = queries()
    for number in range(3, 15):
        add_zone(scene, f"Spool {number}", 1000.0 + 20 * number)
    while_made = queries()

    assert queries() == before
    for number in range(15, 18):
        add_zone(scene, f"Spool {number}", 1000.0 + 20 * number)
    assert queries() == while_made


def test_sums_are_those_of_the_zones() -> None:
    scene = half_done()
    add_zone(scene, "Spool 2", 1020.0)
    add_zone(scene, "Spool 3", 1040.0, begin=False)

    seen = board(scene.owner, Asked(), LATER)

    tallies = [row.tally for row in seen.zones if row.tally]
    assert seen.total.zones == 3
    assert seen.total.areas["testable"] == pytest.approx(sum(tally.testable for tally in tallies))
    assert seen.total.open_flaws == sum(tally.open_flaws for tally in tallies) == 3
    assert dict(seen.total.states) == dict(Counter(row.state for row in seen.zones))
    assert [row.figures for row in seen.assets] == [seen.total]


def test_a_person_sees_the_assets_they_are_appointed_to_and_no_other() -> None:
    scene, other = half_done(), pipe_scene()
    for person in (scene.owner, scene.lead, scene.crew, scene.painter, scene.observer):
        assert [row.asset.pk for row in board(person, Asked(), LATER).assets] == [scene.asset.pk]
    assert [row.zone.pk for row in rows_of(other.observer, LATER)] == [other.zone.pk]


def test_the_worst_come_first() -> None:
    scene = half_done()
    strict = {"holiday_limit": HolidayLimit("1", "100")}
    over = pipe_scene(**strict)
    over.survey(flaws=["1+004.00 @ 3:00", "1+009.00 @ 6:00", "1+014.00 @ 6:00"])
    done = releasable_scene()
    done.release()
    untouched = pipe_scene()
    reader = appointed(Role.OBSERVER, scene.asset)
    for each in (over, done, untouched):
        AppointmentFactory(person=reader, organisation=reader.organisation, asset=each.asset, role=Role.OBSERVER)

    rows = rows_of(reader, LATER)

    assert [row.zone.pk for row in rows] == [each.zone.pk for each in (over, scene, untouched, done)]
    assert [row.asset.pk for row in board(reader, Asked(), LATER).assets][0] == over.asset.pk


def test_zones_are_filtered_searched_sorted_and_paged() -> None:
    scene = half_done()
    for number in range(2, 6):
        add_zone(scene, f"Spool {number}", 1000.0 + 20 * number)

    def names(**asked: object) -> list[str]:
        return [row.zone.name for row in board(scene.owner, Asked(**asked), LATER).zones]  # type: ignore[arg-type]

    assert names(state="not swept", sort="name") == ["Spool 2", "Spool 3", "Spool 4", "Spool 5"]
    assert names(search="pool 3") == ["Spool 3"]
    assert names(sort="open")[0] == "Spool 1"
    assert names(sort="density")[0] == "Spool 1"
    assert names(sort="tested")[-1] == "Spool 1"
    assert names(sort="name", page=2, per_page=2) == ["Spool 3", "Spool 4"]
    assert names(asset=scene.asset.pk, sort="name", per_page=1) == ["Spool 1"]


def test_progress_ends_at_what_stands_today() -> None:
    scene = half_done()

    seen = board(scene.owner, Asked(), LATER)

    assert seen.progress[-1].tested == pytest.approx(seen.total.areas["tested"])
    assert seen.progress[-1].open_flaws == seen.total.open_flaws == 3


def test_ground_left_out_after_it_was_tested_is_taken_off_again() -> None:
    scene = pipe_scene()
    scene.survey()
    scene.wait(hours=48)
    exclusion = scene.do("draw_exclusion", scene.crew, scene.zone, place="1+000.00 to 1+005.00", reason="clamp")
    scene.do("decide_exclusion", scene.owner, exclusion, accepted=True)

    steps = board(scene.owner, Asked(), LATER).progress

    assert [step.tested for step in steps] == pytest.approx([20 * 3.141592653589793, 15 * 3.141592653589793])


def test_open_repairs_are_counted_by_their_age() -> None:
    scene = half_done()
    issued = scene.coating.patches.latest("issued_at").issued_at

    def ages(days: int) -> list[int]:
        return [age.number for age in board(scene.owner, Asked(), issued + timedelta(days=days)).ages]

    assert [ages(days) for days in (0, 7, 8, 30, 31)] == [[2, 0, 0], [2, 0, 0], [0, 2, 0], [0, 2, 0], [0, 0, 2]]


def kept(scene: Scene) -> Tally:
    """The coating's tally after somebody looked at the board."""
    rows_of(scene.owner, LATER)
    return Tally.objects.get(pk=scene.coating.pk)


def test_a_press_makes_no_tally_and_the_next_reader_has_those_that_were_touched() -> None:
    scene = half_done()
    add_zone(scene, "Spool 2", 1020.0)
    assert not Tally.objects.exists()
    kept(scene)
    assert not waiting(Coating.objects.all()).exists()

    scene.survey("1+015.00 to 1+018.00")

    assert [coating.pk for coating in waiting(Coating.objects.all())] == [scene.coating.pk]
    check(scene.owner, LATER)
    assert not waiting(Coating.objects.all()).exists()


def test_what_is_recorded_while_a_tally_is_made_lets_it_wait_again(monkeypatch: pytest.MonkeyPatch) -> None:
    scene = half_done()

    def press_meanwhile(coatings: Iterable[Coating]) -> list[Tally]:
        fresh = made(coatings)
        scene.survey("1+015.00 to 1+018.00")
        return fresh

    with monkeypatch.context() as patch:
        patch.setattr("repairs.tallies.made", press_meanwhile)
        kept(scene)

    assert waiting(Coating.objects.all()).exists()
    check(scene.owner, LATER)


def test_many_that_wait_are_made_some_at_a_time_and_the_board_says_how_many_are_late() -> None:
    scene = half_done()
    for number in range(2, 5):
        add_zone(scene, f"Spool {number}", 1000.0 + 20 * number)

    assert catch_up(Coating.objects.all(), at_most=2) == 2
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("repairs.board.catch_up", lambda coatings: catch_up(coatings, at_most=1))
        assert "1 zone still shows figures from before its last change" in page_of(scene, reverse("board"))
    assert "still show" not in page_of(scene, reverse("board"))


def test_a_tally_that_was_changed_is_named_with_its_column() -> None:
    scene = half_done()
    kept(scene)
    assert list(differences(scene.asset.pk)) == []
    Tally.objects.filter(pk=scene.coating.pk).update(open_flaws=2, left_gap=0.0)

    assert {(problem.row, problem.column) for problem in differences(scene.asset.pk)} == {
        (str(scene.coating.pk), "open_flaws"),
        (str(scene.coating.pk), "left_gap"),
    }


def test_a_missing_tally_is_made_for_the_next_reader() -> None:
    scene = half_done()
    kept(scene).delete()

    assert check(scene.owner, LATER) == 1


def test_a_zone_whose_coating_ended_is_told_as_not_begun() -> None:
    scene = half_done()
    kept(scene)
    scene.do("end_coating", scene.owner, scene.coating, why="Stripped and recoated.")

    assert [row.state for row in rows_of(scene.owner, LATER)] == ["not begun"]
    assert list(differences(scene.asset.pk)) == []


def test_what_is_kept_is_the_same_in_whatever_language_one_reads() -> None:
    scene = half_done()
    with translation.override("es"):
        spanish = kept(scene)

    (english,) = made([scene.coating])
    assert (english.facts, english.days, english.left_gap) == (
        spanish.facts,
        spanish.days,
        pytest.approx(spanish.left_gap),
    )


def test_kept_facts_name_nobody() -> None:
    scene = releasable_scene()
    scene.release()

    facts = str(kept(scene).facts)

    for person in (scene.owner, scene.crew, scene.lead, scene.painter):
        assert person.name not in facts


def test_facts_come_back_as_they_were_kept() -> None:
    scene = half_done()
    scene.do("concede", scene.owner, scene.coating, gate="contract", reason="It is said.")
    facts = zone_picture(scene.coating).facts

    assert facts_from_json(facts_to_json(facts)) == facts


def page_of(scene: Scene, address: str, **get: str) -> str:
    client = Client()
    client.force_login(scene.owner)
    answer = client.get(address, get)
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_table_behind_a_chart_holds_its_figures() -> None:
    scene = half_done()
    (row,) = rows_of(scene.owner, LATER)
    assert row.found is not None

    page = page_of(scene, reverse("board_asset", args=[scene.asset.pk]))

    assert f'<td class="number">{row.found.per_100_m2:.1f}</td>' in page
    low, high = (100 * each for each in row.found.interval_per_m2)
    assert f"{row.found.per_100_m2:.1f} ({low:.1f} to {high:.1f})" in page
    assert page.count('<svg class="board-chart"') == page.count("The same as a table") == 4


def test_a_person_with_us_units_reads_square_feet() -> None:
    scene = half_done()
    scene.owner.units = "us"
    scene.owner.save()

    page = page_of(scene, reverse("board"))

    assert "per 1000 ft²" in page
    assert "m²" not in page


def test_todays_page_of_the_owner_leads_to_the_board() -> None:
    assert f'href="{reverse("board")}"' in page_of(half_done(), reverse("today"))


def test_an_address_with_nonsense_shows_the_board() -> None:
    scene = half_done()

    assert "Spool 1" in page_of(scene, reverse("board"), state="nowhere", sort="sideways", page="many", q="\0")


def test_a_search_that_finds_nothing_offers_the_way_back() -> None:
    assert "Show all zones" in page_of(half_done(), reverse("board"), q="no such zone")


def api(scene: Scene) -> APIClient:
    client = APIClient()
    client.force_authenticate(scene.owner)
    return client


def test_the_api_tells_what_the_page_tells() -> None:
    scene = half_done()
    (row,) = rows_of(scene.owner, LATER)
    assert row.tally is not None
    assert row.left is not None

    told = api(scene).get("/api/v1/board/").json()

    (zone,) = told["zones"]
    assert (zone["zone"], zone["state"], zone["sentence"], zone["open_flaws"]) == (
        str(scene.zone.pk),
        row.state,
        row.sentence,
        3,
    )
    assert zone["areas"]["left_gap"] == pytest.approx(row.tally.left_gap)
    assert zone["left"]["per_100_m2"] == pytest.approx(row.left.per_100_m2)
    assert told["total"]["states"] == {row.state: 1}
    assert told["assets"][0]["asset"] == str(scene.asset.pk)
    assert told["count"] == 1


@pytest.mark.parametrize("query", ["state=nowhere", "sort=sideways", "page=0", "limit=501"])
def test_the_api_names_what_it_does_not_take(query: str) -> None:
    answer = api(half_done()).get(f"/api/v1/board/?{query}")

    assert answer.status_code == 400
    assert query.partition("=")[0] in str(answer.json())


def test_a_foreign_asset_is_not_there() -> None:
    scene, other = half_done(), pipe_scene()

    assert api(scene).get(f"/api/v1/board/?asset={other.asset.pk}").status_code == 404
