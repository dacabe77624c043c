"""Every page there is, as it is shown: accessible, no wider than its window, large enough to press, at peace with its policy.

The list comes from the URLconf: a page that nobody visits here fails a test.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret
from django.urls import reverse
from playwright.sync_api import expect

from accounts.acting import REGISTRY
from accounts.people import Person, Role
from repairs.work import Patch
from tests.api.conftest import NOWHERE, World, build_world
from tests.browser import assert_accessible, assert_contrast
from tests.browser.conftest import DeviceOf
from tests.browser.device import Device
from tests.test_pages_access import pages, row_of, table

# What is pressed, and is no link within a sentence, has at least this size (WCAG 2.2 asks 24, gloves ask for more).
LEAST = 44
TOO_SMALL = """(least) => [...document.querySelectorAll("a[href], button, summary, input, select, textarea")]
  .filter((each) => each.checkVisibility() && !each.closest(".skip, .said-only, svg") && each.type !== "hidden")
  .filter((each) => !(each.matches("a") && getComputedStyle(each).display === "inline"))
  .map((each) => [(each.closest("label.tile") ?? each), each])
  .filter(([target]) => target.getBoundingClientRect().height < least || target.getBoundingClientRect().width < least)
  .map(([target, each]) => `${each.tagName} "${each.textContent.trim() || each.name}": ` +
    `${Math.round(target.getBoundingClientRect().width)} x ${Math.round(target.getBoundingClientRect().height)}`)"""
NOT_SHOWN = {
    "account_logout": "signs the walker out; visited last",
    "contrast": "only pressed",
    "set_language": "only pressed",
    "invite_again": "only pressed",
    "revoke_token": "only pressed",
    "take_sheet": "only pressed",
    "zone_drawing": "data for the drawing",
    "thickness_drawing": "data for the drawing",
    "place_words": "data for the form of a flaw",
    "dossier": "a PDF",
    "asset_document": "a PDF",
    "asset_file": "a download",
    "zone_file": "a download",
    "sheet_file": "a download",
    "evidence": "a download",
    "mfa_download_recovery_codes": "a text file",
    "do": "visited action by action",
}


NEEDS_FACTOR = ("mfa_deactivate_totp", "mfa_view_recovery_codes", "mfa_generate_recovery_codes", "mfa_reauthenticate")


@pytest.fixture
def world(transactional_db: None) -> World:
    return build_world()


def shown_to_everybody() -> list[str]:
    return [line.address(None) for line in table() if line.method == "GET" and line.expected["nobody"] == 200]


def shown_to(world: World) -> Iterator[str]:
    """Every page a signed-in person with every role reads, in the order of the table."""
    for line in table():
        if line.method == "GET" and line.expected["nobody"] != 200 and line.page not in {*NOT_SHOWN, *NEEDS_FACTOR}:
            yield line.address(row_of(line, world, "nobody"))


def actions(world: World) -> Iterator[str]:
    """The page of every action; but the retest, because this person is of the firm that repairs."""
    for name, what in REGISTRY.items():
        if name == "settle_retest":
            continue
        target = world.everything if what.on is Person else world.rows[what.on]
        yield reverse("do", args=[name, target.pk])


def look_at(device: Device, path: str, status: int = 200) -> None:
    """In the light and in the dark, where only the colours differ."""
    device.page.emulate_media(color_scheme="light")
    answer = device.page.goto(f"{device.base}{path}")
    assert answer is not None
    assert answer.status == status, path
    look_around(device)


def look_around(device: Device) -> None:
    """What is on the page now."""
    for drawing in device.page.locator(".sheet[data-sheet]").all():
        drawing.locator("canvas.sheet-canvas, .sheet-words").first.wait_for()
    assert_accessible(device.page)
    assert device.page.evaluate(TOO_SMALL, LEAST) == [], device.path
    device.page.emulate_media(color_scheme="dark")
    assert_contrast(device.page)


def test_every_page_is_visited_here_or_says_why_not() -> None:
    visited = {line.page for line in table() if line.method == "GET"}
    assert visited | set(NOT_SHOWN) == set(pages())


@pytest.mark.parametrize("kind", ["phone", "desktop"])
def test_every_page_of_the_work_is_accessible(device_of: DeviceOf, world: World, kind: str) -> None:
    device = device_of(world.everything, kind)
    for path in shown_to(world):
        look_at(device, path)


def test_the_page_of_every_action_is_accessible_on_a_phone(device_of: DeviceOf, world: World) -> None:
    device = device_of(world.everything, "phone")
    for path in actions(world):
        look_at(device, path)
    crew = device_of(world.people[Role.CREW], "phone")
    look_at(crew, reverse("do", args=["settle_retest", world.rows[Patch].pk]))


@pytest.mark.parametrize("kind", ["phone", "desktop"])
def test_every_page_of_signing_in_is_accessible(device_of: DeviceOf, world: World, kind: str) -> None:
    stranger = device_of(None, kind)
    for path in shown_to_everybody():
        look_at(stranger, path)
    device = device_of(world.everything, kind)
    TOTP.activate(world.everything, generate_totp_secret())
    RecoveryCodes.activate(world.everything)
    for name in NEEDS_FACTOR:
        look_at(device, reverse(name))
    look_at(device, reverse("account_logout"))
    stranger.sign_in(world.everything.email)
    expect(stranger.page).to_have_url(f"{stranger.base}{reverse('mfa_authenticate')}")
    look_around(stranger)


@pytest.mark.parametrize("kind", ["phone", "desktop"])
def test_pages_that_refuse_are_accessible(device_of: DeviceOf, world: World, kind: str) -> None:
    scene = world.scene
    device = device_of(scene.painter, kind)
    look_at(device, reverse("zone", args=[NOWHERE]), 404)
    look_at(device, reverse("do", args=["close_run", NOWHERE]), 404)
    look_at(device, reverse("do", args=["release_zone", scene.coating.pk]), 403)
    device.open(reverse("do", args=["record_step", world.rows[Patch].pk]))
    device.type("When", "2200-01-01T12:00")
    device.press("Record a step")
    device.reads("Not recorded yet. What you typed is kept.")
    look_around(device)


@pytest.mark.parametrize("kind", ["phone", "desktop"])
def test_pages_in_their_other_states_are_accessible(device_of: DeviceOf, world: World, kind: str) -> None:
    """Before anything has begun, closed, struck out, in high contrast."""
    scene = world.scene
    (run,) = scene.runs
    scene.close(run)
    surface = {"diameter": 1.0, "start": 1020.0, "end": 1040.0}
    given = {"name": "Spool 2", "surface_kind": "pipe", "surface": surface, "face": "outside"}
    bare = scene.do("add_zone", scene.owner, scene.asset, **given)
    flaw = scene.flaw(run, "1+001.00 @ 1:00")
    (patch, *_) = scene.issue(flaw)
    scene.do("strike_patch", scene.lead, patch, why="Drawn twice.")
    scene.do("strike_flaw", scene.lead, flaw, why="Wrong run.")
    device = device_of(world.everything, kind)
    look_at(device, reverse("zone", args=[bare.pk]))
    look_at(device, reverse("run", args=[run.pk]))
    look_at(device, reverse("patch", args=[patch.pk]))
    look_at(device, reverse("flaw", args=[flaw.pk]))
    device.put_down(device.page.get_by_role("button", name="High contrast, for sun"))
    expect(device.page.locator("html")).to_have_attribute("data-contrast", "more")
    look_at(device, reverse("zone", args=[scene.zone.pk]))
    look_at(device, reverse("run", args=[run.pk]))
    look_at(device, reverse("gates", args=[scene.zone.pk]))
