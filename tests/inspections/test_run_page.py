"""The page of an open run begins where the sweep goes on, and keeps what was pressed last in sight."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inspections.pages.runs import bays_of, where_it_goes_on
from inspections.runs import Run
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]


@pytest.fixture
def scene() -> Scene:
    made = pipe_scene()
    for at in ("1+005.00", "1+010.00", "1+015.00"):
        made.do("add_landmark", made.crew, made.asset, kind="girth weld", name=f"W {at}", at=at)
    return made


def here(run: Run) -> str:
    return where_it_goes_on(run, bays_of(run.sheet.coating.zone)).said


def page_of(scene: Scene, run: Run) -> str:
    client = Client()
    client.force_login(scene.crew)
    return client.get(reverse("run", args=[run.pk])).content.decode()


def test_it_goes_on_at_the_first_stretch_that_is_still_to_walk(scene: Scene) -> None:
    scene.survey("1+000.00 to 1+005.00")
    run = scene.open_run()
    assert here(run) == "1+005.00 to 1+010.00"
    scene.sweep(run, "1+005.00 to 1+010.00")  # pending is walked as well
    assert here(run) == "1+010.00 to 1+015.00"


def test_ground_that_was_lost_is_to_be_walked_again(scene: Scene) -> None:
    run = scene.open_run()
    scene.sweep(run, "1+000.00 to 1+010.00")
    scene.check(run, phase="end", measured=1000)
    assert here(run) == "1+000.00 to 1+005.00"


def test_where_all_was_walked_it_begins_at_the_first_stretch(scene: Scene) -> None:
    scene.survey()
    assert here(scene.open_run()) == "1+000.00 to 1+005.00"


def test_the_last_presses_are_in_sight_and_the_earlier_ones_unfold(scene: Scene) -> None:
    run = scene.open_run()
    for start in range(5):
        scene.sweep(run, f"1+00{start}.00 to 1+00{start + 1}.00")
    last, earlier = page_of(scene, run).split("2 earlier presses")
    assert [f'"Ground">1+00{start}.00' in last for start in range(5)] == [False, False, True, True, True]
    assert [f'"Ground">1+00{start}.00' in earlier for start in range(5)] == [True, True, False, False, False]


def test_when_the_permit_has_run_out_the_page_asks_for_a_new_one_before_any_sweeping(scene: Scene) -> None:
    paper = {"kind": "hot work", "number": "HW-7", "gas_reading": "0 % LEL", "tester": "A. Moss"}
    held = scene.clock + timedelta(hours=1)
    permit = scene.do("record_permit", scene.crew, scene.coating, **paper, expires_at=held.isoformat())
    run = scene.open_run(permit=str(permit.pk))
    warning, folded = "no more sweeping", "Mark what was swept while it held"
    assert [words in page_of(scene, run) for words in (warning, folded)] == [True, True]
    scene.sweep(run, "1+000.00 to 1+001.00")  # and what is recorded all the same is kept

    longer = (timezone.now() + timedelta(hours=2)).isoformat()
    scene.do("renew_permit", scene.crew, run, **{**paper, "number": "HW-8"}, expires_at=longer)

    assert [words in page_of(scene, run) for words in (warning, folded)] == [False, False]
