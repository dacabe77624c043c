"""Checks of thickness gauges: what a failed one leaves in doubt, who decides, and what rests on the readings."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from rest_framework.exceptions import PermissionDenied, ValidationError

from accounts.record import Entry
from inspections.coatings import Spot
from inspections.gauge_standing import Checked, Outcome, around
from inspections.gauges import GaugeCheck
from inspections.instruments import Instrument
from inspections.run_basis import basis_questions
from inspections.runs import Run
from repairs.film import film_picture
from repairs.picture import zone_picture
from tests.inspections.test_spots import gauge_of
from tests.scenes import MORNING, Scene, pipe_scene

pytestmark = pytest.mark.django_db
PA2: dict[str, Any] = {"thickness_rule": "SSPC-PA 2", "thickness_level": 3}


def measure(scene: Scene, gauge: Instrument, count: int = 5) -> list[Spot]:
    return [
        scene.do(
            "record_spot",
            scene.crew,
            scene.sheet,
            place=f"1+00{n % 3}.50 @ 3:00",
            readings=["500"] * 3,
            gauge=str(gauge.pk),
        )
        for n in range(count)
    ]


def check(scene: Scene, gauge: Instrument, measured: str = "250") -> GaugeCheck:
    made: GaugeCheck = scene.do(
        "check_gauge", scene.crew, scene.sheet, gauge=str(gauge.pk), shim="250 µm", measured=measured, tolerance="5"
    )
    return made


def verdict(scene: Scene) -> str:
    judged = film_picture(scene.coating).judgement
    assert judged is not None
    return judged.verdict


@pytest.fixture
def scene() -> Scene:
    return pipe_scene(end=1003.0, **PA2)


@pytest.fixture
def gauge(scene: Scene) -> Instrument:
    return gauge_of(scene)


def test_a_check_is_kept_as_it_was_given_with_its_outcome(scene: Scene, gauge: Instrument) -> None:
    made = check(scene, gauge, "9.5 mil")
    # 9.5 mil are 241.3 um (NIST SP 811): more than 5 um below the shim.
    assert (made.measured, made.measured_said, made.outcome) == (241.3, "9.5 mil", "low")


def test_a_failed_check_takes_the_spots_since_the_last_good_one_out_of_the_judgement(
    scene: Scene, gauge: Instrument
) -> None:
    measure(scene, gauge, 5)
    check(scene, gauge)
    measure(scene, gauge, 5)
    assert verdict(scene) == "accepted"

    check(scene, gauge, "230")
    picture = film_picture(scene.coating)
    assert [spot.counts for spot in picture.spots] == [True] * 5 + [False] * 5
    assert "failed its next check" in str(picture.spots[-1].why_not[0])


def test_spots_without_a_certificate_in_force_wait_for_one(scene: Scene) -> None:
    bare = scene.do(
        "register_instrument", scene.lead, scene.crew.organisation, kind="gauge", name="Gauge", serial="DFT-2"
    )
    measure(scene, bare)
    assert verdict(scene) == "not judged"
    scene.do("register_certificate", scene.lead, bare, number="K-2", issued="2025-01-01", due="2026-01-01")
    assert verdict(scene) == "accepted"


def test_spots_in_doubt_count_again_by_a_decision_with_its_evidence(scene: Scene, gauge: Instrument) -> None:
    measure(scene, gauge)
    check(scene, gauge, "230")
    gate = next(gate for gate in zone_picture(scene.coating).gates if gate.code == "thickness")
    assert (gate.state, gate.whose) == ("red", "lead")

    scene.do(
        "decide_spots",
        scene.owner,
        scene.coating,
        decision="counts",
        grounds="measured again with gauge DFT-9",
        why="agrees",
    )
    assert verdict(scene) == "accepted"


def test_spots_decided_to_be_out_say_who_decided_and_why(scene: Scene, gauge: Instrument) -> None:
    measure(scene, gauge)
    check(scene, gauge, "230")
    scene.do(
        "decide_spots", scene.lead, scene.coating, decision="does not count", grounds="probe worn", why="20 µm low"
    )
    (line,) = film_picture(scene.coating).spots[0].why_not
    assert str(line) == f"{scene.lead.name} decided that it does not count: 20 µm low"


def test_a_decision_does_not_cover_a_check_that_fails_later(scene: Scene, gauge: Instrument) -> None:
    measure(scene, gauge)
    failed = check(scene, gauge, "230")
    scene.do("decide_spots", scene.owner, scene.coating, decision="counts", grounds="shim was worn", why="shim 12")
    scene.do("strike_gauge_check", scene.lead, failed, why="wrong shim")
    check(scene, gauge, "231")
    assert verdict(scene) == "not judged"


def test_only_spots_in_doubt_are_decided_on(scene: Scene, gauge: Instrument) -> None:
    measure(scene, gauge)
    with pytest.raises(ValidationError, match="No spot of this coating is in doubt"):
        scene.do("decide_spots", scene.owner, scene.coating, decision="counts", grounds="x", why="y")
    with pytest.raises(PermissionDenied):
        scene.do("decide_spots", scene.crew, scene.coating, decision="counts", grounds="x", why="y")


def test_a_gauge_that_fails_on_one_asset_is_told_on_the_other_it_measured(scene: Scene, gauge: Instrument) -> None:
    measure(scene, gauge)
    other = pipe_scene(end=1003.0, **PA2)
    sheet = other.sheet
    # The same crew and gauge on another asset.
    sheet.organisation = scene.crew.organisation
    moved = Spot(
        coating=other.coating, sheet=sheet, gauge=gauge, stage="finished system", said="1+001.00 @ 3:00", x=1001.0, y=0.5,
        readings=["500 µm"] * 3, unit="um", mean=500.0, at=MORNING + timedelta(minutes=30),
    )  # fmt: skip
    moved.save(force_insert=True)

    check(scene, gauge, "230")
    last = Entry.objects.filter(record=other.asset.pk).order_by("-seq").first()
    assert last is not None
    assert last.what == "check_gauge"


# What a run rests on


def basis_scene() -> tuple[Scene, Instrument]:
    scene = pipe_scene(end=1003.0, thickness_basis="measured minimum", **PA2)
    return scene, gauge_of(scene)


def test_a_run_on_measured_film_remembers_readings_gauge_and_figure() -> None:
    scene, gauge = basis_scene()
    spots = measure(scene, gauge, 2)
    low = scene.do(
        "record_spot",
        scene.crew,
        scene.sheet,
        place="1+002.00 @ 6:00",
        readings=["480", "470", "500"],
        gauge=str(gauge.pk),
    )
    run = scene.open_run()
    assert run.basis_spots == [str(spot.pk) for spot in (*spots, low)]
    assert (run.basis_gauges, run.thickness, run.thickness_said) == (["DFT-1"], 470.0, "470 µm")


def test_a_run_whose_spots_are_named_rests_on_those_alone() -> None:
    scene, gauge = basis_scene()
    spots = measure(scene, gauge, 2)
    assert scene.open_run(basis_spots=[str(spots[1].pk)]).basis_spots == [str(spots[1].pk)]


def test_a_run_cannot_rest_on_a_spot_of_another_coating() -> None:
    scene, _ = basis_scene()
    with pytest.raises(ValidationError, match="that count can be chosen"):
        scene.open_run(basis_spots=[str(scene.zone.pk)])


def test_a_run_on_nominal_film_rests_on_no_reading(scene: Scene, gauge: Instrument) -> None:
    measure(scene, gauge)
    assert scene.open_run().basis_spots == []


def asked(run: Run) -> list[str]:
    run = Run.objects.select_related("sheet__coating__zone__asset").get(pk=run.pk)
    return [str(question.line) for question in basis_questions([run]).get(run.pk, ())]


def test_the_api_tells_of_the_run_that_a_reading_under_it_was_struck_out(client: Client) -> None:
    scene, gauge = basis_scene()
    spots = measure(scene, gauge, 3)
    run = scene.open_run()
    client.force_login(scene.crew)
    assert client.get(f"/api/v1/runs/{run.pk}/").json()["basis_in_question"] == []
    scene.do("strike_spot", scene.lead, spots[0], why="read on tape")
    told = client.get(f"/api/v1/runs/{run.pk}/").json()["basis_in_question"]
    assert told == ["rests on 1 thickness spot that was struck out since"]


def test_a_gauge_that_fails_later_puts_the_run_in_question_until_it_is_answered() -> None:
    scene, gauge = basis_scene()
    measure(scene, gauge, 3)
    run = scene.open_run()
    assert asked(run) == []

    check(scene, gauge, "230")
    assert asked(run) == [
        "rests on 3 spots of Gauge, serial DFT-1, which failed its check on 3 March 2025: 230 µm on 250 µm, ± 5 µm"
    ]
    gate = next(gate for gate in zone_picture(scene.coating).gates if gate.code == "questions")
    assert (gate.state, gate.whose) == ("red", "lead")
    assert "Run A-1 rests on 3 spots" in gate.sentence

    scene.do("answer_basis", scene.lead, run, why="measured again, 495 µm; the band holds")
    assert asked(run) == []


def test_a_spot_struck_out_afterwards_puts_the_run_in_question() -> None:
    scene, gauge = basis_scene()
    (spot,) = measure(scene, gauge, 1)
    run = scene.open_run()
    scene.do("strike_spot", scene.lead, spot, why="wrong place")
    assert asked(run) == ["rests on 1 thickness spot that was struck out since"]


def test_spots_that_are_decided_to_count_end_the_question() -> None:
    scene, gauge = basis_scene()
    measure(scene, gauge, 3)
    run = scene.open_run()
    check(scene, gauge, "230")
    scene.do("decide_spots", scene.owner, scene.coating, decision="counts", grounds="shim was worn", why="shim 12")
    assert asked(run) == []


def test_an_answer_to_nothing_is_refused() -> None:
    scene, _ = basis_scene()
    run = scene.open_run()
    with pytest.raises(ValidationError, match="not in question"):
        scene.do("answer_basis", scene.lead, run, why="all well")


def test_the_checks_that_bear_on_a_spot_are_the_last_good_one_before_it_the_first_after_it_and_those_between() -> None:
    outcomes: list[Outcome] = ["good", "good", "low", "good", "good"]
    made = [
        Checked(str(day), datetime(2031, 5, day, tzinfo=UTC), outcome, 250.0, 250.0, 5.0)
        for day, outcome in enumerate(outcomes, 1)
    ]
    assert around(made, [datetime(2031, 5, 3, 12, tzinfo=UTC)]) == {"2", "3", "4"}
    assert around(made, [datetime(2031, 5, 1, 12, tzinfo=UTC)]) == {"1", "2"}
    assert around(made, [datetime(2031, 5, 6, tzinfo=UTC)]) == {"5"}
    assert around(made, []) == set()
