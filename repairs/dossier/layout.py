"""What the pages of a document are made of: letters and spacing, headings with bookmarks, tables."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, NamedTuple

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import (
    Flowable,
    Paragraph,
    Spacer,
    Table,
)

from mapping.symbols import PRINT_PALETTE
from repairs.dossier.ledger import LEADING, PAD, SIZE, Ledger, Row, broken
from repairs.dossier.lettering import FONTS, markup, printable

MARGIN, TOP, BOTTOM = 42.0, 62.0, 56.0
_LONGEST_HEADING = 200
INK, SOFT, LINE, STEEL, TINT = (HexColor(PRINT_PALETTE[role]) for role in ("ink", "soft", "line", "steel", "tint"))

BODY = ParagraphStyle("body", fontName=FONTS.regular, fontSize=9, leading=13, textColor=INK, spaceAfter=5)
LEAD = ParagraphStyle("lead", BODY, keepWithNext=1)
"""A sentence that stays with the table it introduces."""
NOTE = ParagraphStyle("note", BODY, fontSize=8, leading=11.5, textColor=SOFT)
ITEM = ParagraphStyle("item", BODY, leftIndent=11, bulletIndent=1, spaceAfter=3)
OVERLINE = ParagraphStyle("overline", NOTE, spaceAfter=2)
TITLE = ParagraphStyle("title", BODY, fontName=FONTS.bold, fontSize=21, leading=26, spaceAfter=2)
VERDICT = ParagraphStyle("verdict", BODY, fontName=FONTS.bold, fontSize=13, leading=19, spaceBefore=10, spaceAfter=10)
SECTION = ParagraphStyle(
    "section", BODY, fontName=FONTS.bold, fontSize=14, leading=18, spaceBefore=18, spaceAfter=6, keepWithNext=1
)
CHAPTER = ParagraphStyle("chapter", TITLE, fontSize=18, leading=23, keepWithNext=1)
PART = ParagraphStyle(
    "part", BODY, fontName=FONTS.bold, fontSize=10, leading=14, spaceBefore=10, spaceAfter=3, keepWithNext=1
)
CAUTION = ParagraphStyle(
    "caution",
    BODY,
    borderColor=INK,
    borderWidth=1,
    borderPadding=(6, 8, 7, 8),
    leftIndent=8,
    rightIndent=8,
    spaceBefore=14,
    spaceAfter=12,
)
_CELL = ParagraphStyle("cell", BODY, fontSize=SIZE, leading=LEADING, spaceAfter=0)
_LABEL = ParagraphStyle("label", _CELL, textColor=SOFT)
_LOOK: list[tuple[Any, ...]] = [
    ("FONT", (0, 0), (-1, -1), FONTS.regular, SIZE, LEADING),
    ("TEXTCOLOR", (0, 0), (-1, -1), INK),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), PAD),
    ("RIGHTPADDING", (0, 0), (-1, -1), PAD),
    ("TOPPADDING", (0, 0), (-1, -1), 2.2),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.8),
    ("LINEBELOW", (0, 0), (-1, -1), 0.4, LINE),
]


class Paper(NamedTuple):
    """Size of the pages, in points."""

    width: float
    height: float

    @property
    def measure(self) -> float:
        """Width between the margins."""
        return self.width - 2 * MARGIN

    @property
    def room(self) -> float:
        """Height between head and foot."""
        return self.height - TOP - BOTTOM


def paper_of(units: str) -> Paper:
    """US letter for readers in US units, else A4."""
    return Paper(*(LETTER if units == "us" else A4))


class Heading(Paragraph):
    """A heading that is a bookmark too; `key` is its name inside the document."""

    def __init__(self, text: str, style: ParagraphStyle, key: str, level: int, struck: bool = False) -> None:
        """`level` is that of its bookmark: 0 for the outermost."""
        shown = printable(text)
        if len(shown) > _LONGEST_HEADING:
            shown = f"{shown[:_LONGEST_HEADING]}…"
        super().__init__(f"<strike>{markup(shown)}</strike>" if struck else markup(shown), style)
        self.words, self.key, self.level = shown, key, level

    def split(self, *_room: float) -> list[Flowable]:
        """Never: a heading stays whole."""
        return []

    def draw(self) -> None:
        self.canv.bookmarkHorizontal(self.key, 0, self.height + 4)
        self.canv.addOutlineEntry(self.words, self.key, self.level, closed=True)
        self.canv.page_of[self.key] = self.canv.getPageNumber()
        super().draw()


def chapter(text: str, key: str) -> Heading:
    """The heading of a chapter, by which the contents find it."""
    return Heading(text, CHAPTER, key, 0)


def section(text: str) -> Heading:
    return Heading(text, SECTION, f"section {text}", 0)


def part(text: str, key: str, struck: bool = False) -> Heading:
    return Heading(text, PART, f"part {key}", 1, struck)


def says(text: object, style: ParagraphStyle = BODY) -> Paragraph:
    """A paragraph of plain text; nothing in it is taken for markup."""
    return Paragraph(markup(text), style)


def marked(xml: str, style: ParagraphStyle = BODY) -> Paragraph:
    """A paragraph of markup whose free text went through `markup`."""
    return Paragraph(xml, style)


def item(text: object) -> Paragraph:
    return Paragraph(markup(text), ITEM, bulletText="•")


def gap(points: float) -> Spacer:
    return Spacer(1, points)


def table(
    heads: Sequence[str],
    rows: Sequence[Sequence[object]],
    shares: Sequence[float],
    measure: float,
    struck: Collection[int] = (),
) -> list[Flowable]:
    """Rows under heads that are repeated on every page; `shares` of the measure. Nothing for no rows.

    `struck` rows have a line through all but their last cell, which says who or why.
    """
    widths = [share / sum(shares) * measure for share in shares]
    inner = [width - 2 * PAD - 0.1 for width in widths]

    def lines(cells: Sequence[object], font: str) -> tuple[tuple[str, ...], ...]:
        return tuple(broken(text, width, font) for text, width in zip(cells, inner, strict=True))

    made = [Row(lines(row, FONTS.regular), place in struck) for place, row in enumerate(rows)]
    return [Ledger(Row(lines(heads, FONTS.bold)), made, widths)] if made else []


def pairs(facts: Sequence[tuple[str, object]], measure: float) -> Flowable:
    """Names and their values, two to a line."""
    names, values = 0.17 * measure, 0.33 * measure
    cells = [[says(name, _LABEL), says(value, _CELL)] for name, value in facts if value not in ("", None)]
    if len(cells) % 2:
        cells.append(["", ""])
    half = len(cells) // 2
    rows = [[*cells[place], *cells[half + place]] for place in range(half)]
    made = Table(rows, [names, values, names, values], splitInRow=1, style=_LOOK, spaceAfter=8)
    made.whole = True
    return made
