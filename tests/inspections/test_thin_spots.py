"""A thin place becomes a flaw: once, at the same place, found by gauge, and never counted as a holiday."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.exceptions import ValidationError

from accounts.acting import perform
from accounts.ids import new_id
from accounts.verify import verify
from inspections.coatings import Spot
from inspections.flaws import Flaw
from repairs.picture import zone_picture
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db
PA2 = {"thickness_rule": "SSPC-PA 2", "thickness_level": 3}


def spot(scene: Scene, *readings: str) -> Spot:
    made: Spot = scene.do(
        "record_spot", scene.crew, scene.sheet, place="1+002.00 @ 3:00", readings=list(readings)
    )  # fmt: skip
    return made


def a_thin_spot(**terms: Any) -> tuple[Scene, Spot]:
    """A spot of 300 um where level 3 of SSPC-PA 2 asks for 80 % of 400 um (from memory), and an open run."""
    scene = pipe_scene(**{**PA2, **terms})
    scene.open_run()
    return scene, spot(scene, "290", "300", "310")


def test_a_thin_spot_becomes_a_flaw_of_its_place_found_by_gauge() -> None:
    scene, thin = a_thin_spot()
    flaw: Flaw = scene.do("report_thin_spot", scene.crew, thin)
    assert (flaw.spot_id, flaw.said, flaw.x, flaw.y) == (thin.pk, thin.said, thin.x, thin.y)
    assert (flaw.found_by, flaw.kind) == ("gauge", "thin spot")
    assert "300.0 µm" in flaw.note


def test_pressing_twice_makes_one_flaw() -> None:
    scene, thin = a_thin_spot()
    operation = new_id()
    for status in ("recorded", "already"):
        assert perform("report_thin_spot", scene.crew, thin.pk, {}, operation=operation).status == status
    assert Flaw.objects.filter(spot=thin).count() == 1


def test_two_people_pressing_make_one_flaw_and_the_second_is_told_its_tag() -> None:
    scene, thin = a_thin_spot()
    scene.do("report_thin_spot", scene.crew, thin)
    with pytest.raises(ValidationError, match="is flaw A01 already"):
        scene.do("report_thin_spot", scene.lead, thin)


def test_a_flaw_that_was_struck_out_can_be_reported_again() -> None:
    scene, thin = a_thin_spot()
    scene.do("strike_flaw", scene.lead, scene.do("report_thin_spot", scene.crew, thin), why="wrong spot")
    scene.do("report_thin_spot", scene.crew, thin)
    assert Flaw.objects.filter(spot=thin, struck_at=None).count() == 1


def test_a_thin_place_is_listed_and_open_but_not_counted() -> None:
    scene = pipe_scene(**PA2)
    scene.survey("whole zone")
    thin = spot(scene, "290", "300", "310")
    scene.do("report_thin_spot", scene.crew, thin, run=str(scene.runs[-1].pk))
    (flaw,) = zone_picture(scene.coating).flaws
    assert (flaw.is_open, flaw.counted, flaw.why_not) == (True, False, "found by gauge means")


def test_a_thin_place_is_not_counted_under_a_visual_specification_either() -> None:
    scene = pipe_scene(method="visual", stated_volts=None, voltage_tolerance_percent=None, **PA2)
    run = scene.do("open_run", scene.crew, scene.sheet, sweeper="Ines Holt", cautions=True)
    scene.do("mark_swept", scene.crew, run, place="whole zone")
    scene.do("report_thin_spot", scene.crew, spot(scene, "290", "300", "310"))
    (flaw,) = zone_picture(scene.coating).flaws
    assert (flaw.counted, flaw.why_not) == (False, "found by gauge means")


def test_a_spot_that_is_thick_enough_is_no_flaw_and_says_its_figures() -> None:
    scene, _thin = a_thin_spot()
    with pytest.raises(ValidationError, match=r"its mean is 400\.0 µm, and a spot needs 320\.0 µm"):
        scene.do("report_thin_spot", scene.crew, spot(scene, "400", "400", "400"))


def test_without_a_run_the_person_is_told_to_choose_or_open_one() -> None:
    scene = pipe_scene(**PA2)
    with pytest.raises(ValidationError, match="You have no run open on this zone"):
        scene.do("report_thin_spot", scene.crew, spot(scene, "290", "300", "310"))


def test_a_run_on_a_sheet_that_somebody_else_has_out_cannot_be_chosen() -> None:
    scene, thin = a_thin_spot()
    with pytest.raises(ValidationError, match="no run of yours"):
        scene.do("report_thin_spot", scene.lead, thin, run=str(scene.runs[-1].pk))


def test_the_record_proves_a_thin_flaw() -> None:
    scene, thin = a_thin_spot()
    scene.do("report_thin_spot", scene.crew, thin)
    assert [each for each in verify() if each.table == "inspections_flaw"] == []
