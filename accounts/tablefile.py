"""Tables as people keep them: the rows of a CSV or XLSX file as text, each with its row number. No Django.

Nothing in a file is ever run: a formula is the text that was typed, its stored result is not looked at, and a
workbook's size is known before it is unpacked.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, NamedTuple

import openpyxl

from accounts.inert import as_typed
from accounts.wording import say

MOST_BYTES = 10_000_000
MOST_UNPACKED = 60_000_000
MOST_PARTS = 1000
MOST_ROWS = 50_000
MOST_COLUMNS = 60
MOST_TEXT = 1000

SEPARATORS = {";": "semicolons", "\t": "tabs", ",": "commas"}
_SPREADSHEET = b"PK\x03\x04"
_OLD_SPREADSHEET = b"\xd0\xcf\x11\xe0"
_WIDE = (b"\xff\xfe", b"\xfe\xff")
_ALLOWED_CONTROLS = {"\t", "\n", "\r"}


class TableError(ValueError):
    """The file as a whole cannot be read; the message says why and what is taken."""


class Problem(NamedTuple):
    """One bad cell: its row and column as the file counts and names them, what stands there, and what is allowed."""

    row: int
    column: str
    value: str
    message: str

    @property
    def sentence(self) -> str:
        """The message with the value in it."""
        quoted = f'"{self.value}"'
        return self.message if not self.value or quoted in self.message else f"{quoted} {self.message}"

    def __str__(self) -> str:
        return say("row {row}, {column}: {sentence}", row=self.row, column=self.column, sentence=self.sentence)


class TableRow(NamedTuple):
    """A row that is not blank. `number` counts from 1 as a spreadsheet does, blank rows included."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """The rows of a file and, for people, what kind of file it was."""

    form: str
    rows: tuple[TableRow, ...]


def media_type(content: bytes) -> str:
    """The media type of a table that was read."""
    if content.startswith(_SPREADSHEET):
        return "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    return "text/csv"


def read_table(content: bytes, name: str = "") -> Table:
    """The rows of a CSV (UTF-8 or Windows-1252; semicolons, commas or tabs) or of the first sheet of an XLSX workbook.

    Cells are text without spaces around it: dates and times of a workbook as 2031-05-14 and 06:30, its numbers with a
    decimal point, ticks as yes and no.

    Raises
    ------
    TableError
        When the file is empty, too large, neither of the two, damaged, or has more rows or columns than are taken.
    """
    called = f'"{name}"' if name else say("The file")
    if len(content) > MOST_BYTES:
        raise TableError(
            say(
                "{called} has {count:.1f} MB; up to {most_bytes} MB are taken.",
                called=called,
                count=len(content) / 1e6,
                most_bytes=MOST_BYTES // 1_000_000,
            )
        )
    if content.startswith(_SPREADSHEET):
        form, cells = _workbook(content, called)
    else:
        form, cells = _text_table(_decoded(content, called), called)
    rows = []
    for number, row in enumerate(cells, 1):
        if number > MOST_ROWS:
            raise TableError(
                say("{called} has more than {most_rows} rows; split it.", called=called, most_rows=MOST_ROWS)
            )
        texts = tuple(cell.strip() for cell in row)
        while texts and not texts[-1]:
            texts = texts[:-1]
        if len(texts) > MOST_COLUMNS:
            raise TableError(
                say(
                    "{called}, row {number}, has {count} columns; up to {most_columns} are taken.",
                    called=called,
                    number=number,
                    count=len(texts),
                    most_columns=MOST_COLUMNS,
                )
            )
        long = next((text for text in texts if len(text) > MOST_TEXT), None)
        if long is not None:
            raise TableError(
                say(
                    '{called}, row {number}, has a cell of {count} characters ("{long}..."); up to '
                    "{most_text} are taken. Perhaps a quote was not closed.",
                    called=called,
                    number=number,
                    count=len(long),
                    long=long[:40],
                    most_text=MOST_TEXT,
                )
            )
        if texts:
            rows.append(TableRow(number, texts))
    if not rows:
        raise TableError(say("{called} is empty; the first row names the columns.", called=called))
    return Table(form, tuple(rows))


def _decoded(content: bytes, called: str) -> tuple[str, str]:
    """The text and the name of its encoding."""
    if content.startswith(_OLD_SPREADSHEET):
        raise TableError(say("{called} is an old workbook (XLS); save it as XLSX or CSV.", called=called))
    if content.startswith(_WIDE):
        raise TableError(say("{called} is UTF-16 text; save it as CSV in UTF-8.", called=called))
    encoding = "UTF-8"
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        encoding = "Windows-1252"
        try:
            text = content.decode("cp1252")
        except UnicodeDecodeError as problem:
            raise TableError(
                say(
                    "{called} is neither UTF-8 nor Windows-1252 (byte {start}); save it as CSV in UTF-8.",
                    called=called,
                    start=problem.start + 1,
                )
            ) from None
    control = next((sign for sign in text if (sign < " " or sign == "\x7f") and sign not in _ALLOWED_CONTROLS), None)
    if control is not None:
        raise TableError(
            say(
                "{called} is no table: it holds the control character {ord:#04x}. CSV and XLSX are taken.",
                called=called,
                ord=ord(control),
            )
        )
    return text, encoding


def _text_table(decoded: tuple[str, str], called: str) -> tuple[str, Iterable[list[str]]]:
    text, encoding = decoded
    first = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(SEPARATORS, key=lambda sign: _outside_quotes(first, sign))
    return say("CSV, {encoding}, {separators}", encoding=encoding, separators=SEPARATORS[separator]), _csv_rows(
        text, separator, called
    )


def _outside_quotes(line: str, sign: str) -> int:
    return sum(part.count(sign) for part in line.split('"')[::2])


def _csv_rows(text: str, separator: str, called: str) -> Iterator[list[str]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        for row in reader:
            yield [as_typed(cell) for cell in row]
    except csv.Error as problem:
        raise TableError(
            say(
                "{called}, line {line_num}: {problem}. Perhaps a quote was not closed.",
                called=called,
                line_num=reader.line_num,
                problem=problem,
            )
        ) from problem


def _workbook(content: bytes, called: str) -> tuple[str, Iterable[list[str]]]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            listed = parts.infolist()
    except zipfile.BadZipFile:
        raise TableError(say("{called} is a damaged workbook; save it again.", called=called)) from None
    unpacked = sum(part.file_size for part in listed)
    if unpacked > MOST_UNPACKED or len(listed) > MOST_PARTS:
        raise TableError(
            say(
                "{called} unpacks to {unpacked:.0f} MB in {count} parts; up to {most_unpacked} MB in "
                "{most_parts} parts are taken.",
                called=called,
                unpacked=unpacked / 1e6,
                count=len(listed),
                most_unpacked=MOST_UNPACKED // 1_000_000,
                most_parts=MOST_PARTS,
            )
        )
    return "XLSX", _sheet_rows(content, called)


def _sheet_rows(content: bytes, called: str) -> Iterator[list[str]]:
    # A workbook is other people's XML: whatever makes the reader stumble is a damaged file to the one who sent it.
    try:
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=False, keep_links=False)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()
        for row in sheet.iter_rows(values_only=True):
            yield [_cell(value) for value in row]
    except Exception as problem:
        raise TableError(
            say(
                "{called} cannot be read as a workbook ({name}); save it again as XLSX.",
                called=called,
                name=type(problem).__name__,
            )
        ) from problem


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime):
        return (
            value.date().isoformat()
            if value.time() == time(0)
            else f"{value.date().isoformat()} {_clock(value.time())}"
        )
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return _clock(value)
    if isinstance(value, timedelta):
        minutes, seconds = divmod(round(value.total_seconds()), 60)
        return f"{minutes // 60}:{minutes % 60:02d}" + (f":{seconds:02d}" if seconds else "")
    return str(value)


def _clock(at: time) -> str:
    """Rounded to the second: a workbook keeps times as fractions of a day."""
    whole = datetime.combine(date(2000, 1, 1), at) + timedelta(microseconds=500_000)
    return whole.strftime("%H:%M:%S" if whole.second else "%H:%M")
