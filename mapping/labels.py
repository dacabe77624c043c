"""Places labels on one row of a sheet so that none covers a symbol or another label or leaves the row.

All lengths are marks (1 mark = 1 px on screen, 1 pt on paper). The browser's painter follows the same rules to the
letter, and a test compares the two lists: change both or neither.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import NamedTuple

CHARACTER = 0.66
"""Assumed width of a letter in ems: that of a wide system font's capitals, so that narrower fonts fit too."""

WIDE_CHARACTER = 1.1
"""Assumed width in ems of letters from U+1100 on (Hangul, kana, ideographs)."""

_ASCENT, _DESCENT = 0.8, 0.25
_COLUMN = 64.0


class Box(NamedTuple):
    left: float
    top: float
    right: float
    bottom: float


class Placed(NamedTuple):
    """Offset of a text's baseline point from what it names, and which end of the text is there."""

    dx: float
    dy: float
    anchor: str


def text_width(text: str, size: float) -> float:
    """Assumed width of `text` in marks when set `size` marks high."""
    return size * sum(WIDE_CHARACTER if ord(letter) >= 0x1100 else CHARACTER for letter in text)


def text_box(px: float, py: float, width: float, size: float, placed: Placed) -> Box:
    """The box that a text `width` marks wide fills when placed beside the point (px, py)."""
    left = px + placed.dx - {"start": 0.0, "middle": width / 2, "end": width}[placed.anchor]
    baseline = py + placed.dy
    return Box(left, baseline - size * _ASCENT, left + width, baseline + size * _DESCENT)


class LabelField:
    """The free room of one row, `width` by `height` marks."""

    def __init__(self, width: float, height: float) -> None:
        self.width = width
        self.height = height
        self._taken: dict[int, list[Box]] = defaultdict(list)
        self._lines: dict[int, list[Box]] = defaultdict(list)

    def block(self, px: float, py: float, half_width: float, half_height: float) -> None:
        """Keep labels off a symbol centred at (px, py)."""
        _register(self._taken, Box(px - half_width, py - half_height, px + half_width, py + half_height))

    def block_text(self, px: float, py: float, text: str, size: float, placed: Placed) -> None:
        """Keep labels off a text that stands where it stands."""
        _register(self._taken, text_box(px, py, text_width(text, size), size, placed))

    def avoid_line(self, px: float) -> None:
        """Prefer to keep labels off an upright line; a label may cross it when there is no other room."""
        _register(self._lines, Box(px - 2.0, 0.0, px + 2.0, self.height))

    def place(self, text: str, size: float, px: float, py: float, half: tuple[float, float]) -> Placed | None:
        """Find room right, left, above or below something centred at (px, py) and reaching `half` marks each way.

        Takes the room found. None when there is none: the label is then left out.
        """
        half_width, half_height = half
        candidates = (
            Placed(half_width + 2.0, size * 0.33, "start"),
            Placed(-half_width - 2.0, size * 0.33, "end"),
            Placed(0.0, -half_height - 3.0, "middle"),
            Placed(0.0, half_height + size * 0.9, "middle"),
        )
        return self._first_free(text, size, px, py, candidates)

    def place_inside(self, text: str, size: float, px: float, py: float) -> Placed | None:
        """Find room for a text centred on (px, py) itself. Takes the room found."""
        return self._first_free(text, size, px, py, (Placed(0.0, size * 0.33, "middle"),))

    def _first_free(self, text: str, size: float, px: float, py: float, candidates: Iterable[Placed]) -> Placed | None:
        width = text_width(text, size)
        crossing: Placed | None = None
        for placed in candidates:
            box = text_box(px, py, width, size, placed)
            if box.left < 0 or box.top < 0 or box.right > self.width or box.bottom > self.height:
                continue
            if _hits(self._taken, box):
                continue
            if not _hits(self._lines, box):
                _register(self._taken, box)
                return placed
            crossing = crossing or placed
        if crossing is not None:
            _register(self._taken, text_box(px, py, width, size, crossing))
        return crossing


def place_along(
    wanted: Iterable[tuple[float, str]], width: float, size: float, gap: float = 8.0
) -> list[tuple[float, str, Placed]]:
    """Place texts along an axis `width` marks long; earlier ones win, later ones that would collide are left out.

    A text stands centred on its mark; where it would leave 0 to `width` it starts or ends there instead.
    """
    taken: list[tuple[float, float]] = []
    kept = []
    for px, text in wanted:
        long = text_width(text, size)
        placed = Placed(0.0, 0.0, "middle")
        left = px - long / 2
        if left < 0:
            placed, left = Placed(-px, 0.0, "start"), 0.0
        elif left + long > width:
            placed, left = Placed(width - px, 0.0, "end"), width - long
        if long > width or any(left < right + gap and left + long + gap > start for start, right in taken):
            continue
        taken.append((left, left + long))
        kept.append((px, text, placed))
    return kept


def _columns(box: Box) -> range:
    return range(int(box.left // _COLUMN), int(box.right // _COLUMN) + 1)


def _register(where: dict[int, list[Box]], box: Box) -> None:
    for column in _columns(box):
        where[column].append(box)


def _hits(where: dict[int, list[Box]], box: Box) -> bool:
    return any(
        box.left < other.right and box.right > other.left and box.top < other.bottom and box.bottom > other.top
        for column in _columns(box)
        for other in where.get(column, ())
    )
