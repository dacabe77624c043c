"""Quick guides: two pages of A4 for each role, with names that the site really has."""

from __future__ import annotations

import html
import re

import pypdfium2 as pdfium
import pytest
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Browser
from pytest_django.live_server_helper import LiveServer

from accounts.people import Role
from inspections.cautions import cautions
from tests.factories import AppointmentFactory
from tests.words import APPS, ROOT

pytestmark = pytest.mark.once

A4 = (595, 842)  # points: ISO 216, 210 mm by 297 mm
LONGER = """() => {
  const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  const texts = []; while (walk.nextNode()) texts.push(walk.currentNode);
  for (const text of texts) { const words = text.data.trim(); if (words) text.data += " " + words.slice(0, words.length / 5); }
}"""
"""Every text of the page a fifth longer: what a translation takes."""


def guide_of(role: str) -> str:
    return html.unescape(Client().get(reverse("guide", args=[role])).content.decode())


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("role", Role.values)
def test_a_guide_is_two_pages_of_a4_in_every_language_with_room_for_longer_words(
    role: str, language: str, browser: Browser, live_server: LiveServer
) -> None:
    page = browser.new_page(locale=language)
    page.goto(live_server.url + reverse("guide", args=[role]))
    if language == "en":
        page.evaluate(LONGER)
    printed = pdfium.PdfDocument(page.pdf(prefer_css_page_size=True))
    page.close()
    assert [(round(sheet.get_width()), round(sheet.get_height())) for sheet in printed] == [A4, A4]


@pytest.fixture(scope="module")
def written_elsewhere() -> str:
    """Everything the site writes, but for its guides."""
    templates = [path for path in (ROOT / "templates").rglob("*.html") if path.parent.name != "guides"]
    modules = [path for app in APPS for path in (ROOT / app).rglob("*.py")]
    return "\n".join(path.read_text() for path in (*templates, *modules))


@pytest.mark.parametrize("role", Role.values)
def test_every_name_set_in_bold_in_a_guide_is_one_the_site_shows_elsewhere(role: str, written_elsewhere: str) -> None:
    source = (ROOT / f"templates/repairs/guides/{role}.html").read_text()
    named = {name for step in re.findall(r"<li>(.*?)</li>", source) for name in re.findall(r"<b>(.*?)</b>", step)}
    assert named
    assert [name for name in sorted(named) if name not in written_elsewhere] == []


@pytest.mark.parametrize("role", ["crew", "lead"])
def test_who_sweeps_reads_every_caution_of_high_voltage_in_full(role: str) -> None:
    text = guide_of(role)
    for sentence in cautions("high_voltage_dc").full:
        assert sentence in text


@pytest.mark.parametrize("role", Role.values)
def test_every_guide_says_that_barespot_authorises_nothing(role: str) -> None:
    assert guide_of(role).split("<footer")[0].count("never authorises entry or work") >= 1


@pytest.mark.django_db
def test_ones_own_role_stands_first_and_says_so() -> None:
    client = Client()
    client.force_login(AppointmentFactory(role=Role.OBSERVER).person)
    listed = re.findall(r'<div class="turn"><b>(.*?)</b>', client.get(reverse("guides")).content.decode())
    assert listed[0] == Role.OBSERVER.label
    assert len(listed) == len(Role)


def test_a_guide_for_nobody_is_not_there() -> None:
    assert Client().get("/guide/passer-by/").status_code == 404
