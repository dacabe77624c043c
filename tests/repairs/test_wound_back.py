"""A zone wound back to an earlier moment: what had happened by then, and nothing of what came after."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inspections.coatings import Coating
from repairs.picture import ZonePicture, zone_picture, zone_picture_at
from repairs.state import FlawStatus, PatchState
from repairs.wound_back import coating_at
from tests.scenes import Scene, pipe_scene, releasable_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]


def then(scene: Scene, at: datetime) -> ZonePicture:
    return zone_picture_at(Coating.objects.get(pk=scene.coating.pk), at)


def told(picture: ZonePicture) -> dict[str, Any]:
    """All that a picture says of ground, flaws, patches and gates."""
    ground = picture.ground
    return {
        "areas": [round(m2, 6) for m2 in (ground.tested_m2, ground.held_m2, ground.pending_m2, ground.lost_m2, ground.gap_m2)],
        "flaws": [(flaw.tag, flaw.status, flaw.kind, flaw.counted, flaw.why_not, flaw.marks) for flaw in picture.flaws],
        "patches": [(patch.number, patch.state, patch.since, len(patch.cycles)) for patch in picture.patches],
        "gates": [(gate.code, gate.state, gate.sentence) for gate in picture.gates],
        "released": picture.release and picture.release.id,
        "sentence": picture.sentence,
    }  # fmt: skip


def test_wound_back_to_now_it_is_the_picture_of_now() -> None:
    scene = releasable_scene()
    scene.release()
    now = timezone.now()
    assert told(then(scene, now)) == told(zone_picture(scene.coating, at=now))


def test_a_zone_with_open_ends_wound_back_to_now_is_the_picture_of_now() -> None:
    scene = pipe_scene()
    run = scene.open_run(set_volts=2900)
    scene.sweep(run, "1+000.00 to 1+008.00")
    scene.flaw(run, "1+004.00 @ 3:00")
    scene.flaw(run, "1+006.00 @ 6:00", kind="false indication")
    scene.do("draw_exclusion", scene.crew, scene.zone, place="1+015.00 to 1+016.00", reason="saddle")
    scene.survey("1+008.00 to 1+012.00", flaws=["1+009.00 @ 9:00"])
    for patch in scene.issue():
        scene.work(patch)
    now = timezone.now()
    assert told(then(scene, now)) == told(zone_picture(scene.coating, at=now))


def test_before_the_first_run_nothing_is_swept() -> None:
    scene = pipe_scene()
    before = scene.clock + timedelta(seconds=30)
    scene.survey(flaws=["1+004.00 @ 3:00"])
    picture = then(scene, before)
    assert picture.sentence == "Not swept yet."
    assert picture.ground.gap_m2 == pytest.approx(picture.true_m2)
    assert picture.flaws == ()


def test_ground_swept_before_the_next_check_was_pending_then_and_stands_now() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    scene.sweep(run, "whole zone")
    between = scene.clock + timedelta(seconds=30)
    scene.close(run)
    picture = then(scene, between)
    assert picture.ground.pending_m2 == pytest.approx(picture.true_m2)
    assert zone_picture(scene.coating).ground.tested_m2 == pytest.approx(picture.true_m2)


def test_ground_that_a_later_check_took_away_stood_before_it() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    scene.sweep(run, "whole zone")
    scene.check(run)
    good = scene.clock + timedelta(seconds=30)
    scene.sweep(run, "1+000.00 to 1+004.00")
    scene.check(run, 1500)
    assert then(scene, good).ground.tested_m2 == pytest.approx(scene.zone.true_area)


def test_a_patch_is_to_do_begun_ready_and_accepted_at_its_own_times() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    moments = {PatchState.TO_DO: scene.clock + timedelta(seconds=30)}
    scene.step(patch, "prepared")
    moments[PatchState.BEGUN] = scene.clock + timedelta(seconds=30)
    scene.step(patch, "coated", 1)
    scene.wait(hours=5)
    scene.step(patch, "coated", 2)
    scene.wait(hours=40)
    scene.step(patch, "cured")
    scene.do("hand_over", scene.painter, patch)
    moments[PatchState.READY] = scene.clock + timedelta(seconds=30)
    scene.retest(patch)
    moments[PatchState.ACCEPTED] = scene.clock + timedelta(seconds=30)
    for state, at in moments.items():
        assert [row.state for row in then(scene, at).patches] == [state], state


def test_a_flaw_struck_out_since_was_open_then() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    flaw = scene.flaw(run, "1+004.00 @ 3:00")
    before = scene.clock + timedelta(seconds=30)
    scene.do("strike_flaw", scene.lead, flaw, why="seen twice")
    assert [row.status for row in then(scene, before).flaws] == [FlawStatus.OPEN]
    assert [row.status for row in zone_picture(scene.coating).flaws] == [FlawStatus.STRUCK]


def test_a_release_is_shown_only_from_its_own_moment_on() -> None:
    scene = releasable_scene()
    before = scene.clock + timedelta(seconds=30)
    scene.release()
    assert then(scene, before).release is None
    assert then(scene, timezone.now()).release is not None


def test_an_exclusion_accepted_later_was_a_gap_then() -> None:
    scene = pipe_scene()
    drawn = scene.do("draw_exclusion", scene.crew, scene.zone, place="1+015.00 to 1+016.00", reason="saddle")
    before = timezone.now()
    scene.do("decide_exclusion", scene.owner, drawn, accepted=True)
    picture = then(scene, before)
    assert picture.testable_m2 == pytest.approx(picture.true_m2)
    assert len(picture.undecided) == 1


def page(scene: Scene, **asked: str) -> str:
    client = Client()
    client.force_login(scene.crew)
    return client.get(reverse("zone", args=[scene.zone.pk]), asked).content.decode()


def at_words(scene: Scene, at: datetime) -> str:
    return at.astimezone(scene.asset.zone_info).strftime("%Y-%m-%dT%H:%M")


def test_the_page_wound_back_says_so_and_offers_nothing_to_press_but_the_way_back() -> None:
    scene = pipe_scene()
    scene.survey("1+000.00 to 1+010.00", flaws=["1+004.00 @ 3:00"])
    at = scene.clock + timedelta(minutes=2)
    scene.survey("1+010.00 to 1+020.00")
    shown = page(scene, at=at_words(scene, at))
    assert "Wound back." in shown
    assert "10.0 m" not in shown.split('id="walk"')[0]
    for action in ("take_sheet", "Sweep again", "mark_swept", "draw_exclusion", "Issue patches"):
        assert action not in shown
    assert f'href="{reverse("zone", args=[scene.zone.pk])}"' in shown
    assert "at=" in shown.split("data-sheet=")[1].split('"')[1]


def test_the_drawing_wound_back_shows_only_what_had_been_found() -> None:
    scene = pipe_scene()
    scene.survey("1+000.00 to 1+010.00", flaws=["1+004.00 @ 3:00"])
    at = scene.clock + timedelta(minutes=2)
    scene.survey("1+010.00 to 1+020.00", flaws=["1+014.00 @ 3:00"])
    client = Client()
    client.force_login(scene.crew)
    url = reverse("zone_drawing", args=[scene.zone.pk])
    assert len(client.get(url).json()["flaws"]["tag"]) == 2
    assert len(client.get(url, {"at": at_words(scene, at)}).json()["flaws"]["tag"]) == 1


def test_a_moment_that_cannot_be_read_is_named_and_now_is_shown() -> None:
    shown = page(pipe_scene(), at="yesterday")
    assert "&quot;yesterday&quot; is no moment" in shown
    assert "Wound back." not in shown


def test_before_any_coating_the_page_says_that_none_had_begun() -> None:
    scene = pipe_scene()
    shown = page(scene, at="2020-01-01T08:00")
    assert "No coating had begun" in shown
    assert coating_at(scene.zone, datetime.fromisoformat("2020-01-01T08:00+00:00")) is None
