"""A field sheet's file is read as crews write it, and whatever cannot be read is named. No database."""

from __future__ import annotations

import contextlib
import csv
import io
import zipfile
from datetime import date, datetime, time, timedelta
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from accounts.tablefile import MOST_ROWS, TableError, read_table
from inspections.daytimes import Days, read_day, read_time
from inspections.listed import items, joined
from inspections.sheetfile import Line, SheetFile, read_sheet

HEAD = "what;value\nzone;Section 07\nsheet;A\ndate;2031-05-14\nunits;volts kV, film µm, size mm, temperature °C\n"
RUN = "what;run;time;sweeper;set\nrun;1;6:30;Ada;2,5\n"


def read(text: str, encoding: str = "utf-8") -> SheetFile:
    return read_sheet(text.encode(encoding), "sheet.csv")


def lines(body: str) -> list[Line]:
    """The lines under the usual head and a run; nothing in them may be bad."""
    read_file = read(HEAD + RUN + body)
    assert [str(problem) for problem in read_file.problems] == []
    return list(read_file.lines)[1:]


def problems(body: str) -> list[str]:
    return [str(problem) for problem in read(HEAD + RUN + body).problems]


def workbook(rows: list[list[Any]]) -> bytes:
    book = openpyxl.Workbook()
    page: Any = book.active
    for row in rows:
        page.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_declarations_name_zone_sheet_and_recorder() -> None:
    found = read(HEAD + "recorder;Ada Winslow\n")
    assert (found.zone, found.letter, found.recorder, found.problems) == ("Section 07", "A", "Ada Winslow", ())


@pytest.mark.parametrize("separator", [";", ",", "\t"])
def test_the_separator_is_seen_in_the_first_row(separator: str) -> None:
    out = io.StringIO()
    csv.writer(out, delimiter=separator).writerows(row.split(";") for row in (HEAD + RUN).splitlines())
    found = read(out.getvalue())
    assert (found.problems, len(found.lines)) == ((), 1)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252"])
def test_utf8_and_windows_1252_read_the_same(encoding: str) -> None:
    found = read(HEAD.replace("Section 07", "Straße 7 Süd"), encoding)
    assert (found.zone, found.problems) == ("Straße 7 Süd", ())


def test_the_form_says_how_the_file_was_read() -> None:
    assert read(HEAD, "cp1252").form == "CSV, Windows-1252, semicolons"


@pytest.mark.parametrize(
    ("content", "part"),
    [
        (b"", "is empty"),
        (b"\n  \n;;\n", "is empty"),
        (HEAD.encode("utf-16"), "UTF-16"),
        (b"\xd0\xcf\x11\xe0junk", "old workbook"),
        (b"what;value\nzone;\x81\xff\n", "neither UTF-8 nor Windows-1252"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "no table"),
        (b"%PDF-1.7\n\x00\x01", "control character"),
        (b"what;value\nzone;\"Section 07\n", "quote was not closed"),
        (b"PK\x03\x04 not a zip at all", "damaged workbook"),
        (b"x" * 10_000_001, "has 10.0 MB; up to 10 MB are taken"),
        (b"zone;Section 07\n", 'the first row names the columns, "what" first'),
        (b"what;value\nzone;" + b"y" * 1001, "a cell of 1001 characters"),
        (b"what" + b";" * 60 + b"x", "61 columns"),
        (b"what\n" + b"#\n" * MOST_ROWS, f"more than {MOST_ROWS} rows"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_sheet_is_answered(content: bytes, part: str) -> None:
    with pytest.raises(TableError, match=part.replace("(", r"\(")):
        read_sheet(content, "sheet.csv")


def test_a_zip_bomb_is_answered_before_it_is_unpacked() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as bomb:
        bomb.writestr("xl/worksheets/sheet1.xml", b"0" * 70_000_000)
    assert len(out.getvalue()) < 100_000
    with pytest.raises(TableError, match="unpacks to 70 MB in 1 parts; up to 60 MB"):
        read_table(out.getvalue(), "bomb.xlsx")


def test_a_workbook_that_expands_its_own_entities_is_refused() -> None:
    rows = workbook([["what", "value"], ["zone", "7"]])
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(rows)) as good, zipfile.ZipFile(out, "w") as bad:
        for part in good.infolist():
            content = good.read(part)
            if part.filename == "xl/worksheets/sheet1.xml":
                body = content.decode()
                body = body[body.index("<worksheet") :]
                content = f'<!DOCTYPE x [<!ENTITY a "7">]>{body}'.encode()
            bad.writestr(part, content)
    with pytest.raises(TableError, match="cannot be read as a workbook"):
        read_table(out.getvalue(), "entities.xlsx")


def test_a_formula_is_the_text_that_was_typed_and_never_its_result() -> None:
    table = read_table(workbook([["what", "note"], ["note", "=1+1"], ["note", '=HYPERLINK("http://x","y")']]))
    assert [row.cells[1] for row in table.rows[1:]] == ["=1+1", '=HYPERLINK("http://x","y")']


def test_cells_of_a_workbook_read_as_they_were_typed() -> None:
    row = [
        time(6, 30),
        time(6, 30, 15),
        date(2031, 5, 14),
        datetime(2031, 5, 14, 6, 5),
        timedelta(hours=26),
        2.5,
        3.0,
        True,
    ]
    (found,) = read_table(workbook([row])).rows
    assert found.cells == ("06:30", "06:30:15", "2031-05-14", "2031-05-14 06:05", "26:00", "2.5", "3", "yes")


def test_a_workbook_and_a_csv_of_the_same_rows_say_the_same() -> None:
    text = HEAD + RUN.replace("2,5", "2.5")
    book = workbook([[float(cell) if cell == "2.5" else cell for cell in row.split(";")] for row in text.splitlines()])
    assert read_sheet(book, "sheet.xlsx").lines == read(text).lines


def test_rows_are_counted_as_a_spreadsheet_counts_them() -> None:
    (line,) = lines('\n\n# crossed out\nwhat;time;place;note\n\nreturn;6:35;bare end;"two\nlines"\n')
    assert line.row == 13


def test_a_header_may_come_again_and_change_the_columns() -> None:
    first, second = lines("what;time;place\nreturn;6:35;bare end\nwhat;place;time\nreturn;other end;6:36\n")
    assert (first.cell("place"), second.cell("place")) == ("bare end", "other end")


def test_words_that_crews_use_for_columns_are_known() -> None:
    (line,) = lines("What;Start;End;Where\nSwept;6:40;7:00;1+084 to 1+096, lane 3 of 8\n")
    assert (line.cell("place"), line.at, line.until) == (
        "1+084 to 1+096, lane 3 of 8",
        datetime(2031, 5, 14, 6, 40),
        datetime(2031, 5, 14, 7, 0),
    )


def test_a_bare_figure_takes_the_unit_of_its_heading_before_the_declared_one() -> None:
    body = "what;time;measured (V);alarm\ncheck;6:40;2490;yes\nwhat;time;measured;alarm\ncheck;6:40;2,49;yes\ncheck;6:41;2490 V;yes\n"
    assert [line.cell("measured") for line in lines(body)] == ["2490 V", "2,49 kV", "2490 V"]


def test_a_bare_figure_without_any_unit_is_refused() -> None:
    found = read(HEAD.replace("volts kV, ", "") + RUN)
    assert [str(problem) for problem in found.problems] == [
        'row 7, set: "2,5" has no unit; write it there, in the heading, or in a row: units, volts V.'
    ]


def test_readings_stand_in_one_cell_or_in_columns_of_their_own() -> None:
    first, second = lines(
        "what;time;place;reading 1;reading 2\nspot;8:00;1+002 @ 3:00;512;498\nwhat;time;place;readings\nspot;8:01;1+004 @ 3:00;505 / 500\n"
    )
    assert first.listed["reading"] == ("512 µm", "498 µm")
    assert second.listed["reading"] == ("505 µm", "500 µm")


def test_rows_below_a_run_belong_to_it_until_the_next() -> None:
    first, _, second = lines("what;run;time;place;sweeper\nreturn;;6:35;here;\nrun;2;9:00;;Ada\nreturn;;9:05;there;\n")
    assert (first.cell("run"), second.cell("run")) == ("1", "2")


@pytest.mark.parametrize(
    ("body", "told"),
    [
        ("what;time\nswipe;6:30\n", "row 9, what: \"swipe\" is no kind of row; there are: zone, sheet"),
        ("what;time;colour\n", 'row 8, colour: "colour" is no column; there are:'),
        ("what;time;time\n", "row 8, time: \"time\" stands twice in this header"),
        ("what;time;measured (furlong)\n", "row 8, measured (furlong): \"furlong\" is no unit of it; there are: V, kV"),
        ("what;time\nclose;6:30;extra\n", 'row 9, column 3: "extra" stands under no heading'),
        ("what;time;place;gas\nreturn;6:35;end;0 %\n", 'row 9, gas: "0 %" says nothing in a row of the kind return'),
        ("what;time;place\nreturn;6:35;\n", "row 9, place: is empty; a row of the kind return needs it"),
        ("what;time\nclose;6.30\n", 'row 9, time: "6.30" is no time; write it like 6:30'),
        ("what;time\nclose;25:10\n", "from 0:00 to 23:59"),
        ("what;value\ndate;05/12/2031\n", 'row 9, value: "05/12/2031" is no day; write it like 2031-05-14'),
        ("what;value\ndate;31.02.2031\n", "is no day of the calendar"),
        ("what;value\nzone;Section 08\n", 'differs from the zone declared above, "Section 07"; one file is one sheet'),
        ("what;value\nunits;volts mV\n", '"volts mV" is no unit; there are: volts V or kV'),
        ("what;value\nsheet;12\n", '"12" is no sheet; write one to four letters'),
        ("what;time;until;place\nswept;9:00;8:00;1+000 to 1+010\n", 'row 9, until: "8:00" lies before 9:00'),
    ],
)  # fmt: skip
def test_a_bad_cell_is_named_by_row_and_column(body: str, told: str) -> None:
    found = problems(body)
    assert len(found) == 1
    assert told in found[0]


def test_a_file_without_zone_and_sheet_says_so() -> None:
    assert [str(problem) for problem in read("what;value\ndate;2031-05-14\n").problems] == [
        'row 2, what: "zone" is not declared; add a row zone with the name of the zone.',
        'row 2, what: "sheet" is not declared; add a row sheet with one to four letters, as in the tags of its flaws.',
    ]


def test_a_time_without_a_day_is_refused() -> None:
    found = read("what;value\nzone;S\nsheet;A\nwhat;run;time;sweeper\nrun;1;6:30;Ada\n")
    assert [str(problem) for problem in found.problems] == [
        'row 5, time: "6:30" has no day; a row date stands above the first time.'
    ]


def test_after_midnight_it_is_the_next_day() -> None:
    body = "what;value\ndate;2031-05-14\nwhat;time;until;place\nswept;23:40;0:10;1+000 to 1+010\nswept;;0:35;1+010 to 1+020\n"
    first, second = lines(body)
    assert (first.at, first.until) == (datetime(2031, 5, 14, 23, 40), datetime(2031, 5, 15, 0, 10))
    assert second.until == datetime(2031, 5, 15, 0, 35)


@pytest.mark.parametrize(
    ("times", "days"),
    [
        (["6:00", "19:30"], [14, 14]),
        (["22:00", "6:00"], [14, 15]),
        (["13:00", "6:30"], [14, 14]),
        (["23:50", "0:10", "23:55"], [14, 15, 14]),
        (["9:15", "9:12", "9:20"], [14, 14, 14]),
        (["2031-05-13 23:50", "0:05"], [13, 14]),
        (["14 May 2031 6:30 pm"], [14]),
    ],
)
def test_a_clock_time_is_of_the_day_nearest_to_the_row_above(times: list[str], days: list[int]) -> None:
    going = Days()
    going.begin(date(2031, 5, 14))
    assert [going.place(text).day for text in times] == days


@pytest.mark.parametrize("text", ["2031-05-14", "14.05.2031", "14.5.2031", "14 May 2031", "14 may 2031"])
def test_a_day_can_be_written_three_ways(text: str) -> None:
    assert read_day(text) == date(2031, 5, 14)


@pytest.mark.parametrize(
    ("text", "clock"),
    [("6:30", time(6, 30)), ("06:30:15", time(6, 30, 15)), ("6:05 pm", time(18, 5)), ("12:10 am", time(0, 10)),
     ("12:10 pm", time(12, 10)), ("0:00", time(0))],
)  # fmt: skip
def test_a_time_can_be_written_by_either_clock(text: str, clock: time) -> None:
    assert read_time(text) == clock


def test_a_permit_that_runs_past_midnight_ends_the_next_day() -> None:
    (line,) = lines("what;no;time;gas;tester;valid until\npermit;HW-1;20:00;0 % LEL;J. Marsh;6:00\n")
    assert line.until == datetime(2031, 5, 15, 6, 0)


AIR = "what;time;air;steel;steel at\natmosphere;6:20;11;9 / 10;"


def test_an_item_in_quotes_keeps_its_strokes() -> None:
    (air,) = lines(AIR + '"""north / south; under"" / 6"" nozzle"\n')
    assert air.listed["steel at"] == ("north / south; under", '6" nozzle')


def test_an_item_whose_quotes_do_not_end_is_answered_with_what_to_write() -> None:
    (problem,) = problems(AIR + '"""north / south"\n')
    assert 'end it with one too: "north / south"' in problem


@given(st.lists(st.text(min_size=1).filter(lambda text: text.strip() == text and text.split())))
def test_items_that_were_joined_are_read_back(listed: list[str]) -> None:
    assert items(joined(listed)) == listed


def test_a_run_whose_own_row_is_bad_is_named_so_that_its_rows_are_not() -> None:
    found = read(HEAD + "what;run;time;sweeper;set\nrun;1;late;Ada;2,5\n")
    assert (len(found.problems), found.spoiled) == (1, {("run", "1")})


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_answered(content: bytes) -> None:
    with contextlib.suppress(TableError):
        assert read_sheet(content, "junk").form


@given(st.text(max_size=200))
def test_any_text_below_a_header_is_read_or_answered(text: str) -> None:
    try:
        found = read(HEAD + RUN + text, "utf-8")
    except (TableError, UnicodeEncodeError):
        return
    assert all(problem.row >= 1 and problem.message for problem in found.problems)
