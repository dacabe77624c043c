"""People with a device each, on a scene of their own: the fixtures every test in this folder works with."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser
from pytest_django.live_server_helper import LiveServer

from accounts.people import Person
from tests.browser.device import PASSWORD, Device

DeviceOf = Callable[..., Device]


@pytest.fixture
def device_of(browser: Browser, live_server: LiveServer) -> Iterator[DeviceOf]:
    """`device_of(person, "phone")`: signed in by typing. Afterwards no script error and nothing the policy refused."""
    devices: list[Device] = []

    def make(person: Person | None = None, kind: str = "desktop", **context: str) -> Device:
        device = Device.opened(browser, live_server.url, kind, **context)
        devices.append(device)
        if person is not None:
            person.set_password(PASSWORD)
            person.save()
            device.sign_in(person.email)
        return device

    yield make
    complaints = [words for device in devices for words in device.complaints]
    for device in devices:
        device.page.context.close()
    assert complaints == []
