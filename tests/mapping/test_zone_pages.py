"""Adding zones on pages: the sizes of a kind asked one by one, and many zones from a table in two presses."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from mapping.landmarks import Landmark
from mapping.surface_forms import FORMS
from mapping.zones import Zone
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]

TYPED: dict[str, dict[str, str]] = {
    "pipe": {"start": "1+100", "end": "1+120.50", "circumference": "3.2"},
    "bend": {"start": "1+100", "end": "1+103.70", "area": "8,9"},
    "strake": {"number": "3", "height": "2.4", "diameter": "60 ft", "plates": "0 60 120"},
    "disk": {"diameter": "18.2", "viewed": "below"},
    "annulus": {"diameter": "18.2", "inner_diameter": "16", "viewed": "above"},
    "cone": {"diameter": "18.2", "height": "1.6", "viewed": "above"},
    "deck": {
        "letters": "0 6.10 12.30", "numbers": "0\n4.05\n8", "first_letter": "G", "first_number": "7", "skip": "IO",
        "numbers_run": "down", "viewed": "above",
        "corners": "G-7 +0.00 -0.80\nx 12.3 y 0\nthrough J-8 +0.50 +0.00 to J-9\nG-9",
    },
    "panel": {"width": "3.4", "height": "84 in"},
    "head": {"reach": "2.3", "area": "14", "viewed": "above"},
    "sphere": {"area": "400"},
}  # fmt: skip
TABLE = """strake,height,diameter (mm),plates,face
1,2.40,18200,0 60 120,inside
2,2.40,18200,,outside
"""


def owner_of(scene: Scene) -> Client:
    client = Client()
    client.force_login(scene.owner)
    return client


def post(scene: Scene, kind: str, sizes: dict[str, str], **given: str) -> Any:
    typed = {f"surface.{name}": text for name, text in sizes.items()}
    address = f"{reverse('add_zone', args=[scene.asset.pk])}?kind={kind}"
    return owner_of(scene).post(address, {"name": "New one", "order": "2", "face": "inside", **typed, **given})


@pytest.mark.parametrize("kind", FORMS)
def test_a_zone_of_each_kind_is_added_by_what_is_typed_on_its_page(kind: str) -> None:
    scene = pipe_scene()

    answer = post(scene, kind, TYPED[kind])

    zone = Zone.objects.get(name="New one")
    assert (answer.status_code, zone.surface_kind, zone.face) == (303, kind, "inside")


def test_the_typed_outline_of_a_deck_runs_through_the_places_it_names() -> None:
    scene = pipe_scene()

    post(scene, "deck", TYPED["deck"])

    corners = Zone.objects.get(name="New one").surface_json["corners"]
    assert corners == [[0, -0.8], [12.3, 0], {"through": [12.8, 4.05], "to": [12.3, 8.0]}, [0, 8.0]]


@pytest.mark.parametrize(
    ("kind", "wrong", "said"),
    [
        ("strake", {"height": "900"}, 'id="id_surface_height"'),
        ("cone", {"cut_diameter": "40"}, 'id="id_surface_cut_diameter"'),
        ("pipe", {"start": "1+2000"}, "what follows the + must be below 1000"),
        ("pipe", {"circumference": "3.2", "diameter": "2"}, "differ by more than 0.2 %"),
        ("deck", {"corners": "Q-7"}, "there is no line Q"),
        ("sphere", {"area": "big"}, "does not start with a number"),
    ],
)
def test_a_bad_size_is_named_beside_its_box(kind: str, wrong: dict[str, str], said: str) -> None:
    scene = pipe_scene()

    answer = post(scene, kind, {**TYPED[kind], **wrong})

    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Zone.objects.filter(name="New one").exists()


def test_a_table_is_looked_at_first_and_then_recorded_whole() -> None:
    scene = pipe_scene()
    client, address = owner_of(scene), reverse("import_zones", args=[scene.asset.pk])

    looked = client.post(address, {"text": TABLE})
    assert (looked.status_code, Zone.objects.count()) == (200, 1)
    done = client.post(address, {"digest": looked.context["digest"]})

    assert done.status_code == 303
    assert [zone.name for zone in Zone.objects.order_by("name")] == ["Spool 1", "Strake 1", "Strake 2"]


def test_a_table_with_bad_rows_names_each_of_them_and_cannot_be_recorded() -> None:
    scene = pipe_scene()

    looked = owner_of(scene).post(
        reverse("import_zones", args=[scene.asset.pk]), {"text": "strake,height,diameter\n1,,18\n2,2.4,900\n"}
    )

    assert looked.status_code == 422
    assert [(each.row, each.column) for each in looked.context["plan"].problems] == [(2, "height"), (3, "diameter")]
    assert looked.context["digest"] == ""


def test_a_joint_list_is_recorded_in_two_presses() -> None:
    scene = pipe_scene()
    client, address = owner_of(scene), reverse("import_joints", args=[scene.asset.pk])

    looked = client.post(address, {"text": "what,name,at\nvalve,V-1,1+004\n"})
    client.post(address, {"digest": looked.context["digest"]})

    assert Landmark.objects.get().name == "V-1"


def test_what_was_not_looked_at_is_not_recorded() -> None:
    scene = pipe_scene()

    answer = owner_of(scene).post(reverse("import_zones", args=[scene.asset.pk]), {"digest": "0" * 64})

    assert answer.status_code == 422
    assert Zone.objects.count() == 1
