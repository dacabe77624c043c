"""One flaw found twice counts once; but nothing that is found stays hidden behind a flaw that is gone or repaired."""

from __future__ import annotations

import pytest
from rest_framework.exceptions import ValidationError

from inspections.flaws import Flaw
from repairs.picture import ZonePicture, zone_picture
from repairs.state import loose_flaws
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]
HERE, BESIDE = "1+004.00 @ 3:00", "1+004.02 @ 3:00"


def open_tags(picture: ZonePicture) -> list[str]:
    return [flaw.tag for flaw in picture.flaws if flaw.is_open]


def patches_gate(scene: Scene) -> str:
    return next(gate.state for gate in zone_picture(scene.coating).gates if gate.code == "patches")


def test_a_flaw_found_again_while_the_first_is_open_is_one() -> None:
    scene = pipe_scene()
    scene.survey(flaws=[HERE])
    scene.survey(flaws=[BESIDE])

    picture = zone_picture(scene.coating)

    assert (picture.counted, open_tags(picture)) == (1, ["A01"])


def test_a_flaw_found_where_another_was_repaired_counts_once_and_is_open() -> None:
    scene = pipe_scene()
    scene.survey(flaws=[HERE])
    (patch,) = scene.issue()
    scene.repair(patch)
    scene.retest(patch)
    assert patches_gate(scene) == "green"

    scene.survey(flaws=[BESIDE])
    picture = zone_picture(scene.coating)

    assert (picture.counted, open_tags(picture)) == (1, ["A02"])
    assert patches_gate(scene) == "red"


def test_a_flaw_stands_for_itself_again_when_the_one_it_repeated_is_struck_out() -> None:
    scene = pipe_scene()
    run = scene.survey(flaws=[HERE, "1+012.00 @ 6:00"])
    first, second = Flaw.objects.filter(run=run).order_by("number")
    scene.do("same_flaw", scene.crew, second, as_flaw=str(first.pk))

    done = scene.perform("strike_flaw", scene.lead, first, why="recorded by mistake")

    assert "A02 was the same as A01; it stands for itself again." in done.consequences
    assert [flaw.tag for flaw in loose_flaws(scene.coating)] == ["A02"]
    assert open_tags(zone_picture(scene.coating)) == ["A02"]


@pytest.mark.parametrize("name", ["issue_patches", "concede"])
def test_nothing_is_decided_on_a_coating_that_has_ended(name: str) -> None:
    scene = pipe_scene()
    scene.survey(flaws=[HERE])
    scene.do("end_coating", scene.owner, scene.coating, why="stripped")
    person, given = {
        "issue_patches": (scene.lead, {"contractor": str(scene.contractor.pk)}),
        "concede": (scene.owner, {"gate": "coverage", "reason": "Reached at the next outage."}),
    }[name]

    with pytest.raises(ValidationError, match="has ended"):
        scene.do(name, person, scene.coating, **given)
