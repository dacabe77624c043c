"""A whole life of one zone of every kind of surface: swept lane by lane, a flaw over the seam, repaired, retested,
released, printed; and every page on the way."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import pi, sqrt
from zoneinfo import ZoneInfo

import pypdfium2 as pdfium
import pytest
from django.test import Client
from django.urls import reverse

from inspections.pages.flaws import from_landmarks
from inspections.pages.runs import bays_of, lane_rows
from inspections.terms import HolidayLimit
from mapping.axes import Gridline, print_gridline, spoken
from mapping.surfaces import KINDS
from mapping.surfaces.cone import Cone
from mapping.surfaces.deck import Corner, Deck
from mapping.surfaces.disk import Annulus, Disk
from mapping.surfaces.local import Bend, Head, Sphere
from mapping.surfaces.panel import Panel
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Surface
from mapping.surfaces.strake import Strake
from repairs.dossier import Reader, dossier_of
from repairs.picture import zone_picture
from tests.scenes import Scene, scene_of

pytestmark = [pytest.mark.django_db, pytest.mark.once]

SMALL: dict[str, Surface] = {
    "pipe": Pipe(start=1000, end=1006, diameter=1),
    "strake": Strake(number=2, height=1.2, diameter=3, plates=(10.0, 190.0), face="inside"),
    "disk": Disk(diameter=3),
    "annulus": Annulus(diameter=6, inner_diameter=5),
    "cone": Cone(diameter=3, height=2),
    "deck": Deck(
        letters=(0.0, 2.0, 5.0), numbers=(0.0, 3.0), numbers_run="down",
        corners=(Corner(0, 0), Corner(5, 0.4), Corner(5.3, 3.2), Corner(0.2, 2.9)),
    ),
    "panel": Panel(width=3, height=2),
    "bend": Bend(start=100, end=102, circumference=1.0, stated=6.0),
    "head": Head(diameter=2 * (7 / 3.141592653589793) ** 0.5, reach=1.6, stated=7.0),
    "sphere": Sphere(stated=20.0),
}  # fmt: skip
"""One zone of every kind, small enough to be swept in a test."""

FLAWS = {
    "pipe": "1+003.00 @ 12:00", "strake": "strake 2, 0.00 deg, 0.60 m up", "disk": "0.00 deg, r 0.90 m",
    "annulus": "0.00 deg, r 2.75 m", "cone": "0.00 deg, slant 1.20 m", "deck": "B-1 +0.40 +1.10", "panel": "x 1.20 y 0.40",
    "bend": "0+101.00 @ 12:00", "head": "0.00 deg, r 0.60 m", "sphere": "0.00 deg, 1.90 m up",
}  # fmt: skip
SPOKEN = {"pipe", "bend"}
every_kind = pytest.mark.parametrize("kind", SMALL)


def test_there_is_one_of_every_kind() -> None:
    assert set(SMALL) == set(FLAWS) == set(KINDS)


def swept(scene: Scene) -> None:
    """Every strip of every bay, and one flaw where the surface has its seam."""
    run = scene.open_run()
    for bay in bays_of(scene.zone):
        for row in lane_rows(run, scene.zone.surface, bay):
            scene.sweep(run, row.said)
    scene.flaw(run, FLAWS[scene.zone.surface_kind])
    scene.close(run)


@every_kind
def test_a_zone_is_swept_repaired_retested_released_and_printed(kind: str) -> None:
    scene = scene_of(SMALL[kind], kind, holiday_limit=HolidayLimit("1", "1"))
    swept(scene)
    found = zone_picture(scene.coating)
    assert found.found.full, found.found.words
    assert found.found.tested_m2 == pytest.approx(scene.zone.surface.outline.area, rel=1e-4)
    assert found.counted == 1

    (patch,) = scene.issue()
    assert patch.area == pytest.approx(0.04, rel=0.01)  # the specified 0.1 m on each side of a point
    scene.repair(patch)
    scene.retest(patch)
    scene.hand_in()

    picture = zone_picture(scene.coating)
    assert [gate.code for gate in picture.gates if gate.state == "red"] == []
    scene.release()
    document = dossier_of(scene.coating, Reader("Noor Falk", "si", ZoneInfo("UTC")), datetime(2025, 6, 1, tzinfo=UTC))
    text = " ".join(page.get_textpage().get_text_bounded() for page in pdfium.PdfDocument(document))
    words = " ".join(text.split())
    assert FLAWS[kind] in words
    if kind not in SPOKEN:
        assert "chainage" not in words.lower()
        assert "o'clock" not in words


@every_kind
def test_every_page_of_the_work_shows_the_zone_in_its_own_words(kind: str) -> None:
    scene = scene_of(SMALL[kind], kind)
    surface = scene.zone.surface
    middle = surface.outline.representative_point()
    first = print_gridline(surface, Gridline(0, spoken(surface, middle.x, middle.y)[0]))
    zone = "" if kind in SPOKEN else str(scene.zone.pk)
    scene.do("add_landmark", scene.crew, scene.asset, kind="seam", name="S 1", zone=zone or None, at=first)
    run = scene.open_run()
    scene.sweep(run, "whole zone")
    flaw = scene.flaw(run, FLAWS[kind])
    (patch,) = scene.issue()
    client = Client()
    client.force_login(scene.crew)
    for name, pk in (
        ("zone", scene.zone.pk), ("run", run.pk), ("report_flaw", run.pk), ("flaw", flaw.pk), ("patch", patch.pk),
        ("work_pack", scene.zone.pk), ("asset", scene.asset.pk), ("sheet", scene.sheet.pk),
    ):  # fmt: skip
        answer = client.get(reverse(name, args=[pk]))
        assert answer.status_code == 200, name
        if kind not in SPOKEN:
            seen = answer.content.decode().lower()
            assert "chainage" not in seen, name
            assert "clock position" not in seen, name
        if surface.distance_note and name in ("zone", "run", "flaw", "patch"):
            assert surface.distance_note in answer.content.decode(), name
    assert len(from_landmarks(scene.zone, flaw.x, flaw.y)) == 1


HANDBOOK = {
    "pipe": 6 * pi * 1,  # cylinder: 2 pi r h
    "strake": 1.2 * pi * 3,
    "disk": pi * 3**2 / 4,
    "annulus": pi * (6**2 - 5**2) / 4,
    "cone": pi * 1.5 * sqrt(1.5**2 + 2**2),  # lateral surface: pi r s
    "deck": 14.305,  # Gauss's formula by hand: (0*0.4-5*0 + 5*3.2-5.3*0.4 + 5.3*2.9-0.2*3.2 + 0.2*0-0*2.9) / 2
    "panel": 6.0,
    "bend": 6.0, "head": 7.0, "sphere": 20.0,  # as stated
}  # fmt: skip
"""m2. Areas of solids and of a polygon by its corners: Bronshtein and Semendyayev, Handbook of Mathematics (from memory)."""


@every_kind
def test_the_area_of_a_zone_is_that_of_the_handbook(kind: str) -> None:
    surface = SMALL[kind]
    assert surface.area == pytest.approx(HANDBOOK[kind])
    assert surface.outline.area == pytest.approx(HANDBOOK[kind], rel=1e-4)


@every_kind
def test_steps_along_both_axes_are_said_in_the_zones_own_words(kind: str) -> None:
    scene = scene_of(SMALL[kind], kind)
    client = Client()
    client.force_login(scene.crew)
    place = scene.zone.surface.read_place(FLAWS[kind])
    first, second = spoken(scene.zone.surface, *place)

    answer = client.get(reverse("place_words", args=[scene.zone.pk]), {"first": first, "second": second})

    assert answer.json()["said"].startswith(FLAWS[kind])


@every_kind
def test_a_field_sheet_of_each_kind_is_imported(kind: str) -> None:
    scene = scene_of(SMALL[kind], kind)
    day = scene.clock + timedelta(days=1)
    place = FLAWS[kind]
    sheet = "\n".join(
        [
            "what;value", f"zone;{kind}", "sheet;Q", f"date;{day:%Y-%m-%d}", "units;volts V, film µm, size mm",
            "what;run;time;sweeper;instrument;electrode;set;cautions",
            f"run;1;6:30;Tomas Brandt;{scene.detector.serial};{scene.electrode.name};2500;yes",
            "what;no;time;until;place;measured;alarm;phase;kind",
            "return;;6:35;;bare edge", "check;;6:40;;;2500;yes;opening", "swept;;6:40;8:40;whole zone",
            f"flaw;1;7:20;;{place};;;;pinhole", "check;;8:45;;;2500;yes;closing", "close;;8:50",
        ]
    )  # fmt: skip

    scene.do("import_sheet", scene.crew, scene.coating, text=sheet)

    picture = zone_picture(scene.coating)
    assert picture.found.full
    assert [flaw.said for flaw in picture.flaws] == [place]
