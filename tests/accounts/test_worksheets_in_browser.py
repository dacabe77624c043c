"""Worksheets in a browser: the answer follows the typing, what is wrong stands beside its field, and all is accessible."""

from __future__ import annotations

import pytest
from django.core.cache import cache
from django.urls import reverse
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from accounts.worksheet_api import WorksheetThrottle
from tests.browser import WIDTHS, assert_accessible, assert_contrast

pytestmark = pytest.mark.django_db(transaction=True)


def opened(browser: Browser, server: LiveServer, address: str, width: str = "desktop", **context: object) -> Page:
    across, down = WIDTHS[width]
    page = browser.new_context(
        viewport={"width": across, "height": down}, reduced_motion="reduce", **context
    ).new_page()  # type: ignore[arg-type]
    page.goto(f"{server.url}{address}")
    return page


def test_the_answer_follows_what_is_typed(browser: Browser, live_server: LiveServer) -> None:
    page = opened(browser, live_server, reverse("worksheet", args=["density"]))
    expect(page.locator(".answer .verdict")).to_contain_text("3 found, 4 allowed")
    page.get_by_label("Flaws counted").fill("5")
    expect(page.locator(".answer .verdict")).to_contain_text("5 found, 4 allowed")
    expect(page.get_by_text("This is an example.")).to_have_count(0)


def test_what_is_wrong_stands_beside_its_field_until_it_is_right(browser: Browser, live_server: LiveServer) -> None:
    page = opened(browser, live_server, reverse("worksheet", args=["density"]))
    area = page.get_by_label("Tested area")
    area.fill("40 acres")
    expect(page.locator("#id_area_error")).to_contain_text("40 acres")
    expect(area).to_have_attribute("aria-invalid", "true")
    assert "id_area_error" in str(area.get_attribute("aria-describedby"))
    expect(page.locator("#id_area")).to_be_focused()
    area.fill("40")
    expect(page.locator("#id_area_error")).to_have_count(0)
    expect(page.locator(".answer .verdict")).to_contain_text("7.50 per 100 m²")


def test_markup_that_is_typed_stays_text(browser: Browser, live_server: LiveServer) -> None:
    page = opened(browser, live_server, reverse("worksheet", args=["position"]))
    page.get_by_label("Position as spoken").fill("<img src=x onerror=document.title='broken'>")
    expect(page.locator(".answer .told")).to_contain_text("<img")
    assert page.locator(".answer img").count() == 0


def test_too_many_questions_are_told_to_wait_and_what_was_typed_stays(
    browser: Browser, live_server: LiveServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    cache.clear()
    page = opened(browser, live_server, reverse("worksheet", args=["density"]))
    monkeypatch.setattr(WorksheetThrottle, "THROTTLE_RATES", {"worksheet": "1/min"})
    page.get_by_label("Flaws counted").fill("5")
    expect(page.locator(".answer .verdict")).to_contain_text("5 found")
    page.get_by_label("Flaws counted").fill("6")
    expect(page.locator(".answer")).to_contain_text("Too many questions in one minute")
    expect(page.get_by_label("Flaws counted")).to_have_value("6")


def test_the_form_answers_with_scripts_off(browser: Browser, live_server: LiveServer) -> None:
    page = opened(browser, live_server, reverse("worksheet", args=["density"]), java_script_enabled=False)
    page.get_by_label("Flaws counted").fill("5")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator(".answer .verdict")).to_contain_text("5 found, 4 allowed")


@pytest.mark.parametrize(
    ("width", "address"),
    [
        ("phone", "coverage/?variant=strake"),
        ("desktop", "coverage/?variant=strake"),
        ("phone", "voltage/"),
        ("desktop", "patches/?variant=deck"),
        ("phone", "thickness/"),
    ],
)
def test_worksheets_with_pictures_and_tables_are_accessible(
    browser: Browser, live_server: LiveServer, width: str, address: str
) -> None:
    page = opened(browser, live_server, f"/worksheets/{address}", width)
    expect(page.locator(".answer .verdict")).to_be_visible()
    assert_accessible(page)
    page.emulate_media(color_scheme="dark")
    assert_contrast(page)
