"""The paints of a work pack: what each coat asks for, and the batches used so far."""

from __future__ import annotations

import pytest

from repairs.paints import paints_of
from repairs.picture import zone_picture
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]


def patched_scene() -> Scene:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00", "1+010.00 @ 6:00"])
    for patch, batch in zip(scene.issue(), ("B-7", ""), strict=True):
        scene.step(patch, "prepared")
        scene.step(patch, "coated", 1, batch=batch, product=scene.coating.terms.repair_coats[0].product)
    return scene


def test_each_coat_names_its_batches_and_the_patches_they_went_into() -> None:
    scene = patched_scene()
    picture = zone_picture(scene.coating)
    first, *others = paints_of(picture.terms, picture.patches)

    assert first.product == scene.coating.terms.repair_coats[0].product
    assert [(used.batch, used.patches) for used in first.used] == [
        ("B-7", (picture.patches[0].name,)),
        ("", (picture.patches[1].name,)),
    ]
    assert all(paint.used == () for paint in others)
