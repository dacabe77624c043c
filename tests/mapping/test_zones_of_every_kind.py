"""A zone of every kind of surface can be made, and places given in plane metres land on it."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.exceptions import ValidationError

from mapping.surfaces import KINDS
from mapping.zones import Zone
from tests.mapping.made_up_surfaces import SURFACES
from tests.scenes import pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]

METRIC = {name: surface for name, surface in SURFACES.items() if surface.chainage.system == "metric"}


def test_the_made_up_zones_are_of_every_kind_but_the_pipe() -> None:
    assert {surface.kind for surface in METRIC.values()} == set(KINDS) - {"pipe"}


@pytest.mark.parametrize("name", METRIC)
def test_a_zone_of_each_kind_is_kept_as_it_was_given(name: str) -> None:
    scene = pipe_scene()
    surface = METRIC[name]

    zone = scene.do("add_zone", scene.owner, scene.asset, name=name, surface_kind=surface.kind,
                    surface=surface.to_json(), face=surface.face)  # fmt: skip

    zone.refresh_from_db()
    assert Zone.objects.get(pk=zone.pk).surface == surface
    assert zone.true_area == pytest.approx(surface.area)


@pytest.mark.parametrize(
    ("kind", "sizes"),
    [
        ("cone", {"diameter": 3, "height": 2, "cut_diameter": 4}),
        ("deck", {"letters": [0], "numbers": [0, 4]}),
        ("sphere", {"area": -1}),
        ("roof", {"diameter": 3}),
    ],
)
def test_a_zone_that_cannot_be_is_refused(kind: str, sizes: dict[str, Any]) -> None:
    scene = pipe_scene()

    with pytest.raises(ValidationError):
        scene.do("add_zone", scene.owner, scene.asset, name="Roof", surface_kind=kind, surface=sizes, face="inside")
