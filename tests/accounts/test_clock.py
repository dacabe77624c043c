"""Whose clock the times on a page go by."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.people import Role
from accounts.templatetags.barespot import clocks
from tests.factories import AssetFactory, appointed


@pytest.mark.django_db
@pytest.mark.parametrize("page", ["today", "board", "asset", "asset_people"])
def test_a_page_with_times_names_the_clock_of_its_asset(page: str) -> None:
    asset = AssetFactory(time_zone="America/Denver")
    client = Client()
    client.force_login(appointed(Role.OWNER, asset))
    at = [] if page in ("today", "board") else [asset.pk]
    now = timezone.now().astimezone(ZoneInfo("America/Denver"))
    shown = client.get(reverse(page, args=at)).content.decode()
    assert f"America/Denver, {now:%Z} (UTC{now:%z}"[:-2] in shown.replace("&#x27;", "'")


def test_several_assets_on_one_clock_name_it_once() -> None:
    assert clocks(["UTC", "UTC"]) == "UTC, UTC (UTC+00:00)"


def test_an_asset_west_of_greenwich_says_how_far_behind_it_is() -> None:
    assert clocks("America/Phoenix") == "America/Phoenix, MST (UTC-07:00)"
