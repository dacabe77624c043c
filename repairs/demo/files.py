"""The demo's files with their days moved, so that the story always ends today. No Django."""

from __future__ import annotations

import io
import re
from datetime import date, timedelta

import openpyxl

WRITTEN_FOR = date(2025, 6, 20)
_ISO = re.compile(r"\b\d{4}-\d\d-\d\d\b")
_DOTTED = re.compile(r"\b(\d\d)\.(\d\d)\.(\d{4})\b")


def shifted(content: bytes, name: str, days: int) -> bytes:
    """The file with every day in it moved by whole days; encoding, separators and all else stay as they are."""
    if name.endswith(".xlsx"):
        return _workbook(content, days)
    try:
        encoding = "utf-8"
        text = content.decode(encoding)
    except UnicodeDecodeError:
        encoding = "cp1252"
        text = content.decode(encoding)
    return _text(text, days).encode(encoding)


def _text(text: str, days: int) -> str:
    def iso(found: re.Match[str]) -> str:
        return (date.fromisoformat(found[0]) + timedelta(days)).isoformat()

    def dotted(found: re.Match[str]) -> str:
        day = date(int(found[3]), int(found[2]), int(found[1])) + timedelta(days)
        return day.strftime("%d.%m.%Y")

    return _DOTTED.sub(dotted, _ISO.sub(iso, text))


def _workbook(content: bytes, days: int) -> bytes:
    book = openpyxl.load_workbook(io.BytesIO(content))
    for row in book.worksheets[0].iter_rows():
        for cell in row:
            if isinstance(cell.value, str):
                cell.value = _text(cell.value, days)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
