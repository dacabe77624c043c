"""The links from a zone's figures to worksheets: the same figures come out there, in either system of units."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from repairs.pages.figures import figures_of
from repairs.picture import zone_picture
from tests.scenes import pipe_scene

pytestmark = pytest.mark.once


@pytest.mark.parametrize("units", ["si", "us"])
def test_a_zone_s_figures_are_the_same_on_their_worksheets(units: str, db: None) -> None:
    scene = pipe_scene()
    run = scene.open_run()
    scene.check(run)
    scene.sweep(run, "1+000.00 to 1+010.00")
    scene.flaw(run, "1+004.00 @ 3:00")
    scene.check(run)
    picture = zone_picture(scene.coating)
    figures = {figure.anchor: figure for figure in figures_of(picture, units)}
    density = Client().get(f"{figures['density'].worksheet}&units={units}").context["asked"].answer
    told = {figure.key: figure.value for figure in density.figures}
    assert told["density"] == pytest.approx(picture.density_found.per_m2)
    surface = Client().get(f"{figures['true'].worksheet}&units={units}").context["asked"].answer
    assert {figure.key: figure.value for figure in surface.figures}["area"] == pytest.approx(picture.true_m2)


def test_the_page_of_figures_leads_to_the_worksheets(db: None) -> None:
    scene = pipe_scene()
    client = Client()
    client.force_login(scene.owner)
    assert "/worksheets/surface/?" in client.get(reverse("figures", args=[scene.zone.pk])).content.decode()
