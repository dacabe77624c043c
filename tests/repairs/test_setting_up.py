"""An empty installation leads step by step to the crew's first sheet, and says whose turn it is."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.exceptions import ValidationError

from accounts.acting import perform
from accounts.beginning import begin_with
from accounts.people import Role
from inspections.coatings import Coating
from repairs.setting_up import Setup, setup_of
from tests.factories import AssetFactory, OrganisationFactory, appointed
from tests.scenes import pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]


def first(setup: Setup | None) -> str:
    assert setup is not None
    return next(step.title for step in setup.steps if step.now)


def test_the_first_administrator_is_led_to_people_and_asset() -> None:
    begun = begin_with(organisation="Sill Water", name="Una Holt", email="una@sill.example", password="paper-ink-9-x")
    setup = setup_of(begun.person, None)

    assert first(setup) == "People"
    client = Client()
    client.force_login(begun.person)
    page = client.get(reverse("today")).content.decode()
    assert "Begin with an asset" in page
    assert reverse("create_asset", args=[begun.organisation.pk]) in page


def test_nothing_is_set_up_any_more_once_a_sheet_was_taken() -> None:
    scene = pipe_scene()

    assert setup_of(scene.owner, scene.asset) is None


def test_who_cannot_do_the_first_missing_step_is_led_to_the_first_that_is_their_own() -> None:
    asset = AssetFactory()

    assert first(setup_of(appointed(Role.ADMIN, asset), asset)) == "Appointments"
    assert first(setup_of(appointed(Role.LEAD, asset, OrganisationFactory()), asset)) == "Zones"


def test_the_page_of_today_opens_with_the_step_that_is_next() -> None:
    begun = begin_with(organisation="Sill Water", name="Una Holt", email="una@sill.example", password="paper-ink-9-x")
    client = Client()
    client.force_login(begun.person)
    page = client.get(reverse("today")).content.decode()

    assert "Setting up goes on with you." in page
    assert "Nothing waits for you" not in page.split("<section")[0]


def test_coatings_begin_on_every_bare_zone_at_one_press() -> None:
    scene = pipe_scene()
    for number in (2, 3):
        scene.do("add_zone", scene.owner, scene.asset, name=f"Spool {number}", surface_kind="pipe", face="outside",
                 surface={"diameter": 1, "start": 1000 + number * 20, "end": 1020 + number * 20})  # fmt: skip
    client = Client()
    client.force_login(scene.lead)
    page = client.get(reverse("specification", args=[scene.specification.pk])).content.decode()

    done = perform("begin_coatings", scene.lead, scene.specification.pk, {})

    assert "2 zones have no current coating." in page
    assert done.said == ("Zones on which a coating has begun: 2.",)
    assert sorted(Coating.objects.values_list("zone__name", "number")) == [
        ("Spool 1", 1),
        ("Spool 2", 1),
        ("Spool 3", 1),
    ]


def test_a_zone_with_a_current_coating_is_refused_by_name() -> None:
    scene = pipe_scene()
    given = {"zones": [str(scene.zone.pk)]}

    with pytest.raises(ValidationError) as refused:
        perform("begin_coatings", scene.owner, scene.specification.pk, given)

    assert f"No coating can begin on: {scene.zone.name}." in str(refused.value.detail)


def test_a_draft_waits_for_the_owner_also_after_the_setting_up() -> None:
    scene = pipe_scene()
    draft = perform("draft_specification", scene.lead, scene.asset.pk, {"name": "Second lining"}).made
    client = Client()
    client.force_login(scene.owner)
    assert reverse("draft", args=[draft.pk]) in client.get(reverse("today")).content.decode()

    client.force_login(scene.lead)
    assert reverse("draft", args=[draft.pk]) not in client.get(reverse("today")).content.decode()
