"""The Thickness page of a zone, its map and its answer in the API."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse

from accounts.people import Person
from inspections.coatings import Spot
from inspections.rule_schema import shipped_bodies
from inspections.terms import Stage
from mapping.wire import legend
from repairs.film import film_picture
from repairs.film_map import film_map
from repairs.film_voltage import voltage_of
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]
PA2 = {"thickness_rule": "SSPC-PA 2", "thickness_level": 3}
RULED = {
    "stated_volts": None,
    "voltage_tolerance_percent": 5.0,
    "voltage_document": "",
    "thickness_unit": "mil",
    "voltage_rules": (shipped_bodies()["astm-g62-b-2014"],),
}


def spot(scene: Scene, place: str, *readings: str, **given: Any) -> Spot:
    made: Spot = scene.do("record_spot", scene.crew, scene.sheet, place=place, readings=list(readings), **given)
    return made


def page(scene: Scene, person: Person | None = None, query: str = "") -> str:
    client = Client()
    client.force_login(person or scene.crew)
    answer = client.get(reverse("thickness", args=[scene.zone.pk]) + query)
    assert answer.status_code == 200
    return answer.content.decode()


def five_spots(scene: Scene, *, thin: bool = False) -> None:
    """Five spots of one area measurement; means 500 to 540 um, the third 300 um where it is thin."""
    for number in range(5):
        base = 300 if thin and number == 2 else 500 + 10 * number
        spot(scene, f"1+00{number}.00 @ 3:00", f"{base - 6}", f"{base}", f"{base + 6}", area="A")


def test_a_zone_without_spots_says_how_many_are_asked_for_and_where_to_begin() -> None:
    scene = pipe_scene(**PA2)
    shown = page(scene)
    assert "Not judged yet by SSPC-PA 2, level 3" in shown
    assert "Measure next at" in shown
    assert "Record a spot here" in shown
    assert reverse("import_gauge_file", args=[scene.coating.pk]) in shown
    assert "No spot has been taken at this coat stage." in shown


def test_a_zone_whose_specification_names_no_standard_says_so() -> None:
    assert "The specification names no standard by which thickness is judged" in page(pipe_scene())


def test_a_film_that_is_accepted_says_so_with_its_arithmetic() -> None:
    # 3 m of pipe are under 10 m2: one area measurement of five spots (SSPC-PA 2, public summaries); the mean of 500, 510,
    # 520, 530 and 540 um is 520 um, within 400 to 800; each spot within 320 to 960 um (level 3, from memory).
    scene = pipe_scene(end=1003.0, **PA2)
    for number in range(5):
        spot(scene, f"1+00{number // 2}.50 @ {3 + number}:00", *[f"{500 + 10 * number}"] * 3)
    shown = page(scene)
    assert "Accepted by SSPC-PA 2, level 3." in shown
    assert "mean of 5 spots 520 µm, within 400 µm to 800 µm" in shown


def test_a_failed_area_is_bounded_in_eight_directions_with_the_next_spot_of_each() -> None:
    scene = pipe_scene(**PA2)
    five_spots(scene, thin=True)
    shown = page(scene)
    assert "Not accepted by SSPC-PA 2, level 3" in shown
    assert "How far failed area A reaches" in shown
    for direction in ("right", "left and up", "down"):
        assert direction in shown
    assert "purpose=bounding" in shown


def test_statistics_follow_numpy() -> None:
    scene = pipe_scene(**PA2)
    five_spots(scene)
    film = film_picture(scene.coating)
    values = [500 + 10 * number + step for number in range(5) for step in (-6, 0, 6)]
    assert film.summary is not None
    found = (film.summary.p5_um, film.summary.p50_um, film.summary.p95_um)
    assert found == pytest.approx(tuple(np.percentile(values, (5, 50, 95), method="linear")))
    assert film.deviation_um == pytest.approx(np.std(values, ddof=1))


def test_the_histogram_has_a_table_behind_it() -> None:
    scene = pipe_scene(**PA2)
    five_spots(scene)
    shown = page(scene)
    assert "Histogram of film thickness, µm; the table says the same." in shown
    assert "<summary>As a table</summary>" in shown


def test_a_reader_of_us_units_reads_mil() -> None:
    scene = pipe_scene(**PA2)
    five_spots(scene)
    Person.objects.filter(pk=scene.crew.pk).update(units="us")
    shown = page(scene, Person.objects.get(pk=scene.crew.pk))
    statistics = shown.split('id="statistics"')[1].split('id="voltage"')[0]
    assert "mil" in statistics
    assert "µm" not in statistics


def test_the_map_draws_each_spot_by_its_class_with_limits_in_the_legend() -> None:
    scene = pipe_scene(**PA2)
    five_spots(scene, thin=True)
    sheet = film_map(film_picture(scene.coating), "si")
    assert sorted(mark.status for mark in sheet.scene.flaws) == ["thin", *["within"] * 4]
    words = [entry.words for entry in legend(sheet)]
    assert {"thin: below 320 µm", "within 320 µm to 960 µm", "measure here next"} <= set(words)


def test_a_spot_that_was_coated_over_is_drawn_as_not_counting() -> None:
    scene = pipe_scene(**PA2)
    spot(scene, "1+002.00 @ 12:00", "500", "500", "500")
    scene.do("record_disturbance", scene.crew, scene.coating, place="1+001.00 to 1+003.00", kind="coating")
    (mark,) = film_map(film_picture(scene.coating), "si").scene.flaws
    assert mark.status == "out"


def test_the_drawing_comes_in_columns_for_the_browser() -> None:
    scene = pipe_scene(**PA2)
    five_spots(scene)
    client = Client()
    client.force_login(scene.observer)
    drawn = client.get(reverse("thickness_drawing", args=[scene.zone.pk])).json()
    assert drawn["statuses"] == ["thin", "thick", "out", "within"]
    assert len(drawn["flaws"]["id"]) == 5


def test_spots_that_need_attention_come_before_the_others() -> None:
    scene = pipe_scene(**PA2)
    five_spots(scene, thin=True)
    shown = page(scene)
    assert shown.index("Report as a flaw") < shown.index('id="others"')


def test_a_struck_out_spot_is_listed_with_its_reason() -> None:
    scene = pipe_scene(**PA2)
    wrong = spot(scene, "1+002.00 @ 12:00", "500", "500", "500")
    scene.do("strike_spot", scene.lead, wrong, why="gauge not zeroed")
    shown = page(scene)
    assert "gauge not zeroed" in shown
    assert "1 struck out" in shown


def test_another_coat_stage_is_shown_by_itself() -> None:
    scene = pipe_scene(
        stages=(Stage("primer", 80.0, 60.0, 120.0), Stage("finished system", 500.0, 400.0, 800.0)), **PA2
    )
    spot(scene, "1+002.00 @ 12:00", "80", "82", "78", stage="primer")
    assert "No spot has been taken at this coat stage." in page(scene)
    shown = page(scene, query="?stage=primer")
    assert "1+002.00 @ 12:00" in shown
    assert "60 µm" in shown


def test_readings_on_both_branches_of_a_document_are_said_to_straddle() -> None:
    scene = pipe_scene(**PA2, **RULED)
    spot(scene, "1+002.00 @ 12:00", "30 mil", "31 mil", "32 mil")
    spot(scene, "1+008.00 @ 12:00", "45 mil", "46 mil", "47 mil")
    found = voltage_of(film_picture(scene.coating))
    assert found is not None
    assert found.straddles
    assert len(found.along) == 2
    # The border lies half way between the spots, at 5 m of the pipe.
    assert found.along[0].ends == pytest.approx(1005.0)
    shown = page(scene)
    assert "A border between two formulas or tables runs through this film." in shown
    assert "from the start to 1+005.00" in shown


def test_readings_keep_the_unit_they_were_given_in_when_a_document_is_asked() -> None:
    scene = pipe_scene(**PA2, **RULED)
    spot(scene, "1+002.00 @ 12:00", "25 mil", "25 mil", "25 mil")
    found = voltage_of(film_picture(scene.coating))
    assert found is not None
    # ASTM G62-2014 method B, from memory: 525 * sqrt(25) = 2625 V in the mil form.
    assert [each.asked.volts for each in found.asked] == [2625, 2625, 2625]


def test_a_setting_opens_the_run_form_with_voltage_and_basis_filled_in() -> None:
    scene = pipe_scene(**PA2, **RULED)
    spot(scene, "1+002.00 @ 12:00", "25 mil", "25 mil", "25 mil")
    shown = page(scene)
    link = shown.split("Use this in a run")[0].rsplit('href="', 1)[1].split('"')[0].replace("&amp;", "&")
    client = Client()
    client.force_login(scene.crew)
    form = client.get(link).content.decode()
    assert 'value="25 mil"' in form
    assert "2625" in form.split('name="set_volts"')[1].split(">")[0]
    assert "is what" in form
    assert "allows at 25 mil" in form
    assert "that of 1 spot, chosen on the Thickness page" in form
    assert str(Spot.objects.get().pk) in form.split('name="basis_spots"')[1].split(">")[0]


def test_a_run_opened_from_a_proposal_rests_on_the_spots_of_its_part() -> None:
    scene = pipe_scene(**PA2, **RULED)
    thin = spot(scene, "1+002.00 @ 12:00", "25 mil", "25 mil", "25 mil")
    spot(scene, "1+008.00 @ 12:00", "36 mil", "36 mil", "36 mil")
    found = voltage_of(film_picture(scene.coating))
    assert found is not None
    part = found.along[0]
    run = scene.open_run(
        thickness=str(part.at), thickness_basis=part.at.basis, set_volts=part.volts, basis_spots=list(part.spots)
    )
    assert run.basis_spots == [str(thin.pk)]
    assert run.band_low <= run.set_volts <= run.band_high


def test_a_visual_specification_asks_for_no_voltage() -> None:
    scene = pipe_scene(method="visual", stated_volts=None, voltage_tolerance_percent=None, **PA2)
    spot(scene, "1+002.00 @ 12:00", "500", "500", "500")
    assert voltage_of(film_picture(scene.coating)) is None
    assert "The specification asks for a visual inspection: no voltage." in page(scene)


def test_the_api_tells_the_judgement_with_its_figures_and_the_voltage() -> None:
    scene = pipe_scene(**PA2)
    five_spots(scene, thin=True)
    client = Client()
    client.force_login(scene.observer)
    film = client.get(f"/api/v1/zones/{scene.zone.pk}/thickness/").json()
    assert film["judgement"]["verdict"] == "not accepted"
    (area,) = film["judgement"]["areas"]
    assert area["arithmetic"][0]["figures"]["count"]["value"] == 5
    assert film["summary"]["readings"] == 15
    assert film["spot_least"] == 320.0
    assert len(film["failed"][0]["reaches"]) == 8
    assert film["voltage"]["along"][0]["volts"] == 2500


def test_the_api_names_the_stages_there_are_when_another_is_asked_for() -> None:
    scene = pipe_scene()
    client = Client()
    client.force_login(scene.observer)
    answer = client.get(f"/api/v1/zones/{scene.zone.pk}/thickness/?stage=primer")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["message"] == '"primer" is no coat stage; there are: finished system.'


def test_the_zone_page_says_what_is_true_of_its_film_and_leads_to_it() -> None:
    scene = pipe_scene(**PA2)
    client = Client()
    client.force_login(scene.crew)
    shown = client.get(reverse("zone", args=[scene.zone.pk])).content.decode()
    assert "Not judged yet by SSPC-PA 2, level 3" in shown
    assert reverse("thickness", args=[scene.zone.pk]) in shown
