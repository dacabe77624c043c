"""A reader of US units meets no metric figure on a page or in a document, but for places, which are spoken as the asset does."""

from __future__ import annotations

import html
import re
from io import BytesIO

import pypdfium2 as pdfium
import pytest
from django.test import Client
from django.urls import reverse

from accounts.people import Role
from tests.api.conftest import World, foreign, own, worlds
from tests.factories import AppointmentFactory, PersonFactory

pytestmark = pytest.mark.once

__all__ = ["foreign", "own", "worlds"]

PAGES = {
    "today": None,
    "board": None,
    "assets": None,
    "asset": "asset",
    "zone": "zone",
    "gates": "zone",
    "figures": "zone",
    "work_pack": "zone",
    "sheet": "sheet",
    "run": "run",
    "thickness": "zone",
    "flaw": "flaw",
    "patch": "patch",
    "worksheets": None,
}
METRIC = re.compile(r".{0,40}\d\s?(?:µm|mm|cm|m²|°C|m/s|m/min|litres?)(?![\w²]).{0,20}")


AS_GIVEN = re.compile(
    r"500(?: µm)?,?\s+510(?: µm)?,?\s+520\sµm"  # a spot's readings stand as they were given, with their mean in mil beside
    r"|\d+ per [\d.]+ m²"  # the contract's limit in the words of the specification
    r"|[\d.]+ m² / [\d.]+ m²"  # and its arithmetic, which is exact in the limit's own unit
    r"|250 µm ± 5 µm 251 µm|250 µm 251 µm ± 5 µm"  # a gauge's check on its shim, in the shim's own unit
    r"|Asked from 1 °C on"  # from where on a question is asked: a definition
    r"|given as 500 µm"
    r"|0\.3 m/s \(1 ft/s\)"  # a source in both units
    r"|1 cm²?"  # below this an untested part is no hole: a definition
)
"""What stays metric for everybody: text that was given, and definitions."""


def words_of(page: str) -> str:
    """What a page shows."""
    body = re.sub(r"<(script|style|footer|select|textarea)\b.*?</\1>", " ", page, flags=re.S)
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", body)))


def metric_figures(text: str) -> list[str]:
    return METRIC.findall(AS_GIVEN.sub("(as given)", text))


@pytest.fixture
def reader(own: World) -> Client:
    person = PersonFactory(organisation=own.scene.asset.organisation, units="us")
    for role in (Role.OBSERVER, Role.CREW, Role.OWNER):
        AppointmentFactory(person=person, role=role)
    client = Client()
    client.force_login(person)
    return client


@pytest.mark.parametrize("page", PAGES)
def test_a_page_shows_a_reader_of_us_units_no_metric_figure(page: str, own: World, reader: Client) -> None:
    on = {
        "asset": own.scene.asset,
        "zone": own.scene.zone,
        **{type(row).__name__.lower(): row for row in own.rows.values()},
    }
    on["sheet"] = own.scene.sheet
    pk = [] if PAGES[page] is None else [on[PAGES[page]].pk]  # type: ignore[index]
    answer = reader.get(reverse(page, args=pk))
    assert answer.status_code == 200
    assert metric_figures(words_of(answer.content.decode())) == []


@pytest.mark.parametrize("document", ["dossier", "asset_document"])
def test_a_document_shows_a_reader_of_us_units_no_metric_figure(document: str, own: World, reader: Client) -> None:
    row = own.scene.zone if document == "dossier" else own.scene.asset
    answer = reader.get(reverse(document, args=[row.pk]))
    content = b"".join(answer.streaming_content) if answer.streaming else answer.content  # type: ignore[attr-defined]
    pages = pdfium.PdfDocument(BytesIO(content))
    text = re.sub(r"\s+", " ", " ".join(page.get_textpage().get_text_bounded() for page in pages))
    found = metric_figures(text)
    assert found == [], found
