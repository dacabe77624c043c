"""Tables as an XLSX workbook, a sheet each, written row by row: numbers as numbers, every text as text and never a formula."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from typing import IO, Any

from django.utils import timezone
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ERROR_CODES, ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from accounts.inert import runs
from accounts.wording import say
from repairs.exports.scope import Cell, Scope, Table
from repairs.exports.tables import FIRST, Taken, tables_of, what_is_what

LONGEST = 32_767
"""Letters that a cell of the format holds."""
MOST = 1_000_000
"""Rows to a sheet; the format holds 1 048 576."""
_BOLD = Font(bold=True)
_NARROW, _WIDE = 10, 60


def workbook(scope: Scope) -> IO[bytes]:
    """Everything in a temporary file that is gone once closed; the first sheet says what is what, in the language of now."""
    book = Workbook(write_only=True)
    first = book.create_sheet(FIRST)
    for letter, width in zip("ABC", (22, 34, 110), strict=True):
        first.column_dimensions[letter].width = width
    at, before = timezone.now(), scope.head()
    for table in tables_of(scope):
        _fill(book, table, scope)
    for line in what_is_what(scope, Taken(at, before, scope.head())):
        first.append([_cell(first, value) for value in line])
    return saved(book)


def saved(book: Workbook) -> IO[bytes]:
    """The workbook in a temporary file, from its beginning."""
    file = tempfile.TemporaryFile()  # noqa: SIM115 (handed on open)
    book.save(file)
    file.seek(0)
    return file


def _fill(book: Workbook, table: Table, scope: Scope) -> None:
    sheet, rows, number = sheet_of(book, table.name, table.heads), 0, 1
    for line in table.lines(scope):
        if rows == MOST:
            rows, number = 0, number + 1
            sheet = sheet_of(book, f"{table.name} {number}", table.heads)
        sheet.append([_cell(sheet, value) for value in line])
        rows += 1


def sheet_of(book: Workbook, name: str, heads: Sequence[str]) -> Any:
    """A sheet with its headings, which stay in sight."""
    sheet = book.create_sheet(name)
    sheet.freeze_panes = "A2"
    for place, head in enumerate(heads, 1):
        sheet.column_dimensions[get_column_letter(place)].width = min(max(_NARROW, 1.3 * len(head)), _WIDE)
    row = []
    for head in heads:
        row.append(WriteOnlyCell(sheet, head))
        row[-1].font = _BOLD
    sheet.append(row)
    return sheet


def _cell(sheet: Any, value: Cell) -> Any:
    return text_cell(sheet, value) if isinstance(value, str) else value


def text_cell(sheet: Any, text: str) -> Any:
    """Text as text, whatever it begins with; it stays so when somebody edits the cell.

    Control characters, which the format cannot hold, are shown as U+FFFD; what is longer than a cell holds says so.
    """
    fit = ILLEGAL_CHARACTERS_RE.sub("\ufffd", text)
    if len(fit) > LONGEST:
        told = say("… [{count} letters; whole in the CSV]", count=len(text))
        fit = fit[: LONGEST - len(told)] + told
    if not runs(fit) and fit not in ERROR_CODES:
        return fit
    cell = WriteOnlyCell(sheet, fit)
    cell.data_type = "s"
    cell.quotePrefix = True
    return cell
