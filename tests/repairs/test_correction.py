"""Correcting a zone's surface: what was said stays, where it lies is read anew, coverage and the record prove."""

from __future__ import annotations

from math import pi
from typing import Any

import pytest
import shapely
from django.db import IntegrityError, transaction
from rest_framework.exceptions import ValidationError

from accounts.verify import verify
from inspections.flaws import Flaw
from inspections.runs import Swath
from mapping.surfaces.strake import Strake
from repairs.picture import zone_picture
from tests.scenes import Scene, pipe_scene, scene_of

pytestmark = pytest.mark.django_db
THICKER = {"start": 1000.0, "end": 1020.0, "diameter": 1.2}


def correct(scene: Scene, sizes: dict[str, Any] = THICKER, kind: str = "pipe", why: str = "Measured again.") -> Any:
    done = scene.perform(
        "correct_surface", scene.owner, scene.zone, surface_kind=kind, surface=sizes, face="outside", why=why
    )
    scene.zone = type(scene.zone).objects.get(pk=scene.zone.pk)
    scene.coating = type(scene.coating).objects.get(pk=scene.coating.pk)
    return done


def test_a_flaw_lies_where_it_was_said_on_the_corrected_surface() -> None:
    scene = pipe_scene()
    flaw = scene.flaw(scene.open_run(), "1+004.00 @ 3:00")

    correct(scene)

    flaw.refresh_from_db()
    assert (flaw.said, flaw.x, flaw.y) == ("1+004.00 @ 3:00", 1004.0, pytest.approx(1.2 * pi / 4))


def test_coverage_is_computed_again_from_what_was_said() -> None:
    """Against the cylinder's area: half of the way around over 10 m."""
    scene = pipe_scene()
    scene.survey("1+000.00 to 1+010.00, 12:00 to 6:00")

    correct(scene)

    picture = zone_picture(scene.coating)
    assert picture.found.tested_m2 == pytest.approx(10 * 1.2 * pi / 2)
    assert picture.true_m2 == pytest.approx(20 * 1.2 * pi)


def test_a_patch_is_the_footprints_of_its_flaws_where_they_now_lie() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 12:00"])
    (patch,) = scene.issue()

    correct(scene)

    patch.refresh_from_db()
    flaw = Flaw.objects.get()
    assert patch.shape.equals(scene.zone.surface.footprint(flaw.x, flaw.y, 0.0, 0.0, 0.1))
    assert patch.said == scene.zone.surface.describe_region(patch.shape)


def test_the_record_proves_after_a_correction() -> None:
    scene = pipe_scene()
    scene.do("draw_exclusion", scene.crew, scene.zone, place="1+019.00 to 1+020.00", reason="saddle")
    scene.do("add_feature", scene.crew, scene.zone, kind="weld", name="W-1", place="1+006.00, all around")
    scene.survey(flaws=["1+004.00 @ 3:00"])
    scene.issue()
    scene.do("strike_flaw", scene.lead, Flaw.objects.get(), why="Only for the test.")

    correct(scene)

    unmade = "an entry that made this row"  # the people and instruments of the scene come without their entries
    assert [problem for problem in verify() if problem.expected != unmade] == []


def test_what_would_lie_off_the_corrected_zone_refuses_it_and_is_named() -> None:
    scene = pipe_scene()
    flaw = scene.flaw(scene.open_run(), "1+018.00 @ 3:00")

    with pytest.raises(ValidationError) as refused:
        correct(scene, {**THICKER, "end": 1015.0})

    assert str(refused.value.detail["surface"][0]).startswith(f"{flaw.tag}: ")  # type: ignore[index,call-overload]
    flaw.refresh_from_db()
    assert flaw.version == 1


def test_the_same_sizes_are_nothing_to_correct() -> None:
    scene = pipe_scene()
    with pytest.raises(ValidationError, match="nothing to correct"):
        correct(scene, {"start": 1000.0, "end": 1020.0, "diameter": 1.0})


def test_even_the_kind_may_be_corrected_before_anything_lies_on_it() -> None:
    scene = pipe_scene()
    correct(scene, {"width": 3.0, "height": 2.0}, kind="panel")
    assert (scene.zone.surface_kind, scene.zone.true_area) == ("panel", 6.0)


def test_plates_laid_out_anew_move_what_was_swept_by_their_numbers() -> None:
    scene = scene_of(Strake(number=1, height=2.0, diameter=10.0, plates=(0.0, 90.0, 180.0), face="outside"))
    scene.survey("plate 2")
    sizes = {"number": 1, "height": 2.0, "diameter": 10.0, "plates": [0.0, 120.0, 180.0]}

    correct(scene, sizes, kind="strake")

    swath = Swath.objects.get()
    assert swath.area == pytest.approx(2.0 * 10 * pi * 60 / 360)
    assert shapely.bounds(swath.shape)[0] == pytest.approx(10 * pi * 120 / 360)


def test_a_place_changes_only_with_its_version() -> None:
    scene = pipe_scene()
    flaw = scene.flaw(scene.open_run(), "1+004.00 @ 3:00")

    with pytest.raises(IntegrityError), transaction.atomic():
        Flaw.objects.filter(pk=flaw.pk).update(x=1005.0)
    with pytest.raises(IntegrityError), transaction.atomic():
        Flaw.objects.filter(pk=flaw.pk).update(said="elsewhere", version=9)


def test_who_corrects_says_why() -> None:
    scene = pipe_scene()
    with pytest.raises(ValidationError):
        correct(scene, why=" ")
    scene.zone.refresh_from_db()
    assert scene.zone.version == 1
