"""Pages of the dossier: letters and spacing, headings with bookmarks, tables, and what stands on every page."""

from __future__ import annotations

import io
from collections.abc import Collection, Sequence
from typing import Any, NamedTuple

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    KeepTogether,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
)

from mapping.symbols import PRINT_PALETTE
from repairs.dossier.ledger import LEADING, PAD, SIZE, Ledger, Row, broken
from repairs.dossier.lettering import FONTS, markup, printable

MARGIN, TOP, BOTTOM = 42.0, 62.0, 56.0
_LONGEST_HEADING = 200
_LEAST = 150.0
"""Room that a heading with the beginning of a long table asks for."""
_PAGES = "number-of-pages"
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


class Standing(NamedTuple):
    """What stands on every page: two lines above, the head of the record below."""

    title: str
    above: tuple[str, str]
    below: str


class Heading(Paragraph):
    """A heading that is a bookmark too; `key` is its name inside the document."""

    def __init__(self, text: str, style: ParagraphStyle, key: str, level: int, struck: bool = False) -> None:
        shown = printable(text)
        if len(shown) > _LONGEST_HEADING:
            shown = f"{shown[:_LONGEST_HEADING]}…"
        super().__init__(f"<strike>{markup(shown)}</strike>" if struck else markup(shown), style)
        self.entry = (shown, key, level)

    def split(self, *_room: float) -> list[Flowable]:
        """Never: a heading stays whole."""
        return []

    def draw(self) -> None:
        text, key, level = self.entry
        self.canv.bookmarkHorizontal(key, 0, self.height + 4)
        self.canv.addOutlineEntry(text, key, level, closed=level > 0)
        super().draw()


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


def _kept_together(story: list[Flowable]) -> list[Flowable]:
    """The story with headings and leads bound to what they introduce.

    A short table moves to the next page whole, with what stands above it; a long one begins where it stands, unless
    hardly anything of it would.
    """
    bound: list[Flowable] = []
    held: list[Flowable] = []
    for flowable in story:
        if flowable.getKeepWithNext():
            held.append(flowable)
            continue
        if getattr(flowable, "whole", not isinstance(flowable, Table | Ledger)):
            bound += [KeepTogether([*held, flowable])] if held or isinstance(flowable, Table | Ledger) else [flowable]
        else:
            for above in held:
                above.keepWithNext = 0
            bound += [CondPageBreak(_LEAST), *held, flowable] if held else [flowable]
        held = []
    return bound + held


def build(story: list[Flowable], paper: Paper, standing: Standing) -> bytes:
    """The document's bytes: the same story gives the same bytes."""
    held = io.BytesIO()
    document = BaseDocTemplate(
        held,
        pagesize=tuple(paper),
        title=printable(standing.title),
        author="Barespot",
        subject=printable(", ".join(standing.above)),
        creator="Barespot",
        lang="en",
        invariant=1,
        initialFontName=FONTS.regular,
    )
    frame = Frame(
        MARGIN, BOTTOM, paper.measure, paper.room, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0
    )

    def page(canvas: Canvas, _document: BaseDocTemplate) -> None:
        _head_and_foot(canvas, paper, standing)

    document.addPageTemplates(PageTemplate("page", [frame], onPage=page))
    document.build(_kept_together(story), canvasmaker=_Pages)
    return held.getvalue()


class _Pages(Canvas):
    """A canvas that knows only at the end how many pages there are: each refers to one form that says so."""

    def save(self) -> None:
        pages = self.getPageNumber() - 1
        self.beginForm(_PAGES, 0, -3, 40, 10)
        self.setFillColor(SOFT)
        self.setFont(FONTS.regular, 7)
        self.drawString(0, 0, f" {pages}")
        self.endForm()
        super().save()


def _head_and_foot(canvas: Canvas, paper: Paper, standing: Standing) -> None:
    right, numbers = paper.width - MARGIN, paper.width - MARGIN - 14
    canvas.saveState()
    canvas.setFillColor(SOFT)
    canvas.setStrokeColor(LINE)
    canvas.setLineWidth(0.6)
    for place, words in enumerate(standing.above):
        canvas.setFont(FONTS.bold if place == 0 else FONTS.regular, 7.5)
        canvas.drawString(
            MARGIN,
            paper.height - 30 - 10.5 * place,
            _fitted(words, FONTS.bold if place == 0 else FONTS.regular, 7.5, paper.measure),
        )
    canvas.line(MARGIN, paper.height - 47, right, paper.height - 47)
    canvas.line(MARGIN, 42, right, 42)
    canvas.setFont(FONTS.regular, 7)
    canvas.drawString(MARGIN, 30, standing.below)
    canvas.drawRightString(numbers, 30, f"page {canvas.getPageNumber()} of")
    canvas.translate(numbers, 30)
    canvas.doForm(_PAGES)
    canvas.restoreState()


def _fitted(words: str, font: str, size: float, width: float) -> str:
    """The words, cut with an ellipsis where they are too long for the line; the first page has them whole."""
    shown = printable(words)
    if stringWidth(shown, font, size) <= width:
        return shown
    while shown and stringWidth(f"{shown}…", font, size) > width:
        shown = shown[:-1]
    return f"{shown.rstrip()}…"
