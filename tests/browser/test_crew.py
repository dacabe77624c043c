"""The crew's day through the pages alone: field sheet, run, proofs, ground, flaws in three ways, a failing check, again."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from accounts.people import Person, Role
from inspections.cautions import cautions
from tests.browser.conftest import DeviceOf
from tests.browser.device import Device, ago
from tests.factories import appointed
from tests.scenes import Scene, pipe_scene

FIRST_BAY = "1+000.00 to 1+006.00"
SECOND_BAY = "1+006.00 to 1+020.00"


@pytest.fixture
def scene(transactional_db: None) -> Scene:
    """A pipe of 62.8 m2 with one girth weld; the first sheet has been handed in, so the next one is B."""
    scene = pipe_scene()
    scene.do("add_landmark", scene.crew, scene.asset, kind="girth weld", name="GW 7", at="1+006.00")
    scene.hand_in()
    return scene


@pytest.fixture
def inspector(scene: Scene) -> Person:
    return appointed(Role.CREW, scene.asset, scene.lead.organisation)


def to_a_field_sheet(device: Device, scene: Scene) -> None:
    """Today, the asset, the zone, and a field sheet taken there."""
    device.reads("Today", scene.zone.name)
    device.follow("Assets")
    device.follow(scene.asset.name)
    device.follow(scene.zone.name)
    device.reads("Not swept yet.")
    device.press("Take a field sheet")
    device.told("Sheet B is yours. Tags begin with B.")


def prepare(device: Device) -> None:
    """Permit and atmosphere, from the sheet's page."""
    device.follow("Record a permit")
    device.type("Permit number", "HW-118")
    device.type("Gas reading", "0 % LEL, 20.9 % O2")
    device.type("Gas tester", "A. Moss")
    device.type("Valid until", ago(hours=-6))
    device.press("Record a permit")
    device.told("Record a permit: recorded.")
    device.follow("Record air and steel")
    device.type("Air", "18")
    device.type("Relative humidity", "52")
    device.type("Steel", "15.5\n16")
    device.press("Record air and steel")
    device.told("Record air and steel: recorded.")


def open_run(device: Device, scene: Scene, opened: str, purpose: str = "survey") -> None:
    device.follow("Open a run")
    device.reads("Cautions", *cautions("high_voltage_dc").full)
    device.choose("Purpose", purpose)
    device.choose("Instrument", str(scene.detector))
    device.choose("Electrode", scene.electrode.name)
    device.type("Who sweeps", "Ines Holt")
    device.choose("Permit", "hot work")
    device.tick("I have read the cautions")
    device.unfold("More, if you know it now")
    device.type("When", opened)
    device.press("Open a run")
    device.told("Run opened: recorded.")


def prove_return(device: Device) -> None:
    device.follow("Return proven")
    device.type("Proven where", "bare end of the spool")
    device.press("Return proven")
    device.told("Return proven: recorded.")


def check(device: Device, measured: str, at: str = "", *, closing: bool = False) -> None:
    device.follow("Closing check" if closing else "Check")
    device.type("Measured output", measured)
    device.choose("Alarm on a known bare spot", "yes")
    if at:
        device.unfold("More, if you know it now")
        device.type("When", at)
    device.press("Record a check")


def sweep_stretch(device: Device, place: str, started: str, ended: str) -> None:
    device.follow("Another stretch, or other times")
    device.type("Swept", place)
    device.type("Started", started)
    device.type("Ended", ended)
    device.press("Swept")
    device.told("Swept: recorded.")


def report_by_tap(device: Device) -> None:
    device.follow("Flaw here")
    expect(device.page.locator("#place-sheet canvas.sheet-canvas")).to_be_visible()
    device.touch_at("#place-sheet canvas.sheet-canvas", 0.5, 0.25)
    expect(device.page.locator("[name=place]")).to_have_value(re.compile(r"^1\+\d{3}\.\d\d @ \d+:\d\d:\d\d$"))
    device.press("Flaw here")


def report_by_steps(device: Device) -> None:
    device.follow("Next flaw")
    device.choose("Chainage: from", "girth weld GW 7")
    for name in ("+ 1 m", "+ 1 m", "+ 0.1 m", "− 0.01 m", "4", "+ ¼ h"):
        device.put_down(device.page.locator("#place-steps").get_by_role("button", name=name, exact=True))
    expect(device.page.locator("#step-reading-0")).to_have_text("2.09 m")
    expect(device.page.locator("[name=place]")).to_have_value("1+008.09 @ 4:15:00")
    device.press("Flaw here")


def report_by_typing(device: Device, place: str) -> None:
    device.follow("Next flaw")
    device.type("Place", place)
    device.unfold("More, if you know it now")
    device.choose("Kind", "pinhole")
    device.press("Flaw here")


@pytest.mark.parametrize("kind", ["phone", "desktop"])
def test_a_crew_surveys_loses_ground_to_a_failing_check_and_sweeps_it_again(
    device_of: DeviceOf, scene: Scene, inspector: Person, kind: str
) -> None:
    device = device_of(inspector, kind)
    to_a_field_sheet(device, scene)
    prepare(device)
    open_run(device, scene, ago(hours=3))
    device.reads("Not proven: without it no ground counts", *cautions("high_voltage_dc").short)
    prove_return(device)
    device.reads("Check the instrument before sweeping")
    check(device, "2500", ago(hours=3))
    device.told("Check: recorded.", "Good: 2500 V.")
    device.press("Swept: Lane 1 of 7", exact=False)
    device.reads("1 of 7 lanes of this stretch marked", "pending")
    sweep_stretch(device, SECOND_BAY, ago(hours=2.5), ago(hours=1))

    report_by_tap(device)
    expect(device.page.locator(".tag-huge")).to_have_text("B01")
    report_by_steps(device)
    expect(device.page.locator(".tag-huge")).to_have_text("B02")
    report_by_typing(device, "1+012.30 @ 10:30")
    expect(device.page.locator(".tag-huge")).to_have_text("B03")

    device.follow("Back to the run")
    check(device, "2000", closing=True)
    device.told("2000 V.", "now lost")
    device.follow("Close the run")
    device.press("Close the run")
    device.told("Close the run: recorded.")
    device.reads("Some of its ground is lost")

    device.follow(scene.zone.name)
    device.reads("B01", "B02", "B03", "outside standing coverage")
    assert device.figure("tested, as found").startswith("0")
    assert device.figure("lost") == "47.0 m²"
    assert device.figure("not swept") == "15.8 m²"

    restore(device_of(scene.lead), scene, SECOND_BAY)

    device.open(device.path)
    assert device.figure("tested, as found") == "44.0 m²"
    assert device.figure("lost") == "3.0 m²"
    device.reads("found, 2 allowed on what is tested")
    sweep_the_rest(device, scene)
    device.follow(scene.zone.name)
    assert device.figure("tested, as found") == "62.8 m²"
    device.reads("Every place is tested.")


def restore(lead: Device, scene: Scene, place: str) -> None:
    """The lead inspector restores one stretch by a late check, with the paper that shows it."""
    lead.open(f"/zones/{scene.zone.pk}/")
    lead.follow("B-1", exact=False)
    lead.follow("Restore by evidence")
    lead.tick(place)
    lead.choose("Evidence", "a late check")
    lead.type("What it shows", "Read 2490 V at 11:40 before anything was adjusted.")
    lead.page.get_by_label("File").set_input_files(
        {"name": "late check.txt", "mimeType": "text/plain", "buffer": b"2490 V at 11:40, A. Moss"}
    )
    lead.press("Restore by evidence")
    lead.told("Restore by evidence: recorded.", "1 now stand")
    lead.reads("late check.txt")


def sweep_the_rest(device: Device, scene: Scene) -> None:
    """A second run over what is left: the lost lane from the zone's list, the gap as a typed stretch."""
    device.follow("Sheet B", exact=False)
    open_run(device, scene, ago(hours=2))
    prove_return(device)
    check(device, "2500", ago(hours=2))
    device.follow(scene.zone.name)
    device.follow("Sweep again")
    device.press("Swept")
    device.told("Swept: recorded.")
    device.follow(scene.zone.name)
    device.follow("Sweep")
    device.type("Started", ago(minutes=70))
    device.type("Ended", ago(minutes=20))
    device.press("Swept")
    check(device, "2510", closing=True)
    device.told("Good: 2510 V.", "2 now stand")
    device.follow("Close the run")
    device.press("Close the run")
    device.follow("Sheet B")
    device.follow("Hand in the sheet")
    device.press("Hand in the sheet")
    device.told("Hand in the sheet: recorded.")
