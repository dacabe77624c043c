"""The document of a whole asset, read back by another program's PDF reader (PDFium)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from io import BytesIO
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import pypdfium2 as pdfium
import pytest
from django.conf import settings
from django.db import transaction
from django.utils.translation import override
from reportlab.platypus import Flowable

from accounts.record import Entry, Record
from repairs.dossier import Reader, StillMoving
from repairs.dossier import asset as asset_module
from repairs.dossier.asset import asset_dossier
from repairs.dossier.book import Chapter, Standing, write
from repairs.dossier.layout import paper_of
from repairs.picture import zone_picture
from tests.factories import AssetFactory
from tests.scenes import Scene, pipe_scene, releasable_scene

pytestmark = pytest.mark.once

PRINTED_AT = datetime(2025, 4, 1, 15, 0, tzinfo=UTC)
READER = Reader("Noor Falk", "si", ZoneInfo("America/Denver"))


def printed(scene: Scene, reader: Reader = READER) -> bytes:
    with asset_dossier(scene.asset, reader, PRINTED_AT) as file:
        return file.read()


def pages_of(document: bytes) -> list[str]:
    """The text of each page, every run of white space as one blank."""
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in pdfium.PdfDocument(document)]


class Full(Flowable):
    """Takes so much of a page's height (points), and shows nothing."""

    def __init__(self, high: float) -> None:
        super().__init__()
        self.width, self.height = 1.0, high

    def draw(self) -> None:
        return


class Told(NamedTuple):
    scene: Scene
    document: bytes
    pages: list[str]

    @property
    def words(self) -> str:
        return " ".join(self.pages)


@pytest.fixture(scope="module")
def told(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Told]:
    """A zone with flaws and repairs, one that is not swept, one without a coating; printed once for the module."""
    before, settings.MEDIA_ROOT = settings.MEDIA_ROOT, tmp_path_factory.mktemp("files")
    with django_db_blocker.unblock(), transaction.atomic():
        scene = pipe_scene()
        scene.do("add_landmark", scene.crew, scene.asset, kind="girth weld", name="GW 17", at="1+006.00")
        run = scene.survey("1+000.00 to 1+012.00", flaws=["1+004.00 @ 3:00", "1+008.00 @ 6:00"])
        (patch, _) = scene.issue(*run.flaws.all())
        scene.repair(patch)
        scene.retest(patch)
        for name, start in (("Spool 2", 1020), ("Spool 3", 1030)):
            made = scene.do("add_zone", scene.owner, scene.asset, name=name, surface_kind="pipe", face="outside",
                            surface={"diameter": 1, "start": start, "end": start + 10})  # fmt: skip
            if name == "Spool 2":
                scene.do("begin_coating", scene.owner, made, specification=str(scene.specification.pk),
                         begun_at="2025-03-03T08:00:00Z")  # fmt: skip
        document = printed(scene)
        yield Told(scene, document, pages_of(document))
        transaction.set_rollback(True)
    settings.MEDIA_ROOT = before


def test_it_opens_with_the_asset_s_sentence_and_the_caution(told: Told) -> None:
    front = told.pages[0]

    assert told.scene.asset.name in front
    assert "0 of 3 zones are released." in front
    assert "2 flaws open." not in front  # one of the two was repaired and retested
    assert "1 flaw open." in front
    assert "On 1 zone no coating has begun." in front
    assert "Barespot never authorises entry or work." in front


def test_every_zone_s_figures_are_those_of_its_own_picture(told: Told, db: None) -> None:
    picture = zone_picture(told.scene.coating, at=PRINTED_AT, spoken=READER.spoken)
    assert picture.left is not None
    assert picture.density_found is not None

    grounds = [picture.true_m2, 0.0, picture.testable_m2, picture.found.tested_m2, picture.left.tested_m2,
               picture.left.held_m2, picture.left.pending_m2, picture.left.lost_m2, picture.left.gap_m2]  # fmt: skip
    assert f"Spool 1 {' '.join(map(READER.area, grounds))}" in told.words
    low, high = (100 * bound for bound in picture.density_found.interval_per_m2)
    assert f"Spool 1 2 {100 * picture.density_found.per_m2:.2f} {low:.2f} to {high:.2f}" in told.words
    assert picture.sentence in told.words


def test_every_zone_has_a_chapter_with_its_name_at_the_top_of_its_pages(told: Told) -> None:
    for name in ("Spool 1", "Spool 2", "Spool 3"):
        (first, *_) = [page for page in told.pages if page.startswith(f"{told.scene.asset.name} · {name}")]
        assert first.count(name) > 1
    assert "No coating has begun on this zone." in told.words


def test_bookmarks_lead_to_sections_and_below_each_zone_to_its_own(told: Told) -> None:
    marks = [(mark.level, mark.get_title()) for mark in pdfium.PdfDocument(told.document).get_toc()]

    outer = [title for level, title in marks if level == 0]
    assert outer[:2] == ["The asset as one sees it", "Contents"]
    assert outer.index("Spool 1") < outer.index("Spool 2") < outer.index("Spool 3")
    assert {"All zones", "Setting out", "Landmarks", "Instruments and certificates", "People and their roles",
            "The record, and how to check it", "Cautions", "Limits"} <= set(outer)  # fmt: skip
    start = marks.index((0, "Spool 1"))
    inner = [title for level, title in marks[start + 1 : marks.index((0, "Spool 2"))] if level == 1]
    assert {"Map", "Gates", "Flaws", "Patches", "Test runs"} <= set(inner)


def test_the_contents_tell_the_page_of_each_heading_and_lead_there(told: Told) -> None:
    book = pdfium.PdfDocument(told.document)
    pages = {mark.get_title(): mark.get_dest().get_index() for mark in book.get_toc() if mark.level == 0}
    (contents,) = [page for page in told.pages if "Contents" in page.split()]

    for title in ("All zones", "Spool 2", "Cautions"):
        after = contents.partition(title)[2]
        assert int(re.search(r"\d+$|\d+(?= [A-Z])", after)[0]) == pages[title] + 1, title  # type: ignore[index]


def test_every_page_says_its_number_of_how_many_and_the_head_of_the_record(told: Told, db: None) -> None:
    head = Record.objects.get(pk=told.scene.asset.pk).head

    for number, page in enumerate(told.pages, 1):
        assert f"page {number} of" in page
        assert str(len(told.pages)) in page
        assert f"record at entry {head.seq}, sha256 {head.digest}" in page


def test_instruments_certificates_people_and_landmarks_are_named(told: Told) -> None:
    scene = told.scene

    for said in ("Detector, serial D-1", "C-1, 1 Jan 2025 to 1 Jan 2030", scene.owner.name, scene.painter.name,
                 scene.contractor.name, "girth weld GW 17 1+006.00"):  # fmt: skip
        assert said in told.words
    assert scene.owner.email not in told.words


def test_entries_of_the_record_are_printed_with_the_sha256_they_have(told: Told, db: None) -> None:
    last = Entry.objects.filter(record=told.scene.asset.pk).order_by("-seq").first()

    assert last is not None
    assert last.digest in told.words
    assert "barespot.1" in told.words


def test_setting_out_tells_the_arc_of_an_hour_on_the_pipe(told: Told) -> None:
    # Circumference of a circle: pi * diameter; 3.14159 m / 12 = 0.262 m.
    assert "3.14 m 0.262 m 0.0087 m" in told.words


def test_values_from_memory_are_listed_as_such(told: Told) -> None:
    assert "Written down from memory, without the standard at hand: 0.3 m/s (1 ft/s): NACE SP0188" in told.words


@pytest.mark.django_db
def test_the_same_record_reader_and_moment_give_the_same_bytes() -> None:
    scene = releasable_scene()

    assert printed(scene) == printed(scene)


@pytest.mark.django_db
def test_an_asset_without_zones_says_so() -> None:
    other = AssetFactory()

    with asset_dossier(other, READER, PRINTED_AT) as file:
        words = " ".join(pages_of(file.read()))

    assert "No zone yet" in words


@pytest.mark.django_db
def test_a_reader_in_us_units_gets_feet_on_letter_paper() -> None:
    document = printed(releasable_scene(), Reader("Noor Falk", "us", ZoneInfo("America/Denver")))

    assert pdfium.PdfDocument(document)[0].get_size() == (612.0, 792.0)
    assert "flaws per 1000 ft²" in " ".join(pages_of(document))


@pytest.mark.django_db
def test_what_is_told_in_another_language_keeps_the_figures() -> None:
    scene = releasable_scene()

    with override("es"):
        words = " ".join(pages_of(printed(scene)))

    assert READER.area(scene.zone.true_area) in words


@pytest.mark.django_db
def test_a_record_that_never_rests_is_not_printed(monkeypatch: pytest.MonkeyPatch) -> None:
    scene = pipe_scene()
    read = asset_module.papers_of

    def read_while_it_grows(coating: Any) -> Any:
        scene.do("draw_exclusion", scene.crew, scene.zone, place="1+000.00 to 1+001.00", reason="behind the bracket")
        return read(coating)

    monkeypatch.setattr(asset_module, "papers_of", read_while_it_grows)

    with pytest.raises(StillMoving):
        printed(scene)


def test_a_chapter_after_a_page_that_is_full_to_its_last_point_leaves_no_empty_page() -> None:
    paper, standing, file = paper_of("si"), Standing("Document", ("above", "also above"), "below"), BytesIO()

    write([Full(paper.room), Chapter(lambda: (standing, [Full(10)]))], paper, standing, file)

    assert len(pdfium.PdfDocument(file.getvalue())) == 2
