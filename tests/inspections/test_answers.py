"""Questions answered: who may say what, what ground does then, and what is kept of answers to questions that are gone.

What the truth table asks (swept faster than the limit: lost once it was so, stands otherwise, held until answered) is common
practice, no source.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from rest_framework.exceptions import PermissionDenied, ValidationError

from accounts.acting import perform
from accounts.record import Entry
from inspections.answers import Answer
from inspections.asking import asked_of, not_asked_any_more
from inspections.questions import Question, key_of
from inspections.runs import Run, Swath
from inspections.tested import differences
from repairs.picture import zone_picture, zone_picture_at
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    return pipe_scene()


def fast(scene: Scene, run: Run, place: str = "1+000 to 1+004") -> Swath:
    """12.6 m2 marked a minute after the press before; with 0.5 m at 0.3 m/s they take 84 s."""
    return scene.do("mark_swept", scene.crew, run, place=place)


def fast_run(scene: Scene) -> tuple[Run, Swath]:
    run = scene.open_run()
    swath = fast(scene, run)
    scene.close(run)
    return run, swath


def questions(scene: Scene) -> list[Question]:
    return [each.question for each in asked_of([scene.coating])[scene.coating.pk]]


def only(scene: Scene) -> Question:
    (question,) = questions(scene)
    return question


def answer(scene: Scene, verdict: str, who: Any = None, key: str = "", why: str = "Two brushes were out.") -> Answer:
    given = {"key": key or only(scene).key, "verdict": verdict, "why": why}
    return scene.do("answer_question", who or scene.lead, scene.coating, **given)


def standing(*swaths: Swath) -> list[str]:
    return [Swath.objects.get(pk=swath.pk).standing for swath in swaths]


def test_ground_swept_faster_than_the_limit_is_held_until_the_question_is_answered(scene: Scene) -> None:
    _, swath = fast_run(scene)
    assert standing(swath) == ["held"]
    assert only(scene).about == (swath.pk,)


@pytest.mark.parametrize(
    ("verdict", "after"), [("so it was", "lost"), ("explained", "stands"), ("to be corrected", "held")]
)
def test_the_answer_on_speed_loses_the_ground_or_lets_it_stand(scene: Scene, verdict: str, after: str) -> None:
    run, swath = fast_run(scene)
    flaw = scene.flaw(run, "1+002.00 @ 3:00")
    answer(scene, verdict)
    assert standing(swath) == [after]
    flaw.refresh_from_db()
    assert flaw.struck_at is None
    assert not list(differences(scene.asset.pk))


def test_of_two_answers_the_later_counts(scene: Scene) -> None:
    _, swath = fast_run(scene)
    answer(scene, "so it was")
    answer(scene, "explained")
    assert standing(swath) == ["stands"]


def test_a_weld_swept_faster_than_the_limit_is_lost_once_it_was_so(scene: Scene) -> None:
    weld = scene.do(
        "add_feature", scene.crew, scene.zone, kind="weld", name="L-1", place="1+000 @ 3:00 to 1+020 @ 3:00"
    )
    run = scene.open_run()
    swath = scene.do("sweep_feature", scene.crew, run, feature=str(weld.pk))  # 20 m in a minute: 67 s at 0.3 m/s
    scene.close(run)
    assert (standing(swath), only(scene).code) == (["held"], "feature_speed")
    answer(scene, "so it was")
    assert standing(swath) == ["lost"]


def together(scene: Scene) -> tuple[Run, list[Swath]]:
    """Two swaths of 84 s each that share the same 90 s."""
    run = scene.open_run()
    start, end = scene.wait(minutes=1), scene.wait(minutes=1.5)
    times = {"started_at": start.isoformat(), "ended_at": end.isoformat()}
    rows = [
        scene.do("mark_swept", scene.crew, run, place=place, **times) for place in ("1+000 to 1+004", "1+004 to 1+008")
    ]
    scene.close(run)
    return run, rows


def test_swaths_that_share_the_clock_are_held_and_lost_together(scene: Scene) -> None:
    _, rows = together(scene)
    assert (standing(*rows), only(scene).code) == (["held", "held"], "together_speed")
    answer(scene, "so it was")
    assert standing(*rows) == ["lost", "lost"]


def test_another_swath_at_the_same_time_is_a_new_question_and_the_old_answer_is_kept_beside(scene: Scene) -> None:
    run, rows = together(scene)
    answer(scene, "explained")
    times = {"started_at": rows[0].started_at.isoformat(), "ended_at": rows[0].ended_at.isoformat()}
    third = scene.do("mark_swept", scene.crew, run, place="1+008 to 1+012", **times)
    assert standing(*rows, third) == ["held", "held", "held"]
    assert [row.verdict for row in not_asked_any_more(scene.coating, asked_of([scene.coating])[scene.coating.pk])] == [
        "explained"
    ]


def test_ground_stands_again_by_the_word_of_a_lead_inspector_alone(scene: Scene) -> None:
    _, swath = fast_run(scene)
    with pytest.raises(ValidationError, match="a lead inspector gives it"):
        answer(scene, "explained", scene.crew)
    answer(scene, "so it was", scene.crew)
    assert standing(swath) == ["lost"]


def test_a_contractor_does_not_answer_for_the_crew(scene: Scene) -> None:
    fast_run(scene)
    with pytest.raises(PermissionDenied, match="the crew answers for it"):
        answer(scene, "so it was", scene.painter)


def test_a_record_that_is_corrected_is_not_asked_about_any_more(scene: Scene) -> None:
    _, swath = fast_run(scene)
    answer(scene, "to be corrected")
    scene.do("strike_swath", scene.lead, swath, why="The start was pressed late.")
    assert questions(scene) == []


def test_the_answer_keeps_the_question_as_it_stood(scene: Scene) -> None:
    _, swath = fast_run(scene)
    row = answer(scene, "explained")
    assert row.asked.startswith(f"{swath.said}: 12.6 m² in 1 min with an electrode of 0.5 m")
    assert '"asked":"' in Entry.objects.get(operation=row.pk).body


def test_what_is_not_asked_cannot_be_answered(scene: Scene) -> None:
    fast_run(scene)
    for key in ("speed", key_of("battery", [scene.runs[0].pk])):
        with pytest.raises(ValidationError, match="is no question that is asked"):
            perform(
                "answer_question", scene.lead, scene.coating.pk, {"key": key, "verdict": "explained", "why": "None."}
            )
    assert not Answer.objects.exists()


def test_a_late_answer_to_a_question_that_is_gone_is_kept_and_flagged(scene: Scene) -> None:
    _, swath = fast_run(scene)
    key = only(scene).key
    scene.do("strike_swath", scene.lead, swath, why="Marked on the wrong pipe.")
    done = scene.perform("answer_question", scene.crew, scene.coating, key=key, verdict="so it was", why="We ran.")
    assert "not asked any more" in done.consequences[0]
    assert done.made.code == "ground_speed"


def test_a_late_answer_that_names_no_question_is_refused(scene: Scene) -> None:
    with pytest.raises(ValidationError, match='"nothing" is no question'):
        answer(scene, "so it was", key="nothing")


def unmeasured(scene: Scene) -> Run:
    """A closed run whose air was measured five hours before its last swath."""
    run = scene.open_run()
    scene.wait(hours=5)
    scene.sweep(run, "1+000 to 1+004")
    scene.close(run)
    return run


def test_a_question_that_is_not_of_speed_holds_no_ground(scene: Scene) -> None:
    run = scene.open_run()
    scene.wait(hours=3)
    for _ in range(3):
        scene.check(run)
    swath = scene.sweep(run, "1+000 to 1+004")
    scene.close(run)
    assert (only(scene).code, standing(swath)) == ("same_checks", ["stands"])
    answer(scene, "so it was", scene.crew)
    assert standing(swath) == ["stands"]


def test_a_check_written_down_afterwards_with_its_own_time_is_no_question_of_the_clock(scene: Scene) -> None:
    run = scene.open_run()
    scene.sweep(run, "1+000 to 1+004")
    early = scene.clock - timedelta(minutes=10)
    assert scene.check(run, measured=2490, at=early.isoformat()).hand_timed
    assert questions(scene) == []
    scene.clock = early
    assert not scene.check(run, measured=2480).hand_timed
    assert only(scene).code == "clock_back"


def test_the_gate_is_red_until_every_question_is_answered(scene: Scene) -> None:
    unmeasured(scene)

    def gate() -> Any:
        return next(each for each in zone_picture(scene.coating).gates if each.code == "questions")

    red = gate()
    assert (red.state, red.whose) == ("red", "lead")
    assert "1 question waits for an answer: A-1." in red.sentence
    answer(scene, "explained", scene.crew)
    assert gate().state == "green"
    assert gate().evidence[0].who == scene.crew.name


def test_wound_back_to_before_the_answer_the_question_is_open(scene: Scene) -> None:
    fast_run(scene)
    row = answer(scene, "so it was")
    before = zone_picture_at(scene.coating, row.at - timedelta(seconds=1))
    after = zone_picture_at(scene.coating, row.at + timedelta(seconds=1))
    assert [each.is_open for each in before.asked] == [True]
    assert (before.found.held_m2 > 1, after.found.lost_m2 > 1) == (True, True)
    assert [each.is_open for each in after.asked] == [False]


def test_questions_of_many_coatings_take_as_many_queries_as_those_of_one(scene: Scene) -> None:
    fast_run(scene)
    other = pipe_scene()
    for _ in range(2):
        fast_run(other)

    def queries(*scenes: Scene) -> int:
        coatings = [each.coating for each in scenes]
        for coating in coatings:
            assert coating.terms
            assert coating.zone.asset.name
        with CaptureQueriesContext(connection) as captured:
            asked_of(coatings)
        return len(captured)

    assert queries(scene) == queries(scene, other)


def test_the_page_of_a_question_says_what_the_answer_leads_to_and_takes_it(scene: Scene, client: Client) -> None:
    run, swath = fast_run(scene)
    client.force_login(scene.lead)
    listed = client.get(reverse("run", args=[run.pk])).content.decode()
    url = reverse("question", args=[scene.coating.pk, only(scene).key])
    assert url in listed
    assert "Was it swept too fast?" in listed
    assert "the ground is lost and has to be swept again" in client.get(url).content.decode()
    answered = client.post(url, {"verdict": "so it was", "why": "We were called off."})
    assert answered.status_code == 303
    assert standing(swath) == ["lost"]
    assert "We were called off." in client.get(reverse("questions", args=[scene.coating.pk])).content.decode()


def test_a_question_that_is_not_asked_has_no_page(scene: Scene, client: Client) -> None:
    client.force_login(scene.lead)
    assert client.get(reverse("question", args=[scene.coating.pk, key_of("battery", [])])).status_code == 404


def test_today_lists_open_questions_to_whoever_recorded_the_run_and_to_the_lead(scene: Scene, client: Client) -> None:
    fast_run(scene)
    for person, heading in ((scene.crew, "Questions to you"), (scene.lead, "Questions still open")):
        client.force_login(person)
        page = client.get(reverse("today")).content.decode()
        assert heading in page
        assert "1 question: Swept faster than the limit." in page


def test_figures_are_told_in_the_units_of_the_reader(scene: Scene, client: Client) -> None:
    fast_run(scene)
    scene.lead.units = "us"
    scene.lead.save()
    client.force_login(scene.lead)
    page = client.get(reverse("questions", args=[scene.coating.pk])).content.decode()
    assert "135 ft² in 1 min with an electrode of 1.640 ft" in page


def test_the_record_tells_what_was_asked_and_what_was_said(scene: Scene, client: Client) -> None:
    fast_run(scene)
    answer(scene, "explained", why="Timed by the wall clock.")
    client.force_login(scene.lead)
    page = client.get(reverse("record", args=[scene.asset.pk])).content.decode()
    assert "verdict: explained; why: Timed by the wall clock. Asked was: 1+000 to 1+004: 12.6 m² in 1 min" in page
