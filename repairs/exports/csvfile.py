"""Tables as CSV: UTF-8 with its mark, commas, text in quotes where it needs them, nothing that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator
from typing import Any

from django.utils import timezone
from django.utils.translation import get_language, override

from accounts.inert import inert
from repairs.exports.scope import Cell, Line, Scope, Table
from repairs.exports.tables import FIRST, Taken, tables_of, what_is_what

MARK = "\ufeff"
"""Tells a spreadsheet that the file is UTF-8."""


def cell(value: Cell) -> Any:
    """A cell as it is written: text made inert, numbers as numbers, ticks as yes and no."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return inert(value) if isinstance(value, str) else value


def written(lines: Iterable[Line], mark: str = "") -> bytes:
    """These lines as CSV."""
    held = io.StringIO()
    held.write(mark)
    csv.writer(held).writerows([cell(value) for value in line] for line in lines)
    return held.getvalue().encode()


def table_file(table: Table, scope: Scope) -> Iterator[bytes]:
    """One table, chunk by chunk."""
    yield written([table.heads], MARK)
    for chunk in table.chunks(scope):
        yield written(chunk)


def archive(scope: Scope) -> Iterator[bytes]:
    """A ZIP archive with a file a table, and one that says what is what in the language of now; chunk by chunk."""
    return _archive(scope, get_language())


def _archive(scope: Scope, language: str | None) -> Iterator[bytes]:
    outlet = _Outlet()
    at, before = timezone.now(), scope.head()
    day = at.astimezone(scope.asset.zone_info).timetuple()[:6]
    with zipfile.ZipFile(outlet, "w", zipfile.ZIP_DEFLATED) as files:
        for table in tables_of(scope):
            with files.open(_entry(table.name, day), "w", force_zip64=True) as file:
                for chunk in table_file(table, scope):
                    file.write(chunk)
                    yield outlet.taken()
        with override(language):
            told = list(what_is_what(scope, Taken(at, before, scope.head())))
        files.writestr(_entry(FIRST, day), written(told, MARK))
    yield outlet.taken()


def _entry(name: str, day: Any) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(f"{name}.csv", day)
    entry.compress_type = zipfile.ZIP_DEFLATED
    return entry


class _Outlet(io.RawIOBase):
    """Where the archive is written to: what came since the last time is taken from it and sent on."""

    def __init__(self) -> None:
        super().__init__()
        self._parts: list[bytes] = []

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        part = bytes(data)
        self._parts.append(part)
        return len(part)

    def taken(self) -> bytes:
        parts, self._parts = self._parts, []
        return b"".join(parts)
