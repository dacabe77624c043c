"""Air and steel as recorded: places of the steel, what cannot be, the trend and its warning on pages and in the dossier."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from rest_framework.exceptions import ValidationError

from accounts.acting import perform
from accounts.ids import new_id
from inspections.air import air_of, airs_of, apart, closing_words, notes_of, trend_of
from inspections.coatings import Atmosphere
from repairs.air_chart import MarginPoint, margin_chart
from repairs.charts import Label, Stroke
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]


@pytest.fixture
def scene() -> Scene:
    return pipe_scene()


def falling(scene: Scene) -> None:
    """Steel that cools by 1 °C in half an hour in damp air, read until five minutes ago."""
    now = timezone.now()
    for number, steel in enumerate((16.0, 15.5, 15.0)):
        at = now - timedelta(minutes=35 - 15 * number)
        given = {"air": 18, "humidity": 62, "steel": [steel, steel + 1], "steel_at": ["6 o'clock", "12 o'clock"]}
        perform("record_atmosphere", scene.crew, scene.coating.pk, {**given, "at": at.isoformat()})


def test_the_place_of_the_coldest_steel_is_kept(scene: Scene) -> None:
    falling(scene)
    air = airs_of(scene.coating)[0]
    assert (air.coldest_at, air.row.steel_at) == ("6 o'clock", ["6 o'clock", "12 o'clock"])


def test_the_margin_is_that_of_the_magnus_formula(scene: Scene) -> None:
    # WMO-No. 8, annex on formulas: over water 17.62 and 243.12, from memory. At 18 °C and 62 % the dew point is 10.63 °C.
    falling(scene)
    assert airs_of(scene.coating)[0].margin == pytest.approx(16.0 - 10.63, abs=0.05)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"humidity": 60, "steel": [12, 13], "steel_at": ["6 o'clock"]}, "steel_at"),
        ({"humidity": 0, "steel": [12]}, "humidity"),
        ({"wet_bulb": -20, "steel": [12]}, "wet_bulb"),
        ({"humidity": 60, "steel": [500]}, "steel"),
        ({"steel": [12]}, "humidity"),
    ],
    ids=["too few places", "no vapour at all", "wet bulb too far below", "red-hot steel", "neither"],
)
def test_air_that_cannot_be_is_refused_by_its_field(scene: Scene, given: dict[str, object], field: str) -> None:
    with pytest.raises(ValidationError) as refused:
        perform("record_atmosphere", scene.crew, scene.coating.pk, {"air": 18, **given})
    assert field in str(refused.value.detail)


def test_a_wet_bulb_below_zero_is_taken_as_iced_and_the_record_says_so(scene: Scene) -> None:
    row = Atmosphere(coating=scene.coating, air=-2.0, wet_bulb=-4.0, steel=[-1.0], steel_at=[], at=timezone.now())
    air = air_of(row)
    # Psychrometer formula over ice, e = e_ice(t') - 0.000575 p (t - t'): A from memory (WMO-No. 8: 5.75e-4 1/K over ice);
    # saturation over ice by Magnus, 22.46 and 272.62.
    assert air.humidity == pytest.approx(62, abs=2)
    assert any("iced over" in note for note in notes_of(air, "si"))


def test_a_falling_margin_warns_with_the_hour_at_which_it_closes(scene: Scene) -> None:
    falling(scene)
    trend = trend_of(airs_of(scene.coating))
    assert trend is not None
    assert "falling by 2.0 °C an hour (3 records)" in closing_words(trend, "si", "14:10")
    assert "3.6 °F an hour" in closing_words(trend, "us", "14:10")
    assert apart(3.0, "us") == "5.4 °F"


def test_run_sheet_and_air_page_warn_before_the_margin_closes(scene: Scene, client: Client) -> None:
    run = scene.open_run()
    falling(scene)
    client.force_login(scene.crew)
    for address in (f"/runs/{run.pk}/", f"/sheets/{scene.sheet.pk}/", f"/zones/{scene.zone.pk}/air/"):
        assert "The margin is falling by 2.0 °C an hour" in client.get(address).content.decode(), address


def test_the_air_page_shows_every_record_with_its_margin(scene: Scene, client: Client) -> None:
    falling(scene)
    client.force_login(scene.observer)
    page = client.get(f"/zones/{scene.zone.pk}/air/").content.decode()
    assert page.count("6 o&#x27;clock") == 3
    assert 'class="board-chart"' in page
    assert "our own choice, no source" in page


def test_the_api_tells_every_record_judged_and_warns_before_the_margin_closes(scene: Scene, client: Client) -> None:
    falling(scene)
    client.force_login(scene.crew)
    told = client.get(f"/api/v1/coatings/{scene.coating.pk}/air/").json()
    first = told["records"][0]
    assert first["margin"] == pytest.approx(16.0 - 10.63, abs=0.05)
    assert (first["coldest_steel"], first["over"], first["may_go_on"]) == (16.0, "water", True)
    assert told["trend"]["per_hour"] == pytest.approx(-2.0)
    assert told["trend"]["closes_at"] is not None
    assert told["warning"].startswith("The margin is falling by 2.0 °C an hour")


def test_the_api_tells_a_record_that_cannot_be_with_the_reason(scene: Scene, client: Client) -> None:
    falling(scene)
    wrong = Atmosphere.objects.earliest("at")
    Atmosphere(**{**{f.attname: getattr(wrong, f.attname) for f in Atmosphere._meta.fields}, "id": new_id(),
                  "humidity": 0.0, "at": wrong.at - timedelta(hours=5)}).save(force_insert=True)  # fmt: skip
    client.force_login(scene.crew)
    told = client.get(f"/api/v1/coatings/{scene.coating.pk}/air/").json()["records"][0]
    assert (told["dew_point"], told["margin"], told["may_go_on"]) == (None, None, None)
    assert told["problem"]


@pytest.mark.parametrize(("last", "below"), [(3.4, True), (2.1, False)])
def test_what_is_asked_stands_on_the_side_of_its_line_that_the_latest_record_leaves_free(
    last: float, below: bool
) -> None:
    begun = timezone.now()
    points = [MarginPoint(begun + timedelta(hours=hour), margin, True) for hour, margin in enumerate((5.0, last))]
    items = margin_chart(points, 3.0, "°C").items
    dashes = next(each for each in items if isinstance(each, Stroke) and each.style == "allowed")
    label = next(each for each in items if isinstance(each, Label) and each.text.startswith("at least"))
    assert (label.y > dashes.points[0][1]) is below
