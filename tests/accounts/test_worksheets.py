"""Worksheets as they are asked for: page and endpoint alike, with sources, limits, and what is said about bad input."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from accounts.form_rows import form_rows
from accounts.typed import Reader
from accounts.worksheet_api import MOST_BYTES, WorksheetThrottle, spelled_out
from accounts.worksheets import MARKS, REGISTRY
from tests.api.contract import WORKSHEETS
from tests.factories import PersonFactory

pytestmark = pytest.mark.once

EVERY = [(name, variant) for name, sheet in REGISTRY.items() for variant in sheet.variants or ("",)]

ONE_OF_EACH = [(name, sheet.first_variant) for name, sheet in REGISTRY.items()] + [
    ("surface", "deck"),
    ("thickness", "iso19840"),
]


def address(name: str) -> str:
    return f"/api/v1/worksheets/{name}/"


def posted(name: str, **given: Any) -> Any:
    return APIClient().post(address(name), given, format="json")


def test_the_registry_is_the_contract() -> None:
    assert sorted(REGISTRY) == sorted(WORKSHEETS)


@pytest.mark.parametrize(("name", "variant"), EVERY)
def test_an_example_is_answered_in_words_and_every_figure_has_a_source_with_its_mark(
    name: str, variant: str, db: None
) -> None:
    answer = posted(name, **spelled_out(REGISTRY[name], variant))
    assert answer.status_code == 200, answer.content
    body = answer.json()
    assert body["sentence"].endswith(".")
    assert body["figures"]
    known = [table for table in body["tables"] if table["columns"][-1]["key"] == "known"]
    for sourced in [*body["figures"], *(table for table in body["tables"] if table not in known)]:
        assert sourced["source"]["document"], sourced
        assert sourced["source"]["mark"] in MARKS, sourced


@pytest.mark.parametrize(("name", "variant"), ONE_OF_EACH)
def test_the_page_of_an_example_says_what_the_endpoint_says(name: str, variant: str, db: None) -> None:
    answer = Client().get(reverse("worksheet", args=[name]), {"variant": variant})
    assert answer.status_code == 200
    told = posted(name, **spelled_out(REGISTRY[name], variant)).json()
    assert answer.context["asked"].answer.sentence == told["sentence"]
    shown = [figure["shown"] for figure in told["figures"]]
    assert [figure.shown for figure in answer.context["asked"].answer.figures] == shown


@pytest.mark.parametrize(("name", "variant"), ONE_OF_EACH)
def test_the_page_of_an_example_answers_in_us_units_too(name: str, variant: str, db: None) -> None:
    answer = Client().get(reverse("worksheet", args=[name]), {"units": "us", "variant": variant})
    assert answer.status_code == 200, answer.context["asked"].told
    assert answer.context["units"] == "us"


@pytest.mark.parametrize(("name", "variant"), ONE_OF_EACH)
def test_the_form_works_without_a_script(name: str, variant: str, db: None) -> None:
    """As a browser sends it: every row of the form in its words."""
    sheet = REGISTRY[name]
    rows = form_rows(sheet.form(variant), reader=Reader(), initial=sheet.example_for(variant))
    typed = {
        row.name: next((c.value for c in row.choices if c.chosen), row.value) for row in rows if row.kind != "group"
    }
    answer = Client().post(reverse("worksheet", args=[name]), {**typed, "variant": variant})
    assert answer.status_code == 200, answer.context["asked"].told
    assert answer.context["asked"].answer.sentence in answer.content.decode().replace("&#x27;", "'").replace(
        "&quot;", '"'
    )


@pytest.mark.parametrize(("name", "variant"), ONE_OF_EACH)
def test_the_address_of_an_answer_leads_to_the_same_answer(name: str, variant: str, db: None) -> None:
    first = Client().get(reverse("worksheet", args=[name]), {"variant": variant}).context["asked"]
    again = Client().get(first.link).context["asked"]
    assert first.link
    assert again.answer.sentence == first.answer.sentence


def test_a_script_gets_the_answer_alone(db: None) -> None:
    answer = Client().post(
        reverse("worksheet", args=["density"]), {"count": "2", "area": "40"}, headers={"X-Part": "answer"}
    )
    assert answer.status_code == 200
    assert b"<html" not in answer.content
    assert b"5.00 per 100 m" in answer.content


def test_bad_input_is_named_beside_its_field_with_value_and_what_is_allowed(db: None) -> None:
    answer = Client().post(reverse("worksheet", args=["density"]), {"count": "2", "area": "40 acres"})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert 'id="id_area_error"' in text
    assert "40 acres" in text
    assert "Write a number in m²" in text


def test_the_endpoint_names_field_value_and_what_is_allowed(db: None) -> None:
    answer = posted("density", count=2, area="40 acres")
    assert answer.status_code == 400
    (error,) = answer.json()["errors"]
    assert (error["field"], error["value"]) == ("area", "40 acres")
    assert "m²" in error["message"]


def test_a_field_that_is_not_there_is_refused_by_name(db: None) -> None:
    answer = posted("density", count=2, area=40, acres=3)
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["field"] == "acres"


def test_a_number_without_a_unit_on_a_page_means_the_unit_beside_its_box(db: None) -> None:
    page = Client().post(reverse("worksheet", args=["density"]), {"count": "2", "area": "1000", "units": "us"})
    assert "2 flaws on 1000 ft²" in page.content.decode()


def test_a_person_s_units_are_the_page_s_units(client: Client, db: None) -> None:
    client.force_login(PersonFactory(units="us"))
    assert client.get(reverse("worksheet", args=["density"])).context["units"] == "us"


def test_the_address_fills_the_form_over_the_example(db: None) -> None:
    asked = Client().get(reverse("worksheet", args=["density"]), {"count": "7", "area": "50"}).context["asked"]
    assert {row.name: row.value for row in asked.rows}["count"] == "7"
    assert "14.00 per 100 m²" in asked.answer.sentence


def test_a_body_beyond_what_is_taken_is_refused_by_its_size(db: None) -> None:
    said = {"count": 1, "area": "1" + " " * MOST_BYTES}
    assert posted("density", **said).status_code == 413
    assert Client().post(reverse("worksheet", args=["density"]), said).status_code == 413


def test_there_is_no_worksheet_that_is_not_registered(db: None) -> None:
    assert Client().get("/worksheets/no-such/").status_code == 404
    assert posted("no-such").status_code == 404


def test_a_worksheet_posted_from_another_site_is_refused(db: None) -> None:
    assert (
        Client(enforce_csrf_checks=True).post(reverse("worksheet", args=["density"]), {"count": "1"}).status_code == 403
    )


class TestTooManyQuestions:
    @pytest.fixture(autouse=True)
    def _three_a_minute(self, monkeypatch: pytest.MonkeyPatch, db: None) -> None:
        cache.clear()
        monkeypatch.setattr(WorksheetThrottle, "THROTTLE_RATES", {"worksheet": "3/min"})

    def test_an_address_is_told_how_long_to_wait(self) -> None:
        answers = [posted("density", count=1, area=40) for _ in range(4)]
        assert [answer.status_code for answer in answers] == [200, 200, 200, 429]
        assert 1 <= int(answers[-1]["Retry-After"]) <= 61

    def test_page_and_endpoint_count_together(self) -> None:
        for _ in range(3):
            assert posted("density", count=1, area=40).status_code == 200
        page = Client().get(reverse("worksheet", args=["density"]))
        assert page.status_code == 429
        assert "Wait " in page.content.decode()
        assert page["Retry-After"]

    def test_a_person_signed_in_counts_alone(self, client: Client) -> None:
        for _ in range(3):
            posted("density", count=1, area=40)
        client.force_login(PersonFactory())
        assert client.get(reverse("worksheet", args=["density"])).status_code == 200

    def test_a_header_does_not_make_a_new_address(self) -> None:
        statuses = [
            Client().get(reverse("worksheet", args=["density"]), headers={"X-Forwarded-For": f"10.0.0.{n}"}).status_code
            for n in range(4)
        ]
        assert statuses == [200, 200, 200, 429]


class TestWhereTheSiteAsksToSignIn:
    @pytest.fixture(autouse=True)
    def _signed_in_only(self, settings: Any, db: None) -> None:
        settings.WORKSHEETS = "signed-in"

    def test_pages_lead_to_the_sign_in_page(self) -> None:
        for path in (reverse("worksheets"), reverse("worksheet", args=["density"])):
            assert Client().get(path)["Location"] == f"/accounts/login/?next={path}"

    def test_endpoints_answer_401(self) -> None:
        assert posted("density", count=1, area=40).status_code == 401
        assert APIClient().get("/api/v1/worksheets/").status_code == 401

    def test_who_is_signed_in_is_answered(self, client: Client) -> None:
        client.force_login(PersonFactory())
        assert client.get(reverse("worksheet", args=["density"])).status_code == 200

    def test_the_sign_in_page_does_not_offer_them(self) -> None:
        assert b"Worksheets" not in Client().get("/accounts/login/").content


def test_the_sign_in_page_leads_to_the_worksheets(db: None) -> None:
    assert b'href="/worksheets/"' in Client().get("/accounts/login/").content


def test_the_index_of_the_api_leads_to_every_worksheet(db: None) -> None:
    listed = APIClient().get("/api/v1/worksheets/").json()
    assert sorted(listed) == sorted(WORKSHEETS)
    assert all(each["address"].endswith(address(name)) for name, each in listed.items())
