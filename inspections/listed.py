"""Several items in one cell of a table: parted by strokes, semicolons or bars, in quotes where they hold one. No Django."""

from __future__ import annotations

import re
from collections.abc import Iterable

from accounts.wording import say

PARTS = "/;|"
_ITEM = re.compile(rf'\s*(?:"((?:[^"]|"")*)"\s*(?=[{PARTS}]|$)|([^{PARTS}]*))(?:[{PARTS}]|$)')


def items(text: str) -> list[str]:
    """The items of a cell; empty ones are passed over. `joined` writes what this reads.

    Raises ValueError where an item begins with a quotation mark and none ends it.

    >>> items('510 / 520; 515'), items('"north / south" / east')
    (['510', '520', '515'], ['north / south', 'east'])
    """
    found: list[str] = []
    at = 0
    while at < len(text) and (item := _ITEM.match(text, at)):
        quoted, bare = item.groups()
        if quoted is None and bare.startswith('"'):
            raise ValueError(
                say('begins with a quotation mark at {item}; end it with one too: "north / south" / east.', item=bare)
            )
        found.append((bare if quoted is None else quoted.replace('""', '"')).strip())
        at = item.end()
    return [item for item in found if item]


def joined(listed: Iterable[str]) -> str:
    """The items in one cell, those in quotes that would be parted or taken for quoted.

    >>> joined(["north / south", "east"])
    '"north / south" / east'
    """
    return " / ".join(_quoted(item) for item in listed)


def _quoted(item: str) -> str:
    if item.startswith('"') or any(mark in item for mark in PARTS):
        return '"' + item.replace('"', '""') + '"'
    return item
