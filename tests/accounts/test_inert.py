"""Text that a spreadsheet would run is written so that it does not, and read back as it was typed."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from accounts.inert import as_typed, inert, runs
from accounts.tablefile import read_table

OWASP = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "\uff1d1", "\uff0b1", "\uff0d1", "\uff201"]
"""What OWASP's page "CSV Injection" lists, from memory: first letters that spreadsheets take for a formula."""
WORDS = ["", "flaw", "1+004.00 @ 3:00", "'tis", "5 = 4", " =1", "−5 °C"]


@pytest.mark.parametrize("text", OWASP)
def test_what_a_spreadsheet_would_run_begins_with_an_apostrophe(text: str) -> None:
    assert runs(text)
    assert inert(text) == f"'{text}"


@pytest.mark.parametrize("text", WORDS)
def test_other_text_stands_as_it_is(text: str) -> None:
    assert not runs(text)
    assert inert(text) == text == as_typed(text)


@given(st.text(alphabet="'=+-@ab\t ", max_size=6))
def test_every_text_comes_back_as_it_was_typed(text: str) -> None:
    assert as_typed(inert(text)) == text
    assert not runs(inert(text))


def test_a_file_that_was_made_inert_is_read_as_it_was_typed() -> None:
    held = io.StringIO()
    csv.writer(held).writerow([inert("=1+1"), inert("'-x"), "plain", -5])

    (row,) = read_table(held.getvalue().encode()).rows

    assert row.cells == ("=1+1", "'-x", "plain", "-5")
