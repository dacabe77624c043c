"""What is taken along, read back by other programs' readers: Python's csv and zipfile, openpyxl, shapely."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any, NamedTuple

import openpyxl
import pytest
from django.conf import settings
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from shapely.geometry import shape

from accounts.record import Head, Record, digest_of
from inspections.flaws import Flaw
from inspections.runs import Swath
from repairs.exports import csvfile, plane, workbook
from repairs.exports.scope import Scope
from repairs.exports.tables import TABLES, Taken, tables_of, what_is_what
from repairs.state import with_state, with_status
from repairs.work import Patch
from tests.factories import AssetFactory
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.once

EVIL = '=HYPERLINK("http://example.test","x")'


class Told(NamedTuple):
    """A scene and what was taken of its asset."""

    scene: Scene
    csv: dict[str, list[dict[str, str]]]
    book: openpyxl.Workbook
    plane: dict[str, Any]


def eventful() -> Scene:
    """Negative figures, text that looks like formulas, something struck out, every table filled where a crew can."""
    scene = pipe_scene(start=-10.0, end=10.0)
    scene.do("record_atmosphere", scene.crew, scene.coating, air=-4.5, humidity=60, steel=[-3, -2.5])
    scene.do("record_permit", scene.crew, scene.coating, number="+HW-1", gas_reading="-0 % LEL", tester="Tove Lind",
             expires_at="2031-01-01T00:00:00Z")  # fmt: skip
    scene.do("add_landmark", scene.crew, scene.asset, kind="girth weld", name=EVIL, at="0+001.00")
    run = scene.open_run(sweeper="@Ines")
    scene.do("report_event", scene.crew, run, kind="battery")
    scene.check(run)
    scene.sweep(run, "-0+010.00 to 0+008.00")
    weld = scene.do("add_feature", scene.lead, scene.zone, kind="weld", name="W-1", place="0+003.00, all around")
    scene.do("sweep_feature", scene.crew, run, feature=str(weld.pk), part="0.40 to 2.20 m")
    flaw = scene.flaw(run, "-0+004.00 @ 3:00", note=EVIL, size_x="60 mm", size_y="25 mm")
    again = scene.flaw(run, "0+004.00 @ 6:00", kind="indication", note="#N/A")
    scene.do("classify_flaw", scene.crew, again, kind="crater")
    scene.do("strike_flaw", scene.lead, scene.flaw(run, "0+006.00 @ 1:00"), why="-typed twice")
    scene.do("strike_swath", scene.lead, scene.sweep(run, "0+008.00 to 0+009.00"), why="not swept")
    low = scene.do("record_spot", scene.crew, scene.sheet, place="0+002.00 @ 12:00", readings=["510 µm", "20 mil"])
    assert low.mean > 500
    scene.close(run)
    patch, *_ = scene.issue(flaw, again)
    scene.step(patch, "prepared", note="+ ground")
    scene.do("concede", scene.owner, scene.coating, patch=str(patch.pk), reason="=A1")
    excluded = scene.do("draw_exclusion", scene.crew, scene.zone, place="0+009.00 to 0+010.00", reason="-behind")
    scene.do("decide_exclusion", scene.owner, excluded, accepted=True)
    scene.do("record_disturbance", scene.crew, scene.coating, place="0+005.00 to 0+006.00", kind="grind")
    return scene


def read_csv(content: bytes) -> list[dict[str, str]]:
    csv.field_size_limit(10_000_000)  # a reader's default is below the longest entries of a record
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


@pytest.fixture(scope="module")
def told(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Told]:
    """One eventful scene for the whole module, and what was taken of it."""
    before, settings.MEDIA_ROOT = settings.MEDIA_ROOT, tmp_path_factory.mktemp("files")
    with django_db_blocker.unblock(), transaction.atomic():
        scene = eventful()
        scope = Scope(scene.asset)
        files = zipfile.ZipFile(io.BytesIO(b"".join(csvfile.archive(scope))))
        assert files.testzip() is None
        yield Told(
            scene,
            {name.removesuffix(".csv"): read_csv(files.read(name)) for name in files.namelist()},
            openpyxl.load_workbook(workbook.workbook(scope)),
            json.loads(b"".join(plane.collection(scope))),
        )
        transaction.set_rollback(True)
    settings.MEDIA_ROOT = before


def sheet_rows(told: Told, name: str) -> list[dict[str, Any]]:
    heads, *rows = told.book[name].iter_rows(values_only=True)
    return [dict(zip(heads, row, strict=True)) for row in rows]


def test_every_table_is_in_the_archive_and_in_the_workbook(told: Told) -> None:
    assert set(told.csv) == {*TABLES, "what-is-what"}
    assert told.book.sheetnames == ["what-is-what", *TABLES]


def test_both_forms_hold_the_same_rows_and_numbers(told: Told) -> None:
    for name in TABLES:
        rows = sheet_rows(told, name)
        assert len(rows) == len(told.csv[name]), name
        for row, text in zip(rows, told.csv[name], strict=True):
            for head, value in row.items():
                if isinstance(value, float | int) and not isinstance(value, bool):
                    assert float(text[head]) == value, (name, head)


def test_every_flaw_is_there_with_place_size_kind_and_status(told: Told, db: None) -> None:
    rows = {row["tag"]: row for row in sheet_rows(told, "flaws")}

    stored = with_status(Flaw.objects.filter(sheet__coating=told.scene.coating)).select_related("sheet")
    assert set(rows) == {flaw.tag for flaw in stored}
    for flaw in stored:
        row = rows[flaw.tag]
        assert (row["x (m)"], row["y (m)"]) == pytest.approx((flaw.x, flaw.y), abs=1e-6)
        assert (row["along x (m)"], row["along y (m)"]) == (flaw.size_x, flaw.size_y)
        assert (row["kind"], row["status"], row["place"]) == (flaw.kind_now, flaw.status, flaw.said)


def test_every_swath_is_there_with_its_standing_and_cause(told: Told, db: None) -> None:
    stored = {str(row.pk): row for row in Swath.objects.filter(run__sheet__coating=told.scene.coating)}

    assert {row["id"]: (row["standing"], row["cause"]) for row in told.csv["swaths"]} == {
        pk: (row.standing, row.cause) for pk, row in stored.items()
    }


def test_patches_carry_the_state_that_pages_show(told: Told, db: None) -> None:
    states = {patch.number: patch.state for patch in with_state(Patch.objects.filter(coating=told.scene.coating))}

    assert {row["patch"]: row["state"] for row in sheet_rows(told, "patches")} == states


def test_what_was_struck_out_is_in_with_who_and_why(told: Told) -> None:
    (row,) = (row for row in sheet_rows(told, "flaws") if row["struck out"])

    assert (row["struck out by"], row["struck out why"]) == (told.scene.lead.name, "-typed twice")


def test_text_that_would_be_run_has_an_apostrophe_in_csv(told: Told) -> None:
    first = told.csv["flaws"][0]

    assert first["note"] == f"'{EVIL}"
    assert first["place"] == "'-0+004.00 @ 3:00"
    assert told.csv["steps"][0]["note"] == "'+ ground"
    assert told.csv["runs"][0]["swept by"] == "'@Ines"


def test_no_cell_of_csv_begins_like_a_formula_but_numbers(told: Told) -> None:
    cells = [text for rows in told.csv.values() for row in rows for text in row.values() if text]

    dangerous = [text for text in cells if text[0] in "=+-@\t\r"]
    assert "-4.0" in dangerous  # x of the first flaw: a number stays one
    assert all(float(text) < 0 for text in dangerous)


def test_text_that_would_be_run_is_text_in_the_workbook(told: Told) -> None:
    cells = [cell for sheet in told.book for row in sheet.iter_rows() for cell in row if cell.value is not None]

    assert {cell.data_type for cell in cells} <= {"s", "n", "b"}
    assert [cell.value for cell in cells if cell.value == EVIL]
    assert all(cell.quotePrefix for cell in cells if str(cell.value)[:1] in "=+@" and cell.data_type == "s")


def test_an_error_s_name_that_was_typed_stays_text(told: Told) -> None:
    assert "#N/A" in [row["note"] for row in sheet_rows(told, "flaws")]


def test_negative_figures_stay_numbers_in_the_workbook(told: Told) -> None:
    assert -4.5 in [row["air (°C)"] for row in sheet_rows(told, "atmosphere")]
    assert min(row["x (m)"] for row in sheet_rows(told, "flaws")) == -4.0


def test_moments_are_iso_8601_by_the_asset_s_clock(told: Told, db: None) -> None:
    run = told.scene.runs[0]
    run.refresh_from_db()

    said = told.csv["runs"][0]["opened at"]

    assert datetime.fromisoformat(said) == run.opened_at.replace(microsecond=0)
    assert datetime.fromisoformat(said).utcoffset() == run.opened_at.astimezone(told.scene.asset.zone_info).utcoffset()


def test_readings_come_one_to_a_line_in_micrometres_and_as_given(told: Told) -> None:
    assert [(row["no"], row["reading (µm)"], row["as given"]) for row in sheet_rows(told, "readings")] == [
        (1, 510, "510 µm"),
        (2, 508, "20 mil"),
    ]


def test_a_weld_that_was_swept_in_part_says_which_metres_of_it(told: Told) -> None:
    (weld,) = sheet_rows(told, "features")
    (swept,) = (row for row in sheet_rows(told, "swaths") if row["feature"] == weld["name"])

    assert weld["length (m)"] == pytest.approx(3.14159, abs=1e-5)
    assert swept["along (m)"] == "0.400 to 2.200"


def test_the_chain_of_the_record_can_be_checked_from_the_file_alone(told: Told) -> None:
    previous = ""
    for row in told.csv["record"]:
        assert row["previous sha256"] == previous
        assert digest_of(previous, row["body"]) == row["sha256"]
        previous = row["sha256"]
    assert previous == Record.objects.get(pk=told.scene.asset.pk).head_hash


def test_the_first_sheet_says_where_the_record_stood_and_every_column(told: Told, db: None) -> None:
    rows = [[cell or "" for cell in row] for row in told.book["what-is-what"].iter_rows(values_only=True)]
    head = Record.objects.get(pk=told.scene.asset.pk).head

    assert ["record", f"at entry {head.seq}, sha256 {head.digest}", ""] in rows
    told_of = {(row[0], row[1]) for row in rows if len(row) > 2 and row[2]}
    assert {(table.name, column) for table in TABLES.values() for column in table.heads} <= told_of


def test_email_addresses_and_testers_of_permits_are_nowhere(told: Told) -> None:
    everything = json.dumps(told.csv) + json.dumps(told.plane)

    assert "@example" not in everything
    assert "Tove Lind" not in everything


def test_a_table_takes_one_query_however_long_it_is(told: Told, db: None) -> None:
    for scope in (Scope(told.scene.asset), Scope(told.scene.asset, told.scene.zone)):
        for table in tables_of(scope):
            with CaptureQueriesContext(connection) as taken:
                list(table.lines(scope))
            assert len(taken) == 1, table.name


def test_a_zone_s_tables_hold_its_own_rows_alone(told: Told, db: None) -> None:
    scene = told.scene
    other = scene.do("add_zone", scene.owner, scene.asset, name="Spool 2", surface_kind="pipe",
                     surface={"diameter": 1, "start": 1020, "end": 1030}, face="outside")  # fmt: skip
    scope = Scope(scene.asset, other)

    rows = {table.name: list(table.lines(scope)) for table in tables_of(scope)}

    assert [line[0] for line in rows.pop("zones")] == ["Spool 2"]
    assert not any(rows.values())


def test_what_the_work_was_done_with_is_in_with_its_certificates(told: Told) -> None:
    (detector,) = told.csv["instruments"]
    run, *_ = told.csv["runs"]

    assert (detector["serial"], detector["kind"]) == (run["serial"], "detector")
    assert run["certificate"] in {each["certificate"] for each in told.csv["certificates"]}
    assert [each["electrode"] for each in told.csv["electrodes"]] == [run["electrode"]]


def test_the_terms_of_a_specification_are_in_as_sentences(told: Told) -> None:
    asked = {(line["part"], line["term"]): line["asked"] for line in told.csv["terms"]}

    assert asked["Film and substrate", "Substrate"] == "steel"
    assert asked["Test and voltage", "Method"] == "high voltage, continuous DC, in air"
    assert asked["Coat stage 1", "finished system"].startswith("nominal 500 µm, least")


def test_methods_and_kinds_of_question_are_words_and_no_codes(told: Told) -> None:
    cells = {cell for name in ("runs", "briefings", "answers") for line in told.csv[name] for cell in line.values()}

    assert "high voltage, continuous DC" in cells
    assert not [cell for cell in cells if re.fullmatch(r"[a-z]+(_[a-z]+)+", cell)]


def test_the_first_sheet_says_how_places_are_spoken(db: None) -> None:
    asset = AssetFactory(station_equations=[[1225.0, 1250.0]], datum="=upstream valve")
    nothing = Taken(datetime.now(UTC), Head(0, ""), Head(0, ""))

    said = {line[0]: line[1] for line in what_is_what(Scope(asset), nothing) if len(line) == 2}

    assert said["chainage"].startswith("metric: 1+250.40")
    assert said["station equations"] == "1225.00 back = 1250.00 ahead"
    assert said["datum"] == "=upstream valve"


def test_plane_shapes_say_that_they_are_plane_metres(told: Told) -> None:
    (zone,) = told.plane["plane"]["zones"]

    assert told.plane["type"] == "FeatureCollection"
    assert "crs" not in told.plane
    assert "not longitude and latitude" in told.plane["plane"]["coordinates"]
    assert zone["x"].startswith("metres along the line")
    assert zone["y"].startswith("metres of arc, clockwise from 12 o'clock")
    assert zone["comes back after"] == {"y": pytest.approx(3.14159, abs=1e-5)}


def test_every_feature_is_geojson_that_another_reader_takes(told: Told) -> None:
    features = told.plane["features"]

    assert {each["type"] for each in features} == {"Feature"}
    shapes = [shape(each["geometry"]) for each in features]
    assert all(each.is_valid and not each.is_empty for each in shapes)


def test_features_lie_where_the_rows_say_and_have_their_areas(told: Told) -> None:
    by_layer: dict[str, list[Any]] = {}
    for each in told.plane["features"]:
        by_layer.setdefault(each["properties"]["layer"], []).append(each)

    assert {"zone", "landmark", "feature", "tested as found", "exclusion", "swath", "later work", "thickness spot", "patch",
            "flaw"} <= set(by_layer)  # fmt: skip
    for flaw in by_layer["flaw"]:
        assert flaw["geometry"]["coordinates"] == [flaw["properties"]["x (m)"], flaw["properties"]["y (m)"]]
    for swath in [*by_layer["swath"], *by_layer["patch"]]:
        assert shape(swath["geometry"]).area == pytest.approx(swath["properties"]["area (m2)"], abs=1e-5)
    (weld,) = by_layer["landmark"]
    assert weld["geometry"]["type"] == "LineString"
