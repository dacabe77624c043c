"""High-voltage passes as recorded: counted per place and stage, shown, and warned of before the next one."""

from __future__ import annotations

import io
from urllib.parse import quote

import pypdfium2
import pytest
from django.test import Client
from django.utils import timezone

from inspections.passes import repeated_ground
from inspections.runs import Run
from repairs.dossier import Reader, dossier_of
from repairs.picture import zone_picture
from repairs.zone_sheet import drawing_of
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db
AGAIN = "1+002.00 to 1+004.00"


@pytest.fixture
def scene() -> Scene:
    there = pipe_scene()
    there.survey()
    return there


def audit(scene: Scene) -> Run:
    run = scene.open_run(purpose="audit")
    scene.sweep(run, AGAIN)
    scene.sweep(run, "1+003.00 to 1+004.00")
    scene.close(run)
    return run


def test_two_runs_over_two_metres_of_pipe_are_two_passes_there(scene: Scene) -> None:
    audit(scene)
    found = repeated_ground(scene.coating, "finished system")
    assert found.areas == {2: pytest.approx(2 * scene.zone.surface.period)}  # L x pi D, the area of an open cylinder
    (place,) = found.places
    assert [each.run.label for each in place.runs] == ["A-1", "A-2"]


def test_one_run_and_what_is_struck_out_are_no_second_pass(scene: Scene) -> None:
    assert repeated_ground(scene.coating, "finished system").areas == {}
    scene.do("strike_run", scene.lead, audit(scene), why="Another pipe.")
    assert repeated_ground(scene.coating, "finished system").areas == {}


def test_a_place_says_before_the_second_pass_which_run_was_there_and_when(scene: Scene, client: Client) -> None:
    run = scene.open_run(purpose="audit")
    client.force_login(scene.crew)
    lanes = client.get(f"/runs/{run.pk}/").content.decode()
    form = client.get(f"/do/mark_swept/{run.pk}/?place={quote(AGAIN)}").content.decode()
    opening = client.get(f"/sheets/{scene.sheet.pk}/open-run/").content.decode()
    assert "at high voltage before: run A-1, 3 Mar" in lanes
    assert "Swept at high voltage before: run A-1, 3 Mar" in form
    assert "Finished system: swept at high voltage before, run A-1, 3 Mar" in opening


def test_opening_and_marking_say_that_it_is_another_pass_and_refuse_nothing(scene: Scene) -> None:
    opened = scene.perform(
        "open_run", scene.crew, scene.sheet, purpose="audit", instrument=str(scene.detector.pk),
        electrode=str(scene.electrode.pk), set_volts=2500, sweeper="Ines Holt", cautions=True,
    )  # fmt: skip
    assert any("was swept at high voltage before, in run A-1" in str(each) for each in opened.said)
    marked = scene.perform("mark_swept", scene.crew, opened.made, place=AGAIN)
    assert any("Swept at high voltage before: run A-1" in str(each) for each in marked.said)


def test_map_list_and_dossier_show_where_it_was_swept_twice(scene: Scene, client: Client) -> None:
    audit(scene)
    picture = zone_picture(scene.coating)
    marks = [mark for _, mark, _ in drawing_of(picture).scene.patches]
    assert [mark.number for mark in marks] == ["2×"]
    client.force_login(scene.observer)
    drawn = client.get(f"/zones/{scene.zone.pk}/drawing/").json()
    assert (drawn["patches"]["style"], drawn["patches"]["number"]) == (["swept-again"], ["2×"])
    page = client.get(f"/zones/{scene.zone.pk}/").content.decode()
    assert "Swept more than once at high voltage: twice" in page
    assert "swept more than once at high voltage; the figure says how often" in page
    reader = Reader(scene.owner.name, "si", scene.asset.zone_info)
    paper = pypdfium2.PdfDocument(io.BytesIO(dossier_of(scene.coating, reader, timezone.now())))
    text = " ".join(" ".join(page.get_textpage().get_text_bounded() for page in paper).split())
    assert "Swept more than once at high voltage: twice" in text
    assert "run A-1, 3 Mar" in text
