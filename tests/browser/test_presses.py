"""What a press does: once, told at once, refused in words that help, and undone by striking out."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from accounts.record import Entry
from inspections.flaws import Flaw
from inspections.runs import Run
from tests.browser.conftest import DeviceOf
from tests.scenes import Scene, pipe_scene

HOSTILE = '<script>window.struck = true</script><img src=x onerror="window.struck = true">'
# Two presses in one breath, before the browser has left the page.
TWICE = "button => { button.click(); button.click(); }"


@pytest.fixture
def scene(transactional_db: None) -> Scene:
    return pipe_scene()


@pytest.fixture
def run(scene: Scene) -> Run:
    return scene.open_run()


def test_bad_input_is_told_by_field_value_and_what_is_allowed_and_stays_typed(
    device_of: DeviceOf, scene: Scene, run: Run
) -> None:
    device = device_of(scene.crew, "phone")
    device.open(reverse("report_flaw", args=[run.pk]))
    device.unfold("More, if you know it now")
    device.type("Place", "1+030.00 @ 4:30")
    device.type("Note", "below the saddle")
    device.press("Flaw here")
    told = device.page.locator(".told")
    expect(told).to_be_focused()
    expect(told).to_contain_text("Place (1+030.00 @ 4:30)")
    expect(told).to_contain_text("1+000.00 to 1+020.00")
    expect(device.page.locator("[name=place]")).to_have_value("1+030.00 @ 4:30")
    expect(device.page.locator("[name=note]")).to_have_value("below the saddle")
    assert not Flaw.objects.exists()


def test_a_voltage_beyond_the_detector_is_recorded_and_answered_with_its_range(
    device_of: DeviceOf, scene: Scene
) -> None:
    device = device_of(scene.crew, "desktop")
    device.open(reverse("open_run", args=[scene.sheet.pk]))
    device.choose("Instrument", str(scene.detector))
    device.choose("Electrode", scene.electrode.name)
    device.type("Voltage set", "100 V")
    device.type("Who sweeps", "Ines Holt")
    device.tick("I have read the cautions")
    device.press("Open a run")
    device.reads("100 V is beyond", "500 to 30000 V")


def test_a_run_is_not_opened_before_the_cautions_are_read(device_of: DeviceOf, scene: Scene) -> None:
    device = device_of(scene.crew, "phone")
    device.open(reverse("open_run", args=[scene.sheet.pk]))
    device.choose("Instrument", str(scene.detector))
    device.choose("Electrode", scene.electrode.name)
    device.type("Who sweeps", "Ines Holt")
    device.press("Open a run")
    device.reads("Read the cautions and tick this before the voltage is switched on.")


def test_a_double_press_does_one_thing(device_of: DeviceOf, scene: Scene, run: Run) -> None:
    device = device_of(scene.crew, "phone")
    device.open(reverse("run", args=[run.pk]))
    with device.page.expect_navigation():
        device.page.get_by_role("button", name="Swept: Lane 1 of 7").evaluate(TWICE)
    device.told("Swept: recorded.")
    assert run.swaths.count() == 1


def test_a_form_sent_again_from_the_page_before_does_nothing_twice(device_of: DeviceOf, scene: Scene, run: Run) -> None:
    device = device_of(scene.crew, "desktop")
    device.open(reverse("report_flaw", args=[run.pk]))
    device.type("Place", "1+004.00 @ 3:00")
    operation = device.page.locator("main input[name=id]").input_value()
    device.press("Flaw here")
    device.open(reverse("report_flaw", args=[run.pk]))
    device.type("Place", "1+004.00 @ 3:00")
    device.page.locator("main input[name=id]").evaluate("(box, id) => { box.value = id; }", operation)
    device.press("Flaw here")
    device.told("recorded before; nothing changed")
    assert Flaw.objects.count() == 1


def test_undoing_a_flaw_strikes_it_out(device_of: DeviceOf, scene: Scene, run: Run) -> None:
    device = device_of(scene.crew, "phone")
    device.open(reverse("report_flaw", args=[run.pk]))
    device.type("Place", "1+004.00 @ 3:00")
    device.press("Flaw here")
    device.follow("Undo")
    device.press("Strike out")
    device.told("Strike out: recorded.")
    flaw = Flaw.objects.get()
    assert flaw.struck_why == "undone at once"
    expect(device.page.locator("tr.struck")).to_contain_text(flaw.tag)


def test_hostile_words_are_shown_as_words(device_of: DeviceOf, scene: Scene, run: Run) -> None:
    scene.flaw(run, "1+004.00 @ 3:00", note=HOSTILE)
    scene.do("add_landmark", scene.crew, scene.asset, kind="girth weld", name=HOSTILE[:60], at="1+006.00")
    device = device_of(scene.lead, "desktop")
    for name, row in (
        ("flaw", Flaw.objects.get()),
        ("report_flaw", run),
        ("zone", scene.zone),
        ("record", scene.asset),
    ):
        device.open(reverse(name, args=[row.pk]))
        for drawing in device.page.locator(".sheet[data-sheet]").all():
            drawing.locator("canvas.sheet-canvas").wait_for()
        assert device.page.evaluate("window.struck") is None, name
    device.open(reverse("flaw", args=[Flaw.objects.get().pk]))
    device.reads(HOSTILE)


@pytest.mark.smoke
def test_a_crew_member_signs_in_reports_a_flaw_and_finds_it_on_the_zone(
    device_of: DeviceOf, scene: Scene, run: Run
) -> None:
    device = device_of(scene.crew, "phone")
    device.follow(f"Go on: Run {run.label}", exact=False)
    device.follow("Flaw here")
    device.type("Place", "1+004.00 @ 3:00")
    device.press("Flaw here")
    device.told("A01: recorded.")
    device.follow(scene.zone.name)
    device.reads("A01", "1+004.00 @ 3:00")
    assert Entry.objects.filter(record=scene.asset.pk, what="report_flaw").count() == 1
