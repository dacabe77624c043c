"""A field sheet's file becomes rows by the same rules as a crew's presses: all of it or nothing, and only once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.exceptions import NotFound, PermissionDenied, ValidationError

from accounts import verify
from accounts.acting import Done, perform
from accounts.evidence import Evidence
from accounts.people import Role
from accounts.record import Entry
from inspections.actions.importing import look
from inspections.coatings import Atmosphere, FieldSheet, Permit, Spot
from inspections.flaws import Classification, Flaw
from inspections.instruments import Instrument
from inspections.intake_plan import Plan
from inspections.runs import Run, Standing, Swath, Verification
from inspections.sheetfile import read_sheet
from inspections.tested import differences
from tests.factories import OrganisationFactory, appointed
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db

SHEET = """\
what;value
zone;Spool 1
sheet;K
date;2025-03-10
units;volts kV, film µm, size mm, temperature °C

what;no;time;kind;gas;tester;valid until;air;humidity;steel
permit;HW-77;06:10;hot work;0 % LEL, 20.9 % O2;J. Marsh;18:00
atmosphere;;06:15;;;;;11,5;62;9,5 / 10,0
what;run;time;sweeper;instrument;electrode;set;cautions;permit
run;1;6:30;Ines Holt;D-1;SPRING;2,5;yes;HW-77
what;no;time;until;place;measured;alarm;phase;kind;along;note
return;;6:35;;bare end of the spool
check;;6:40;;;2,49;yes;opening;;;meter warm
swept;;6:40;7:10;1+000 to 1+010, lane 1 of 7
swept;;;7:40;1+000 to 1+010, lane 2 of 7
flaw;K01;7:20;;1+004,50 @ 1:30;;;;pinhole;8;near the weld
flaw;2;7:31;;1+007 @ 45 deg
check;;7:45;;;2,51;yes;closing
close;;7:50
what;time;place;reading 1;reading 2;reading 3
spot;8:05;1+002 @ 3:00;512;498;505
"""


def text_of(there: Scene, text: str) -> str:
    """The text with the names of this scene's instruments."""
    return text.replace("D-1;SPRING", f"{there.detector.serial};{there.electrode.name}")


def send(there: Scene, text: str = SHEET, *, name: str = "sheet K.csv", person: Any = None, **more: Any) -> Done:
    file = SimpleUploadedFile(name, text_of(there, text).encode())
    return perform("import_sheet", person or there.crew, there.coating.pk, {"file": file, **more})


def dry(there: Scene, text: str = SHEET) -> Plan:
    return look(there.crew, there.coating, read_sheet(text_of(there, text).encode(), "sheet K.csv"))


def refused(there: Scene, text: str) -> dict[str, Any]:
    """The refusal's rows and columns; it must have written nothing."""
    before = Entry.objects.count(), FieldSheet.objects.count(), Evidence.objects.count()
    with pytest.raises(ValidationError) as caught:
        send(there, text)
    assert (Entry.objects.count(), FieldSheet.objects.count(), Evidence.objects.count()) == before
    detail: Any = caught.value.detail
    told = dict(detail["file"])
    told.pop("all of it", None)
    return {row: {column: str(words[0]) for column, words in cells.items()} for row, cells in told.items()}


def test_a_sheet_becomes_its_run_checks_swaths_flaws_and_spots() -> None:
    there = pipe_scene()
    sheet = send(there).made
    run = sheet.runs.get()
    assert (sheet.letter, run.number, run.set_volts, run.band_low, run.band_high) == ("K", 1, 2500, 2250, 2750)
    assert run.permit == Permit.objects.get(number="HW-77")
    assert list(run.verifications.order_by("at").values_list("measured", "outcome")) == [(2490, "good"), (2510, "good")]
    assert [swath.said for swath in run.swaths.order_by("sheet_seq")] == [
        "1+000 to 1+010, lane 1 of 7, 0.50 m wide",
        "1+000 to 1+010, lane 2 of 7, 0.50 m wide",
    ]
    assert [(flaw.tag, flaw.said, flaw.kind) for flaw in sheet.flaws.order_by("number")] == [
        ("K01", "1+004,50 @ 1:30", "pinhole"),
        ("K02", "1+007 @ 45 deg", "indication"),
    ]
    assert sheet.flaws.get(number=1).size_x == pytest.approx(0.008)
    assert Spot.objects.get(sheet=sheet).mean == pytest.approx(505.0)
    assert Atmosphere.objects.get().steel == [9.5, 10.0]


def test_times_are_those_of_the_asset() -> None:
    there = pipe_scene()
    run = send(there).made.runs.get()
    # 06:30 on 10 March 2025 in Denver, where summer time began on the 9th (tz database): six hours behind UTC.
    assert run.opened_at == datetime(2025, 3, 10, 12, 30, tzinfo=UTC)


def test_a_start_left_blank_is_the_end_of_the_swath_before() -> None:
    there = pipe_scene()
    swaths = send(there).made.runs.get().swaths.order_by("sheet_seq")
    assert swaths[1].started_at == swaths[0].ended_at


def test_the_ground_is_judged_between_the_checks_of_the_file() -> None:
    there = pipe_scene()
    sheet = send(there).made
    assert {swath.standing for swath in Swath.objects.filter(run__sheet=sheet)} == {Standing.STANDS}
    assert list(differences(there.asset.pk)) == []


def test_a_closing_check_that_failed_low_loses_the_ground() -> None:
    there = pipe_scene()
    sheet = send(there, SHEET.replace("2,51;yes", "1,9;yes")).made
    assert {swath.standing for swath in Swath.objects.filter(run__sheet=sheet)} == {Standing.LOST}


def test_the_file_is_kept_as_evidence_and_the_record_proves() -> None:
    there = pipe_scene()
    sheet = send(there).made
    assert sheet.source.name == "sheet K.csv"
    assert sheet.source.path.read_bytes() == text_of(there, SHEET).encode()
    # The people and the asset of a scene are there without entries; what the import wrote is not.
    told = [problem for problem in verify.verify(there.asset.pk) if not problem.table.startswith("accounts_a")]
    assert told == []


def test_a_dry_run_writes_nothing() -> None:
    there = pipe_scene()
    before = Entry.objects.count()
    with CaptureQueriesContext(connection) as queries:
        plan = dry(there)
    assert plan.may_record
    assert plan.count("new") == 12
    assert (Entry.objects.count(), Run.objects.count()) == (before, 0)
    assert not [query for query in queries.captured_queries if not query["sql"].startswith("SELECT")]


def test_the_same_file_twice_changes_nothing() -> None:
    there = pipe_scene()
    first = send(there)
    before = Entry.objects.count()
    again = send(there)
    assert (again.status, again.entry, Entry.objects.count()) == ("already", first.entry, before)
    assert dry(there).changes_nothing


def test_the_same_rows_under_another_file_name_change_nothing() -> None:
    there = pipe_scene()
    send(there)
    spaced = SHEET.replace("\n", "\n\n").replace("sheet;K", "Sheet;k")
    assert send(there, spaced, name="again.csv").status == "already"


def test_new_rows_in_an_otherwise_same_file_are_added() -> None:
    there = pipe_scene()
    send(there)
    longer = SHEET.replace("check;;7:45", "swept;;7:40;7:44;1+010 to 1+012, lane 1 of 7\ncheck;;7:45")
    sheet = send(there, longer).made
    seqs = [
        sheet.runs.get().verifications.get(phase="end").sheet_seq,
        sheet.runs.get().swaths.get(ended_at__minute=44).sheet_seq,
    ]
    assert seqs[1] < seqs[0]
    assert Swath.objects.filter(run__sheet=sheet).count() == 3
    assert send(there, longer).status == "already"


def test_a_run_closed_only_in_the_second_edition_is_closed_then() -> None:
    there = pipe_scene()
    closing = next(line for line in SHEET.splitlines(keepends=True) if line.startswith("close"))
    assert send(there, SHEET.replace(closing, "")).made.runs.get().is_open
    assert not send(there).made.runs.get().is_open


@pytest.mark.parametrize(
    ("old", "new", "row", "column", "recorded"),
    [
        ("2,49;yes", "2,48;yes", "row 14", "measured", '"2490"'),
        ("1+004,50 @ 1:30", "1+004,60 @ 1:30", "row 17", "place", '"1+004,50 @ 1:30"'),
        ("flaw;K01;7:20", "flaw;K01;7:21", "row 17", "time", '"2025-03-10 07:20"'),
        ("pinhole;8", "void;8", "row 17", "kind", '"pinhole"'),
        ("check;;7:45", "check;;7:46", "row 19", "time", '"2025-03-10 07:45"'),
        ("lane 2 of 7", "lane 3 of 7", "row 16", "place", '"1+000 to 1+010, lane 2 of 7, 0.50 m wide"'),
        ("512;498", "512;499", "row 22", "reading", '"512 µm / 498 µm / 505 µm"'),
        ("close;;7:50", "close;;7:55", "row 20", "time", '"2025-03-10 07:50"'),
        ("11,5;62", "11,5;64", "row 9", "humidity", '"62"'),
    ],
)  # fmt: skip
def test_a_corrected_file_says_exactly_which_cell_differs(
    old: str, new: str, row: str, column: str, recorded: str
) -> None:
    there = pipe_scene()
    send(there)
    assert SHEET.count(old) == 1
    told = refused(there, SHEET.replace(old, new))
    assert {(at, name) for at, cells in told.items() for name in cells} >= {(row, column)}
    assert set(told) == {row}
    assert told[row][column].startswith(f"recorded is {recorded}, the file says")


def test_a_row_left_out_of_a_later_edition_is_named() -> None:
    there = pipe_scene()
    send(there)
    gone = next(line for line in SHEET.splitlines(keepends=True) if line.startswith("flaw;2"))
    (cells,) = refused(there, SHEET.replace(gone, "")).values()
    assert cells == {"row": "recorded is a row of the kind flaw (K02 at 1+007 @ 45 deg); the file leaves it out."}


def test_a_struck_out_row_can_be_imported_anew() -> None:
    there = pipe_scene()
    sheet = send(there).made
    check = Verification.objects.get(run__sheet=sheet, phase="start")
    perform("strike_verification", there.lead, check.pk, {"why": "misread the meter"})
    corrected = SHEET.replace("2,49;yes", "2,47;yes")
    send(there, corrected)
    assert Verification.objects.get(run__sheet=sheet, phase="start", struck_at=None).measured == 2470
    assert send(there, corrected).status == "already"


def test_a_struck_out_row_that_still_stands_in_the_file_stays_struck_out() -> None:
    there = pipe_scene()
    sheet = send(there).made
    flaw = sheet.flaws.get(number=2)
    perform("strike_flaw", there.lead, flaw.pk, {"why": "typed twice"})
    assert send(there).status == "already"
    assert sheet.flaws.count() == 2


def test_a_tag_that_was_struck_out_is_not_used_again() -> None:
    there = pipe_scene()
    flaw = send(there).made.flaws.get(number=2)
    perform("strike_flaw", there.lead, flaw.pk, {"why": "typed twice"})
    told = refused(there, SHEET.replace("1+007 @ 45 deg", "1+008 @ 45 deg"))
    assert told["row 18"]["no"].startswith('"2" was struck out; record it anew under a number not yet used')


def test_a_later_word_on_a_flaw_is_no_difference() -> None:
    there = pipe_scene()
    flaw = send(there).made.flaws.get(number=1)
    perform("classify_flaw", there.crew, flaw.pk, {"kind": "crater"})
    assert send(there).status == "already"
    assert Classification.objects.filter(flaw=flaw).count() == 2


@pytest.mark.parametrize(
    ("old", "new", "row", "column", "part"),
    [
        ("Spool 1", "Spool 2", "row 2", "value", '"Spool 2" is another zone; this import is for "Spool 1"'),
        ("sheet;K", "sheet;A", "row 3", "value", 'the next free is "B"'),
        ("D-1;SPRING", "D-99;SPRING", "row 11", "instrument", '"D-99" is not known here; there are: '),
        ("2,5;yes", "2,5;no", "row 11", "cautions", "Read the cautions"),
        (";2,5;yes", ";;yes", "row 11", "set", "The specification asks for 2250 to 2750 V"),
        ("1+004,50 @ 1:30", "1+044,50 @ 1:30", "row 17", "place", "is off this zone: it runs 1+000.00 to 1+020.00"),
        ("lane 2 of 7", "lane 9 of 7", "row 16", "place", "lanes count from 1 to 7"),
        ("pinhole;8", "holes;8", "row 17", "kind", '"holes" is not known here. One of: indication, pinhole'),
        ("K01", "B01", "row 17", "no", "has the letters of another sheet; this one is K"),
        ("pinhole;8", "pinhole;80000", "row 17", "along", "is above the most allowed"),
        ("11,5;62", "11,5;", "row 9", "humidity", "Give the relative humidity or the wet bulb"),
        ("yes;HW-77", "yes;HW-78", "row 11", "permit", '"HW-78" is not known here; there are: HW-77'),
        ("2,49;yes", "2,49;maybe", "row 14", "alarm", '"maybe" is neither yes nor no'),
        ("date;2025-03-10", "date;2095-03-10", "row 8", "time", "lies in the future"),
    ],
)  # fmt: skip
def test_a_bad_cell_is_named_with_its_value_and_what_is_allowed(
    old: str, new: str, row: str, column: str, part: str
) -> None:
    there = pipe_scene()
    assert SHEET.count(old) == 1
    told = refused(there, SHEET.replace(old, new))
    assert part in told[row][column]


def test_three_bad_rows_of_ten_thousand_are_listed_and_nothing_is_written() -> None:
    there = pipe_scene()
    at = datetime(2025, 3, 10, 6, 45)
    head = SHEET[: SHEET.index("swept")]
    rows = []
    for number in range(9985):
        metres = number % 1990 / 100
        rows.append(f"flaw;{number + 1};{at + timedelta(seconds=number):%H:%M:%S};;1+{metres:06.2f} @ 3:00")
    rows[100] = rows[100].replace("@ 3:00", "@ 3.00")
    rows[5000] = rows[5000].replace("1+0", "9+0")
    rows[9984] = rows[9984].replace("flaw;9985", "flaw;9984")
    told = refused(there, head + "\n".join(rows) + "\n")
    first = head.count("\n") + 1
    assert {row: list(cells) for row, cells in told.items()} == {
        f"row {first + 100}": ["place"],
        f"row {first + 5000}": ["place"],
        f"row {first + 9984}": ["no"],
    }
    assert Flaw.objects.count() == 0


def test_a_formula_is_text_and_stays_where_it_was_written() -> None:
    there = pipe_scene()
    sheet = send(there, SHEET.replace("near the weld", '"=HYPERLINK(""http://x"")"')).made
    assert sheet.flaws.get(number=1).note == '=HYPERLINK("http://x")'


def test_pasted_text_is_recorded_like_a_file_and_kept_out_of_the_entry() -> None:
    there = pipe_scene()
    done = perform("import_sheet", there.crew, there.coating.pk, {"text": text_of(there, SHEET)})
    assert done.made.source.name == "pasted.csv"
    assert "HW-77" in done.entry.body
    assert '"text"' not in done.entry.body


def test_a_file_other_than_the_one_looked_at_is_refused() -> None:
    there = pipe_scene()
    with pytest.raises(ValidationError, match="not the file that was looked at"):
        send(there, confirmed="0" * 64)
    assert send(there, confirmed=dry(there).source.digest).status == "recorded"


def test_a_file_and_pasted_text_at_once_are_refused() -> None:
    there = pipe_scene()
    both = {"file": SimpleUploadedFile("k.csv", SHEET.encode()), "text": SHEET}
    with pytest.raises(ValidationError, match="one of the two"):
        perform("import_sheet", there.crew, there.coating.pk, both)


def test_a_hundred_megabytes_are_answered_before_they_are_read() -> None:
    there = pipe_scene()
    file = SimpleUploadedFile("big.csv", b"what;value\n" + b" " * 100_000_000)
    with pytest.raises(ValidationError, match=r"big.csv has 100.0 MB; up to 10 MB are taken"):
        perform("import_sheet", there.crew, there.coating.pk, {"file": file})


def test_the_recorder_named_in_the_file_is_who_recorded() -> None:
    there = pipe_scene()
    other = appointed(Role.CREW, there.asset, there.crew.organisation)
    sheet = send(there, SHEET.replace("sheet;K", f"sheet;K\nrecorder;{other.name}")).made
    assert (sheet.person, sheet.runs.get().recorder) == (other, other)


def test_a_recorder_nobody_knows_is_refused() -> None:
    told = refused(pipe_scene(), SHEET.replace("sheet;K", "sheet;K\nrecorder;Nobody Here"))
    assert told["row 4"]["value"].startswith('"Nobody Here" is nobody of your firm')


def test_a_contractor_cannot_import() -> None:
    there = pipe_scene()
    with pytest.raises(PermissionDenied):
        send(there, person=there.painter)
    with pytest.raises(PermissionDenied):
        look(there.painter, there.coating, read_sheet(SHEET.encode()))


def test_a_stranger_sees_no_coating_to_import_to() -> None:
    there = pipe_scene()
    stranger = appointed(Role.CREW, pipe_scene().asset, OrganisationFactory())
    with pytest.raises(NotFound):
        look(stranger, there.coating, read_sheet(SHEET.encode()))
    with pytest.raises(NotFound):
        perform("import_sheet", stranger, uuid4(), {"text": SHEET})


def test_a_gauge_serves_for_spots_and_for_no_run() -> None:
    there = pipe_scene()
    Instrument.objects.create(
        organisation=there.crew.organisation, kind=Instrument.Kind.GAUGE, name="Gauge", serial="G-1"
    )
    told = refused(there, SHEET.replace("D-1;SPRING", f"G-1;{there.electrode.name}"))
    assert "That is not a detector" in told["row 11"]["instrument"]


def test_handing_in_waits_for_open_runs() -> None:
    there = pipe_scene()
    closing = next(line for line in SHEET.splitlines(keepends=True) if line.startswith("close"))
    told = refused(there, SHEET.replace(closing, "") + "hand in;9:00\n")
    assert list(told.values()) == [{"what": '"hand in" waits until run 1 is closed; add a row close.'}]


def test_a_sheet_can_be_handed_in_by_its_file() -> None:
    there = pipe_scene()
    assert not send(there, SHEET + "hand in;9:00\n").made.is_out


def test_a_sheet_taken_after_an_imported_one_gets_letters_of_its_own() -> None:
    there = pipe_scene()
    send(there, SHEET.replace("sheet;K", "sheet;B").replace("K01", "B01"))
    letters = [perform("take_sheet", there.crew, there.coating.pk, {}).made.letter for _ in range(2)]
    assert letters == ["C", "D"]
