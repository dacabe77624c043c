"""The printed dossier, read back by another program's PDF reader (PDFium)."""

from __future__ import annotations

import hashlib
import json
import re
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pypdfium2 as pdfium
import pypdfium2.raw as pdfium_c
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.record import Head, Record
from inspections.flaws import Flaw
from inspections.terms import Stage
from repairs.dossier import Reader, StillMoving, dossier_of
from repairs.dossier.lettering import FOLDER
from repairs.dossier.papers import papers_of
from repairs.picture import ZonePicture, zone_picture
from tests.scenes import Scene, pipe_scene, releasable_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]

PRINTED_AT = datetime(2025, 4, 1, 15, 0, tzinfo=UTC)
READER = Reader("Noor Falk", "si", ZoneInfo("America/Denver"))


def printed(scene: Scene, reader: Reader = READER) -> bytes:
    return dossier_of(scene.coating, reader, PRINTED_AT)


def pages_of(document: bytes) -> list[str]:
    """The text of each page, every run of white space as one blank."""
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in pdfium.PdfDocument(document)]


def text_of(document: bytes) -> str:
    return " ".join(pages_of(document))


def picture_of(scene: Scene) -> ZonePicture:
    return zone_picture(scene.coating, at=PRINTED_AT, spoken=READER.spoken)


def eventful_scene() -> Scene:
    """Swept in part: flaws of every status, a run struck out, lost ground, exclusions, a failed retest."""
    scene = pipe_scene(thickness_rule="SSPC-PA 2", thickness_level=3, notes="Weld caps are swept twice.")
    scene.do("add_landmark", scene.crew, scene.asset, kind="girth weld", name="GW 17", at="1+006.00")
    scene.do("record_atmosphere", scene.crew, scene.coating, air="18 °C", humidity="60 %", steel=["17 °C"])
    scene.do(
        "record_permit", scene.crew, scene.coating, number="HW-204", gas_reading="0 % LEL", tester="Tove Lind",
        expires_at="2025-12-31T00:00:00Z",
    )  # fmt: skip
    excluded = scene.do(
        "draw_exclusion", scene.crew, scene.zone, place="1+019.00 to 1+020.00", reason="under the saddle"
    )
    scene.do("decide_exclusion", scene.owner, excluded, accepted=True)
    scene.do("draw_exclusion", scene.crew, scene.zone, place="1+018.50 to 1+019.00", reason="behind the bracket")

    mistaken = scene.survey("1+000.00 to 1+002.00")
    scene.do("strike_run", scene.lead, mistaken, why="wrong electrode noted")
    survey = scene.open_run()
    scene.sweep(survey, "1+000.00 to 1+012.00")
    flaws = [scene.flaw(survey, place) for place in ("1+004.00 @ 3:00", "1+008.00 @ 6:00", "1+010.00 @ 9:00")]
    scene.flaw(survey, "1+011.00 @ 1:00", kind="false indication")
    scene.do("strike_flaw", scene.lead, scene.flaw(survey, "1+011.50 @ 2:00"), why="typed twice")
    scene.do("report_event", scene.crew, survey, kind="battery")
    scene.close(survey)
    low = scene.open_run()
    scene.sweep(low, "1+012.00 to 1+015.00")
    scene.check(low, measured=1500)
    scene.close(low)
    for place in range(5):
        scene.do(
            "record_spot", scene.crew, scene.sheet, place=f"1+00{place}.50 @ 12:00", readings=["510", "530", "505"]
        )

    first, second, third = scene.issue(*flaws)
    scene.repair(first)
    scene.retest(first)
    scene.repair(second)
    scene.retest(second, "failed")
    scene.do("concede", scene.owner, scene.coating, patch=str(third.pk), reason="Below the water line in service.")
    return scene


def test_it_opens_with_the_verdict_and_the_figures_of_the_picture() -> None:
    scene = eventful_scene()
    picture = picture_of(scene)

    front = pages_of(printed(scene))[0]

    assert picture.sentence in front
    assert picture.left is not None
    for area in (
        picture.true_m2,
        picture.testable_m2,
        picture.found.tested_m2,
        picture.left.gap_m2,
        picture.left.lost_m2,
    ):
        assert READER.area(area) in front
    assert picture.contract is not None
    assert picture.contract.arithmetic in front
    assert "under the saddle: 3.1 m²" in front
    assert picture.density_found is not None
    assert f"{100 * picture.density_found.per_m2:.2f} flaws per 100 m²" in front


def test_it_lists_every_flaw_with_its_place_status_and_why_it_does_not_count() -> None:
    scene = eventful_scene()

    words = text_of(printed(scene))

    for flaw in picture_of(scene).flaws:
        assert flaw.tag in words
        assert flaw.said in words
        assert str(flaw.status.label) in words
        assert flaw.why_not in words


def test_it_names_instrument_certificate_voltage_band_and_people_of_a_run() -> None:
    words = text_of(printed(eventful_scene()))

    for said in (
        "Detector, serial D-1",
        "C-1, issued 1 Jan 2025, due 1 Jan 2030",
        "2500 V, ✓ inside the band",
        "2250 V to 2750 V by Marlow Water MW-14, edition 2",
        "500 µm as specified",
        "Ines Holt",
        "return proven: bare end of the spool",
        "event: battery changed",
        "▼ low, alarm on a bare spot",
    ):
        assert said in words


def test_a_run_that_was_struck_out_is_in_with_who_and_why() -> None:
    scene = eventful_scene()

    words = text_of(printed(scene))

    assert "Run A-1: survey, finished system" in words
    assert re.search(rf"Struck out \d+ \w+ \d{{4}} \d\d:\d\d by {scene.lead.name}: wrong electrode noted", words)


def test_a_check_that_was_struck_out_keeps_its_line_with_who_and_why() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    scene.do("strike_verification", scene.lead, scene.check(run, measured=2400), why="read off the wrong scale")

    words = text_of(printed(scene))

    assert "2400 V measured" in words
    assert f"struck out by {scene.lead.name}: read off the wrong scale" in words


def test_ground_restored_by_evidence_names_who_what_and_the_file() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    scene.sweep(run, "1+000.00 to 1+010.00")
    scene.check(run, measured=1500)
    photo = SimpleUploadedFile("late check.jpg", b"a photo", content_type="image/jpeg")
    scene.do("reinstate", scene.lead, run, grounds="late check", why="Checked again at noon: 2500 V.", file=photo)

    words = text_of(printed(scene))

    assert (
        "stands again, 1 of 1 swath, by a late check made before any adjustment. Checked again at noon: 2500 V."
        in words
    )
    assert hashlib.sha256(b"a photo").hexdigest() in words.replace(" ", "")


def test_lost_ground_and_gaps_are_listed_with_place_and_size() -> None:
    scene = eventful_scene()

    words = text_of(printed(scene))

    for part in picture_of(scene).ground.parts:
        assert f"{part.kind} {part.said} {READER.area(part.area_m2)}" in words


def test_patches_carry_their_steps_retests_and_concessions() -> None:
    words = text_of(printed(eventful_scene()))

    assert "✓ retest passed" in words
    assert "▼ retest failed" in words
    assert "coat 1, primer" in words
    assert "conceded Patch 3. Below the water line in service." in words


def test_exclusions_are_printed_with_the_word_of_the_owner() -> None:
    scene = eventful_scene()

    words = text_of(printed(scene))

    assert f"accepted by {scene.owner.name}" in words
    assert "behind the bracket" in words
    assert "waits for the owner" in words


def test_conditions_of_a_release_and_its_withdrawal_are_printed() -> None:
    scene = releasable_scene()
    scene.release("inspect again within a year")
    scene.do("withdraw_release", scene.owner, scene.coating, why="a leak was reported")

    words = text_of(printed(scene))

    assert "Conditions: inspect again within a year" in words
    assert f"Withdrawn by {scene.owner.name}: a leak was reported" in words


def test_the_head_of_the_record_stands_on_every_page() -> None:
    scene = eventful_scene()
    head = Record.objects.get(pk=scene.asset.pk).head

    pages = pages_of(printed(scene))

    assert all(f"record at entry {head.seq}, sha256 {head.digest}" in page for page in pages)


def test_every_page_says_its_number_and_how_many_there_are() -> None:
    pages = pages_of(printed(eventful_scene()))

    assert len(pages) > 2
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page


def test_every_page_names_asset_zone_coating_and_specification() -> None:
    scene = eventful_scene()

    for page in pages_of(printed(scene)):
        assert f"{scene.asset.name} · {scene.zone.name}" in page
        assert f"Coating 1 · {scene.specification}" in page


def test_it_has_a_title_and_bookmarks_for_its_sections() -> None:
    scene = eventful_scene()

    document = pdfium.PdfDocument(printed(scene))

    assert document.get_metadata_dict()["Title"] == f"Dossier of Spool 1, {scene.asset.name}"
    names = [mark.get_title() for mark in document.get_toc()]
    assert {"Map", "Gates", "Flaws", "Patches", "Test runs", "Cautions"} <= set(names)


def test_cautions_and_what_it_never_authorises_are_printed() -> None:
    words = text_of(printed(eventful_scene()))

    assert "Nobody with a pacemaker or another implanted device" in words
    assert "Barespot never authorises entry or work." in words


def test_values_from_memory_say_so() -> None:
    assert "counts from public summaries, restriction levels from memory" in text_of(printed(eventful_scene()))


def test_the_time_of_printing_names_its_time_zone() -> None:
    assert "1 April 2025, 09:00:00 MDT (UTC−06:00, America/Denver)" in pages_of(printed(eventful_scene()))[0]


def test_the_map_is_drawn_as_vectors_and_says_from_where_it_is_seen() -> None:
    scene = eventful_scene()

    document = pdfium.PdfDocument(printed(scene))

    drawn = [thing.type for page in document for thing in page.get_objects()]
    assert pdfium_c.FPDF_PAGEOBJ_PATH in drawn
    assert pdfium_c.FPDF_PAGEOBJ_IMAGE not in drawn
    assert scene.zone.surface.seen_from in text_of(printed(scene))


def test_a_short_and_wide_zone_has_its_map_on_one_page() -> None:
    scene = pipe_scene(start=1000.0, end=1002.0, diameter=6.0)

    (page,) = (page for page in pages_of(printed(scene)) if "true scale" in page)

    assert {"12:00", "3:00", "6:00", "9:00", "1+000.00"} <= set(page.split())


def test_a_long_zone_has_its_rows_on_as_many_pages_as_they_need() -> None:
    scene = pipe_scene(start=1000.0, end=3000.0, diameter=1.0)

    rows = [word for page in pages_of(printed(scene)) for word in re.findall(r"[12]\+\d{3}\.\d\d", page)]

    assert {"1+000.00", "2+000.00", "2+900.00"} <= set(rows)


def test_the_same_record_reader_and_moment_give_the_same_bytes() -> None:
    scene = eventful_scene()

    assert printed(scene) == printed(scene)


def test_free_text_is_never_taken_for_markup() -> None:
    scene = pipe_scene(notes='<b>&"</para> <font size=40>')
    run = scene.open_run(sweeper='<i>Mo</i> & "Bo"')
    scene.sweep(run, "1+000.00 to 1+001.00")
    scene.do("strike_run", scene.lead, run, why="<u>no</u> &amp; nothing")

    words = text_of(printed(scene))

    assert '<b>&"</para> <font size=40>' in words
    assert '<i>Mo</i> & "Bo"' in words
    assert "<u>no</u> &amp; nothing" in words


def test_the_longest_name_of_a_coat_stage_is_printed_whole_in_the_heading() -> None:
    stage = Stage("s" * 60, 500.0, 400.0)
    scene = pipe_scene(stages=(stage,))
    scene.survey("1+000.00 to 1+001.00")

    words = "".join(text_of(printed(scene)).split())

    assert f"RunA-1:survey,{'s' * 60}" in words


def test_a_word_of_5000_letters_is_broken_over_lines_and_pages_and_kept_whole() -> None:
    scene = pipe_scene(notes="x" * 5000)
    excluded = scene.do("draw_exclusion", scene.crew, scene.zone, place="1+000.00 to 1+001.00", reason="z" * 200)
    scene.do("decide_exclusion", scene.owner, excluded, accepted=False, why="w" * 5000)

    words = "".join(text_of(printed(scene)).split())

    assert len(re.findall("w{20,}", words)) > 1
    assert sum(len(found) for found in re.findall("w{20,}", words)) > 4900
    assert sum(len(found) for found in re.findall("x{20,}", words)) > 4900


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("Łukasz Świątek", "Łukasz Świątek"),
        ("Ирина Ковальчук", "Ирина Ковальчук"),
        ("李明", "[U+674E U+660E]"),
        ("نور", "[U+0646 U+0648 U+0631]"),
        ("דנה Bar", "[U+05D3 U+05E0 U+05D4] Bar"),
        ("A\u202eB", "A[U+202E]B"),
    ],
)
def test_names_in_any_script_are_shown_or_spelled_by_number(name: str, shown: str) -> None:
    scene = pipe_scene()
    scene.do("draw_exclusion", scene.crew, scene.zone, place="1+000.00 to 1+001.00", reason=name)

    assert shown in text_of(printed(scene))


def test_the_letters_that_travel_along_are_those_of_the_manifest() -> None:
    (entry,) = json.loads((FOLDER.parent / "manifest.json").read_text())

    for name, digest in entry["sha256"].items():
        assert hashlib.sha256((FOLDER.parent / name).read_bytes()).hexdigest() == digest


def test_600_flaws_are_all_listed() -> None:
    scene = pipe_scene()
    run = scene.survey()
    add_flaws(scene, run, 600)

    words = text_of(printed(scene))

    assert {f"A{number:02d}" for number in range(1, 601)} <= set(words.split())


def test_the_number_of_queries_does_not_depend_on_how_much_was_recorded() -> None:
    scene = eventful_scene()
    few = queries_of(scene)
    run = scene.survey("1+015.00 to 1+016.00", flaws=["1+015.10 @ 3:00", "1+015.70 @ 3:00"])
    scene.do("strike_flaw", scene.lead, scene.flaw(run, "1+015.50 @ 2:00"), why="typed twice")
    scene.do("draw_exclusion", scene.crew, scene.zone, place="1+017.00 to 1+017.50", reason="behind the bracket")
    add_flaws(scene, run, 10)
    for patch in scene.issue():
        scene.repair(patch)
        scene.retest(patch)

    assert queries_of(scene) == few


def test_a_record_that_grows_while_it_is_read_is_read_again(monkeypatch: pytest.MonkeyPatch) -> None:
    scene = pipe_scene()
    read = papers_of
    times = []

    def read_late(coating):  # type: ignore[no-untyped-def]
        if not times:
            scene.do(
                "draw_exclusion", scene.crew, scene.zone, place="1+000.00 to 1+001.00", reason="behind the bracket"
            )
        times.append(1)
        return read(coating)

    monkeypatch.setattr("repairs.dossier.papers_of", read_late)
    words = text_of(printed(scene))

    assert len(times) == 2
    assert "1 exclusion waits for the owner" in words


def test_a_record_that_never_comes_to_rest_is_not_printed(monkeypatch: pytest.MonkeyPatch) -> None:
    scene = pipe_scene()
    heads = (Head(seq, "") for seq in range(1000))
    monkeypatch.setattr("repairs.dossier.head_of", lambda coating: next(heads))

    with pytest.raises(StillMoving, match="grew while it was read, 20 times over"):
        printed(scene)


def test_a_reader_in_us_units_has_feet_and_mils_on_letter_paper() -> None:
    scene = eventful_scene()

    document = printed(scene, Reader("Noor Falk", "us", ZoneInfo("America/Denver")))

    words = text_of(document)
    assert "676 ft²" in words
    assert "19.7 mil" in words
    assert pdfium.PdfDocument(document)[0].get_size() == (612, 792)


def queries_of(scene: Scene) -> int:
    with CaptureQueriesContext(connection) as queries:
        printed(scene)
    return len(queries)


def add_flaws(scene: Scene, run, count: int) -> None:  # type: ignore[no-untyped-def]
    """Flaws straight into the table, in a spiral over the zone."""
    surface = scene.zone.surface
    first = (scene.sheet.flaws.order_by("-number").values_list("number", flat=True).first() or 0) + 1
    rows = []
    for number in range(count):
        x, y = 1000.0 + 20.0 * (number + 0.5) / count, (number * 0.37) % surface.period
        rows.append(
            Flaw(
                sheet=scene.sheet, run=run, number=first + number, said=surface.print_place(x, y), x=x, y=y,
                found_at=scene.clock, sheet_seq=1000 + number, by=scene.crew,
            )
        )  # fmt: skip
    Flaw.objects.bulk_create(rows)


@pytest.fixture
def signed_in() -> tuple[Scene, Client]:
    scene = pipe_scene()
    client = Client()
    client.force_login(scene.observer)
    return scene, client


def test_an_observer_downloads_it_under_the_name_of_the_zone(signed_in: tuple[Scene, Client]) -> None:
    scene, client = signed_in

    answer = client.get(reverse("dossier", args=[scene.zone.pk]))

    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")
    assert answer["Content-Disposition"].startswith(f'attachment; filename="{scene.asset.name}, Spool 1, dossier ')
    assert "no-store" in answer["Cache-Control"]
    assert "private" in answer["Cache-Control"]


def test_the_name_of_the_file_is_told_in_ascii_and_in_full(signed_in: tuple[Scene, Client]) -> None:
    scene, client = signed_in
    scene.zone.name = 'Süd "1"\r\nX: y 李'
    scene.zone.save(update_fields=["name"])

    disposition = client.get(reverse("dossier", args=[scene.zone.pk]))["Content-Disposition"]

    assert disposition.isascii()
    assert ", Sud 1 X y , dossier" in disposition
    assert "S%C3%BCd%20" in disposition
    assert "%E6%9D%8E" in disposition
    assert "\n" not in disposition


def test_a_zone_of_others_does_not_exist(signed_in: tuple[Scene, Client]) -> None:
    _, client = signed_in
    other = pipe_scene()

    assert client.get(reverse("dossier", args=[other.zone.pk])).status_code == 404


def test_without_sign_in_there_is_no_dossier(signed_in: tuple[Scene, Client]) -> None:
    scene, _ = signed_in

    assert Client().get(reverse("dossier", args=[scene.zone.pk])).status_code == 302


def test_printing_writes_nothing_into_the_record(signed_in: tuple[Scene, Client]) -> None:
    scene, client = signed_in
    before = Record.objects.get(pk=scene.asset.pk).head

    client.get(reverse("dossier", args=[scene.zone.pk]))

    assert Record.objects.get(pk=scene.asset.pk).head == before


def test_the_thickness_map_is_printed_with_its_limits_where_spots_were_taken() -> None:
    scene = pipe_scene(thickness_rule="SSPC-PA 2", thickness_level=3)
    readings = ["300", "300", "300"]
    scene.do("record_spot", scene.crew, scene.sheet, place="1+002.00 @ 3:00", readings=readings)
    text = " ".join(pages_of(printed(scene)))
    assert "Thickness map" in text
    # Level 3 of SSPC-PA 2, from memory: a spot needs 80 % of the specified minimum, 400 µm.
    assert "thin: below 320 µm" in text
    assert "Nothing is interpolated between spots." in text


def test_a_zone_without_spots_prints_no_thickness_map() -> None:
    assert "Thickness map" not in " ".join(pages_of(printed(pipe_scene())))
