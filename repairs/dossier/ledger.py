"""Long tables: rows under heads that come again on every page, drawn a page at a time.

A general table keeps a style for each cell and draws each by itself; this one has one look, wraps words by widths it has
seen before and sets a page in one piece, so that thousands of rows cost seconds and little memory.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache
from itertools import accumulate
from typing import Any, NamedTuple

from reportlab.lib.colors import HexColor
from reportlab.pdfbase.pdfmetrics import getAscent, stringWidth
from reportlab.platypus import Flowable

from mapping.symbols import PRINT_PALETTE
from repairs.dossier.lettering import FONTS, printable

SIZE = 7.5
LEADING = SIZE + 2.3
PAD = 3.0
FEW = 6
"""A table of so many rows stays on one page."""
_ABOVE, _BELOW = 3.4, 1.8
_TALL = 300.0
"""A row higher than this breaks over pages; others move to the next page whole."""
_LEAST_LINES = 2
_STRIKE = 0.32 * SIZE
_INK, _SOFT, _LINE = (HexColor(PRINT_PALETTE[role]) for role in ("ink", "soft", "line"))

Lines = tuple[str, ...]


class Row(NamedTuple):
    """One row: the lines of each cell; `struck` has a line through all but its last cell."""

    cells: tuple[Lines, ...]
    struck: bool = False

    @property
    def lines(self) -> int:
        return max(map(len, self.cells))

    @property
    def height(self) -> float:
        return _ABOVE + _BELOW + LEADING * self.lines


@lru_cache(maxsize=1 << 16)
def _width(word: str, font: str) -> float:
    return stringWidth(word, font, SIZE)


def broken(text: object, width: float, font: str = FONTS.regular) -> Lines:
    """The text in lines no wider than `width` points; only a word that is wider than a line is broken inside."""
    lines: list[str] = []
    line, used = "", 0.0
    space = _width(" ", font)
    for word in printable(text).split(" "):
        needed = _width(word, font)
        if line and used + space + needed <= width:
            line, used = f"{line} {word}", used + space + needed
            continue
        if line:
            lines.append(line)
        while needed > width and len(word) > 1:
            fits = _fitting(word, width, font)
            lines.append(word[:fits])
            word = word[fits:]
            needed = _width(word, font)
        line, used = word, needed
    return (*lines, line)


def _fitting(word: str, width: float, font: str) -> int:
    """How many of its letters fit on a line, at least one."""
    used = 0.0
    for count, letter in enumerate(word):
        used += _width(letter, font)
        if used > width:
            return max(count, 1)
    return len(word)


class Ledger(Flowable):
    """A table as wide as its columns together: rows from `first` up to `last`, the whole of them when left out."""

    def __init__(
        self,
        heads: Row,
        rows: Sequence[Row],
        widths: Sequence[float],
        part: tuple[int, int] | None = None,
        depths: Sequence[float] | None = None,
    ) -> None:
        super().__init__()
        self.heads, self.rows, self.widths = heads, rows, widths
        self.first, self.last = part or (0, len(rows))
        self.depths = depths or list(accumulate((row.height for row in rows), initial=0.0))
        self.whole = self.last - self.first <= FEW
        self.spaceAfter = 8
        self.width = sum(widths)
        self.height = heads.height + self.depths[self.last] - self.depths[self.first]

    def wrap(self, *_room: float) -> tuple[float, float]:
        return self.width, self.height

    def split(self, _width: float, room: float) -> list[Flowable]:
        lowest = self.depths[self.first] + room - self.heads.height
        next_ = min(bisect_right(self.depths, lowest, self.first) - 1, self.last)
        if next_ < self.last and self.rows[next_].height > _TALL:
            fit = int((lowest - self.depths[next_] - _ABOVE - _BELOW) / LEADING)
            if fit >= _LEAST_LINES:
                return self._broken_inside(next_, fit)
        if next_ <= self.first:
            return []
        return [self._part(self.first, next_), self._part(next_, self.last)]

    def _part(self, first: int, last: int) -> Ledger:
        return Ledger(self.heads, self.rows, self.widths, (first, last), self.depths)

    def _broken_inside(self, place: int, fit: int) -> list[Flowable]:
        """The rows before `place` with so many lines of the row there, and the rest."""
        cells, struck = self.rows[place]
        above, below = (Row(tuple(cell[part] for cell in cells), struck) for part in (slice(fit), slice(fit, None)))
        return [
            Ledger(self.heads, [*self.rows[self.first : place], above], self.widths),
            Ledger(self.heads, [below, *self.rows[place + 1 : self.last]], self.widths),
        ]

    def draw(self) -> None:
        canvas, y = self.canv, self.height
        text = canvas.beginText()
        rules: list[tuple[float, float, float, float]] = []
        strikes: list[tuple[float, float, float, float]] = []
        self._set(text, self.heads, y, FONTS.bold, strikes)
        y -= self.heads.height
        under_heads = y
        for row in self.rows[self.first : self.last]:
            self._set(text, row, y, FONTS.regular, strikes)
            y -= row.height
            rules.append((0, y, self.width, y))
        canvas.drawText(text)
        canvas.setLineWidth(0.4)
        canvas.setStrokeColor(_LINE)
        canvas.lines(rules)
        canvas.setStrokeColor(_SOFT)
        canvas.setLineWidth(0.8)
        canvas.line(0, under_heads, self.width, under_heads)
        if strikes:
            canvas.setStrokeColor(_INK)
            canvas.setLineWidth(0.5)
            canvas.lines(strikes)

    def _set(
        self, text: Any, row: Row, top: float, font: str, strikes: list[tuple[float, float, float, float]]
    ) -> None:
        """Set a row's words from `top` downwards; heads stand on their lower edge."""
        text.setFont(font, SIZE, LEADING)
        heads = row is self.heads
        text.setFillColor(_SOFT if heads else _INK)
        x, ascent = PAD, getAscent(font, SIZE)
        for column, (cell, width) in enumerate(zip(row.cells, self.widths, strict=True)):
            y = top - _ABOVE - ascent - (LEADING * (row.lines - len(cell)) if heads else 0)
            for line in cell:
                if line:
                    text.setTextOrigin(x, y)
                    text.textOut(line)
                    if row.struck and column < len(row.cells) - 1:
                        strikes.append((x, y + _STRIKE, x + stringWidth(line, font, SIZE), y + _STRIKE))
                y -= LEADING
            x += width
