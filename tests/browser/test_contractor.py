"""Putting right: patches are issued, the contractor works and never passes its own work, the crew retests."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from repairs.packs import retest_place
from repairs.work import Patch
from tests.browser.conftest import DeviceOf
from tests.browser.device import Device, ago
from tests.scenes import Scene, pipe_scene


@pytest.fixture
def scene(transactional_db: None) -> Scene:
    """Surveyed whole with one flaw, in no patch yet; the sheet is still out."""
    scene = pipe_scene()
    scene.do("add_landmark", scene.crew, scene.asset, kind="girth weld", name="GW 7", at="1+002.00")
    scene.survey(flaws=["1+004.00 @ 3:00"])
    return scene


def issue(lead: Device, scene: Scene) -> None:
    lead.reads("1 open flaw is in no patch.")
    lead.follow("Issue patches", exact=False)
    lead.follow("Issue patches")
    lead.choose("Contractor", str(scene.contractor))
    lead.press("Issue patches")
    lead.told("Issue patches: recorded.")
    lead.reads("Patch 1", "A01")


def record_step(painter: Device, kind: str, hours_ago: float, coat: str = "", wet: str = "") -> None:
    painter.follow("Record:", exact=False)
    expect(painter.page.get_by_role("radio", name=kind)).to_be_checked()
    if coat:
        painter.type("Coat", coat)
        painter.type("Product", "Ferrobond " + ("P" if coat == "1" else "T"))
        painter.type("Batch", f"L-20{coat}")
        painter.type("Wet film", wet)
    painter.type("When", ago(hours=hours_ago))
    painter.press("Record a step")
    painter.told("Record a step: recorded.")


def repair(painter: Device, since_h: float) -> None:
    """Prepared, two coats inside their windows, cured, handed over; `since_h` hours ago it began."""
    record_step(painter, "prepared", since_h)
    record_step(painter, "coated", since_h - 1, "1", "150")
    record_step(painter, "coated", since_h - 6, "2", "200")
    record_step(painter, "cured", since_h - 6 - 25)
    painter.follow("Hand over for retest")
    painter.press("Hand over for retest")
    painter.told("Hand over for retest: recorded.")
    painter.reads("Ready for retest")


def retest(crew: Device, scene: Scene, patch: Patch, outcome: str, opened_h: float) -> None:
    """A retest run of its own over the patch with a margin, closed with a good check, then settled."""
    crew.open(reverse("sheet", args=[scene.sheet.pk]))
    crew.follow("Open a run")
    crew.choose("Purpose", "retest")
    crew.choose("Instrument", str(scene.detector))
    crew.choose("Electrode", scene.electrode.name)
    crew.type("Who sweeps", "Ines Holt")
    crew.tick("I have read the cautions")
    crew.unfold("More, if you know it now")
    crew.type("When", ago(hours=opened_h))
    crew.press("Open a run")
    crew.follow("Return proven")
    crew.type("Proven where", "bare end of the spool")
    crew.press("Return proven")
    check(crew, "Check", ago(hours=opened_h))
    crew.open(reverse("patch", args=[patch.pk]))
    crew.follow("Sweep it in run", exact=False)
    crew.type("Swept", retest_place(scene.coating, patch.shape))
    crew.press("Swept")
    crew.told("Swept: recorded.")
    crew.open(reverse("run", args=[scene.sheet.runs.latest("number").pk]))
    check(crew, "Closing check")
    crew.follow("Close the run")
    crew.press("Close the run")
    crew.open(reverse("patch", args=[patch.pk]))
    crew.follow("Settle the retest")
    crew.choose("Retest swath", retest_place(scene.coating, patch.shape))
    crew.choose("Outcome", outcome)
    crew.press("Settle the retest")
    crew.told("Settle the retest: recorded.")


def check(crew: Device, name: str, at: str = "") -> None:
    crew.follow(name)
    crew.type("Measured output", "2500")
    crew.choose("Alarm on a known bare spot", "yes")
    if at:
        crew.unfold("More, if you know it now")
        crew.type("When", at)
    crew.press("Record a check")
    crew.told("Good: 2500 V.")


@pytest.mark.parametrize("kind", ["phone", "desktop"])
def test_a_contractor_repairs_a_patch_and_the_crew_fails_it_so_the_next_cycle_opens(
    device_of: DeviceOf, scene: Scene, kind: str
) -> None:
    issue(device_of(scene.lead, kind), scene)
    patch = Patch.objects.get()

    painter = device_of(scene.painter, kind)
    painter.reads("Workable now", "Patch 1")
    painter.follow("Open: Patch 1", exact=False)
    painter.reads("Measured", "GW 7", "left and right are mirrored", "mm along")
    repair(painter, 200)
    painter.lacks("Settle the retest")
    painter.open(reverse("do", args=["settle_retest", patch.pk]))
    painter.reads("Not yours to do", "somebody else has to retest it")

    crew = device_of(scene.crew, kind)
    crew.reads("Ready for retest", "Patch 1")
    retest(crew, scene, patch, "failed", 3)
    crew.reads("Cycle 1: failed")

    painter.open(reverse("today"))
    painter.follow("Open: Patch 1", exact=False)
    painter.reads("Cycle 1: failed")
    painter.reads("Cycle 2", "No step recorded in this cycle.")
    expect(painter.page.locator("main").get_by_role("link", name="Record:")).to_be_visible()


@pytest.mark.parametrize("kind", ["phone", "desktop"])
def test_a_patch_that_was_repaired_again_passes_its_second_retest(device_of: DeviceOf, scene: Scene, kind: str) -> None:
    (patch,) = scene.issue()
    scene.repair(patch)
    scene.retest(patch, outcome="failed")
    scene.repair(patch)
    crew = device_of(scene.crew, kind)
    crew.reads("Ready for retest", "Patch 1")
    retest(crew, scene, patch, "passed", 3)
    crew.reads("Accepted", "Cycle 1: failed", "Cycle 2: passed")
    crew.lacks("Settle the retest")
