"""The ways at the top of every page, on a phone."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from accounts.people import Role
from tests.browser.conftest import DeviceOf
from tests.factories import AssetFactory, appointed

PRESS = 48  # px: the least height of what is pressed, as the pages set it
TOP = 'document.querySelector("header.top").getBoundingClientRect().height'


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_navigation_takes_two_rows_at_most_and_the_menu_holds_the_rest(language: str, device_of: DeviceOf) -> None:
    asset = AssetFactory()
    owner = appointed(Role.OWNER, asset)
    owner.name, owner.language = "Rosalind Featherstonehaugh", language
    page = device_of(owner, "phone").page
    page.goto(f"{page.url.split('/today')[0]}/board/{asset.pk}/")
    assert page.evaluate(TOP) < 2.5 * PRESS
    page.locator(".menu summary").click()
    expect(page.locator('.menu-body a[href="/worksheets/"]')).to_be_visible()
