"""A field sheet that was taken along can be imported again and says the same."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
import shapely
from django.core.files.uploadedfile import SimpleUploadedFile

from accounts.acting import perform
from inspections.briefings import Briefing
from inspections.coatings import Coating, Coverage, FieldSheet
from inspections.flaws import Flaw
from inspections.runs import CheckEvent, ReturnProof, Run, Swath, TouchTest, Verification
from inspections.sheetfile import read_sheet
from repairs.exports.sheetfile import sheet_csv, sheet_workbook
from repairs.state import with_status
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]

FACTS: dict[type[Any], tuple[str, ...]] = {
    Run: ("number", "stage", "purpose", "method", "instrument", "electrode", "set_volts", "band_low", "band_high",
          "thickness", "thickness_said", "surface_state", "sweeper", "recorder", "opened_at", "closed_at"),
    ReturnProof: ("said", "island", "at"),
    Verification: ("at", "phase", "measured", "outcome", "alarm_seen", "voltmeter", "note"),
    TouchTest: ("said", "island", "distance", "volts", "alarm", "at"),
    CheckEvent: ("kind", "at"),
    Swath: ("said", "area", "lane", "started_at", "ended_at", "standing", "feature",
            "along"),
    Flaw: ("number", "said", "x", "y", "give_or_take", "size_x", "size_y", "depth", "found_by", "note"),
}  # fmt: skip
FORMS: dict[str, Callable[[FieldSheet], bytes]] = {
    "csv": sheet_csv,
    "xlsx": lambda sheet: sheet_workbook(sheet).read(),
}


def recorded() -> Scene:
    """A sheet with two runs, one of them cut by a bad check, text like formulas, and something struck out."""
    scene = pipe_scene(start=-10.0, end=10.0)
    scene.clock = scene.clock.replace(second=0)
    scene.do("record_permit", scene.crew, scene.coating, number="HW-204", gas_reading="=0 % LEL", tester="Tove Lind",
             expires_at="2031-01-01T00:00:00Z")  # fmt: skip
    scene.do("record_atmosphere", scene.crew, scene.coating, air=18.5, humidity=60, steel=[17, 17.5],
             steel_at=["north / south; under", '6" nozzle'])  # fmt: skip
    scene.do("hold_briefing", scene.crew, scene.asset, people=["@Ines", "Tove Lind / gas"], gone_through=True)
    crest = scene.do("register_instrument", scene.lead, scene.detector.organisation, kind="crest voltmeter",
                     name="Crest", serial="V-9")  # fmt: skip
    run = scene.open_run(thickness="20 mil", sweeper="@Ines")
    scene.sweep(run, "-0+010.00 to 0+002.00, lane 1 of 7, 0.50 m wide", lane="lane 1 of 7")
    scene.flaw(run, "-0+004.00 @ 3:00", size_x="60 mm", depth="20 mil", note="+ beside the weld")
    weld = scene.do("add_feature", scene.lead, scene.zone, kind="weld", name="W-1", place="0+003.00, all around")
    scene.do("sweep_feature", scene.crew, run, feature=str(weld.pk), part="0.40 to 2.20 m")
    scene.do("strike_flaw", scene.lead, scene.flaw(run, "-0+003.00 @ 3:00"), why="typed twice")
    scene.check(run, voltmeter=str(crest.pk))
    scene.do("touch_concrete", scene.crew, run, said="-by the kerb", distance=4, volts=2500, alarm=True)
    scene.do("report_event", scene.crew, run, kind="battery")
    scene.sweep(run, "0+002.00 to 0+004.00")
    scene.check(run, phase="event")
    scene.flaw(run, "0+003.00 @ 6:00", kind="indication")
    scene.close(run)
    low = scene.open_run()
    scene.sweep(low, "0+004.00 to 0+008.00", island="north")
    scene.check(low, measured=1500, note="battery nearly empty")
    scene.close(low)
    scene.do("record_spot", scene.crew, scene.sheet, place="0+002.00 @ 12:00", readings=["510 µm", "20 mil"])
    scene.hand_in()
    return scene


def next_coating(scene: Scene) -> Coating:
    scene.do("end_coating", scene.owner, scene.coating, why="strip and recoat")
    given = {"specification": str(scene.specification.pk), "begun_at": scene.coating.begun_at.isoformat()}
    return perform("begin_coating", scene.owner, scene.zone.pk, given).made


def facts(model: type[Any], coating: Coating) -> list[tuple[Any, ...]]:
    """The rows that count, times to the second as the format has them."""
    path = "sheet__coating" if model in (Run, Flaw) else "run__sheet__coating"
    rows = model.objects.filter(**{path: coating}, struck_at=None).values_list(*FACTS[model])
    return sorted((tuple(map(_told, row)) for row in rows), key=repr)


def _told(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.replace(microsecond=0)
    return round(value, 9) if isinstance(value, float) else value


@pytest.mark.parametrize("form", FORMS)
def test_a_sheet_that_was_taken_along_says_the_same_when_it_is_imported(form: str) -> None:
    scene = recorded()
    content = FORMS[form](scene.sheet)
    other = next_coating(scene)

    file = SimpleUploadedFile(f"sheet.{form}", content)
    perform("import_sheet", scene.crew, other.pk, {"file": file})

    for model in FACTS:
        assert facts(model, other) == facts(model, scene.coating), model.__name__
    kinds = [
        sorted(
            (flaw.number, flaw.kind_now)
            for flaw in with_status(Flaw.objects.filter(sheet__coating=each, struck_at=None))
        )
        for each in (scene.coating, other)
    ]
    assert kinds[0] == kinds[1]
    grounds = [
        shapely.union_all([row.found for row in Coverage.objects.filter(coating=each) if row.found])
        for each in (scene.coating, other)
    ]
    assert shapely.symmetric_difference(*grounds).area < 1e-6
    assert grounds[0].area > 1
    airs = [list(each.atmospheres.values_list("air", "steel", "steel_at")) for each in (scene.coating, other)]
    assert airs[0] == airs[1]
    spots = [list(each.spots.values_list("said", "readings", "mean")) for each in (scene.coating, other)]
    assert spots[0] == spots[1]


def test_the_briefing_of_the_day_is_the_same_one_when_it_comes_back() -> None:
    scene = recorded()
    other = next_coating(scene)

    perform("import_sheet", scene.crew, other.pk, {"file": SimpleUploadedFile("sheet.csv", sheet_csv(scene.sheet))})

    briefing = Briefing.objects.get()
    assert [each.name for each in briefing.attendees.order_by("name")] == ["@Ines", "Tove Lind / gas"]


def test_what_was_struck_out_is_not_in_the_file() -> None:
    lines = read_sheet(sheet_csv(recorded().sheet)).lines

    assert [line.cell("no") for line in lines if line.what == "flaw"] == ["1", "3"]


def test_a_sheet_that_is_still_out_can_be_taken_along() -> None:
    scene = pipe_scene()
    scene.sweep(scene.open_run(), "1+001.00 to 1+002.00")

    lines = read_sheet(sheet_csv(scene.sheet)).lines

    assert [line.what for line in lines] == ["atmosphere", "run", "return", "check", "swept"]
