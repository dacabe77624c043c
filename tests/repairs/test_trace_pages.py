"""The page, the file and the endpoint of a trace: one answer in three forms."""

from __future__ import annotations

import csv
import io

import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from tests.api.conftest import authorization
from tests.repairs.test_trace import Told, telling, told

pytestmark = pytest.mark.once

__all__ = ["telling", "told"]


@pytest.fixture
def client(told: Told) -> Client:
    client = Client()
    client.force_login(told.scene.owner)
    return client


def test_the_page_opens_with_what_would_be_lost_and_goes_on_with_how_it_comes_back(told: Told, client: Client) -> None:
    page = client.get(reverse("trace_instrument", args=[told.scene.detector.pk])).content.decode()

    assert "If Detector, serial D-1 is withdrawn, 62.8 m² in 1 zone is lost, 1 patch reopens, " in page
    assert "and the release of Spool 1 is undermined." in page
    assert page.index("Without sweeping") < page.index("By testing and repairing again")
    assert reverse("run", args=[told.first.pk]) in page
    assert reverse("patch", args=[told.patch.pk]) in page


def test_a_day_that_is_none_is_answered_with_what_is_allowed(told: Told, client: Client) -> None:
    answer = client.get(reverse("trace_instrument", args=[told.scene.detector.pk]) + "?from=3 June")

    assert answer.status_code == 400
    assert "From: &quot;3 June&quot; is not allowed: a day as 2025-06-03." in answer.content.decode()


def test_the_file_has_a_line_for_each_thing_and_what_brings_it_back(told: Told, client: Client) -> None:
    answer = client.get(reverse("trace_instrument", args=[told.scene.detector.pk]) + "?file=csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))

    assert sum(row["kind"] == "run" for row in rows) == 3
    assert [row["number"] for row in rows if row["kind"] == "swept"] == ["1", "1", "1"]
    (ground,) = (row for row in rows if (row["section"], row["kind"]) == ("would be lost", "ground"))
    # A pipe of 1 m, 20 m long: 20 pi m2.
    assert float(ground["area m2"]) == pytest.approx(20 * 3.141592653589793)
    assert {row["kind"] for row in rows if row["section"] == "to be done again"} == {"sweep"}


def test_the_endpoint_says_the_same(told: Told) -> None:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=authorization(told.scene.owner))

    read = client.get(f"/api/v1/instruments/{told.scene.detector.pk}/trace/?from=2025-03-04").json()

    assert [row["leg"] for row in read["rests"]] == ["run", "swept", "cycle", "release"]
    (zone,) = read["loss"]["zones"]
    assert zone["release_undermined"]
    assert [turn["number"] for turn in zone["patches"]] == [told.patch.number]
    assert [sweep["purpose"] for sweep in read["loss"]["sets"][0]["stages"][0]["sweeps"]] == ["retest"]


def test_the_endpoint_refuses_days_in_the_wrong_order_by_name(told: Told) -> None:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=authorization(told.scene.owner))

    answer = client.get(f"/api/v1/instruments/{told.scene.detector.pk}/trace/?from=2025-03-04&to=2025-03-03")

    assert answer.status_code == 400
    assert "2025-03-03 is not allowed: 2025-03-04 or later." in str(answer.json())
