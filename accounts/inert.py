"""Text that a spreadsheet would take for a formula is written so that it is not run, and read back as it was. No Django.

Which first letters start one: OWASP, "CSV Injection" (= + - @, tab, carriage return, line feed, and their full-width forms).
"""

from __future__ import annotations

import re

MARK = "'"
SIGNS = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"
_STARTS = re.compile(f"{MARK}*[{re.escape(SIGNS)}]")
_MARKED = re.compile(f"{MARK}+[{re.escape(SIGNS)}]")


def runs(text: str) -> bool:
    """Whether a spreadsheet might take the text for something to run."""
    return text[:1] in SIGNS and text != ""


def inert(text: str) -> str:
    """The text with an apostrophe before it where it would be run; `as_typed` takes it away again.

    >>> inert("=1+1"), inert("1+004.00 @ 3:00")
    ("'=1+1", '1+004.00 @ 3:00')
    """
    return f"{MARK}{text}" if _STARTS.match(text) else text


def as_typed(text: str) -> str:
    """What `inert` was given.

    >>> as_typed("'=1+1"), as_typed("'tis")
    ('=1+1', "'tis")
    """
    return text[len(MARK) :] if _MARKED.match(text) else text
