"""A document's pages: what stands on each, how chapters follow one another, and contents with the numbers of their pages.

Each chapter is made only when the one before it is set, so that a long document takes the memory of its longest chapter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import IO, Any, NamedTuple

from django.utils.translation import get_language
from reportlab import rl_config
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    ActionFlowable,
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Table,
)

from accounts.wording import say
from repairs.dossier.layout import BOTTOM, INK, LINE, MARGIN, SOFT, STEEL, Heading, Paper
from repairs.dossier.ledger import Ledger
from repairs.dossier.lettering import FONTS, printable

rl_config.useA85 = 0  # pages are compressed bytes: written as letters they would be a quarter longer and slower

_LEAST = 150.0
"""Room that a heading with the beginning of a long table asks for."""
_PAGES = "number-of-pages"
_SMALL = 7.0
_NEVER_FITS = 1e6


class Standing(NamedTuple):
    """What stands on every page: two lines above, the head of the record below; `title` is the document's."""

    title: str
    above: tuple[str, str]
    below: str


class _Document(BaseDocTemplate):
    standing: Standing


class _Under(ActionFlowable):
    """From the next page on, something else stands above."""

    def __init__(self, standing: Standing) -> None:
        super().__init__()
        self.standing = standing

    def apply(self, doc: Any) -> None:
        doc.standing = self.standing


class Chapter(Flowable):
    """A chapter that begins on a new page, made when its place is reached: `story` gives what stands above and in it."""

    _ZEROSIZE = True  # reached also on a page that is full to its last point; else that would leave an empty one

    def __init__(self, story: Callable[[], tuple[Standing, list[Flowable]]]) -> None:
        super().__init__()
        self.story = story

    def wrap(self, *_room: float) -> tuple[float, float]:
        return 0, _NEVER_FITS

    def split(self, *_room: float) -> list[Flowable]:
        standing, story = self.story()
        return [_Under(standing), PageBreak(), *kept_together(story)]


def below(story: Iterable[Flowable], key: str) -> list[Flowable]:
    """The story with its headings one level down, their names made the chapter's own."""
    moved = list(story)
    for flowable in moved:
        if isinstance(flowable, Heading):
            flowable.key, flowable.level = f"{key} {flowable.key}", flowable.level + 1
    return moved


class ContentsLine(Flowable):
    """A line of the contents: a title, what is said of it, and the page of the heading with this key, to be pressed."""

    HIGH = 17.0

    def __init__(self, title: str, said: str, key: str) -> None:
        super().__init__()
        self.title, self.said, self.key = title, said, key

    def wrap(self, width: float, _room: float) -> tuple[float, float]:
        self.width = width
        return width, self.HIGH

    def draw(self) -> None:
        canvas, size = self.canv, 9.0
        title = fitted(self.title, FONTS.regular, size, 0.55 * self.width)
        after = stringWidth(title, FONTS.regular, size) + 10
        canvas.setFont(FONTS.regular, size)
        canvas.setFillColor(STEEL)
        canvas.drawString(0, 5, title)
        canvas.setFillColor(SOFT)
        canvas.setFont(FONTS.regular, 8)
        said = fitted(self.said, FONTS.regular, 8, self.width - after - 45)
        canvas.drawString(after, 5, said)
        canvas.setStrokeColor(LINE)
        canvas.setLineWidth(0.4)
        canvas.line(0, 0, self.width, 0)
        canvas.saveState()
        canvas.translate(self.width - 40, 5)
        canvas.doForm(canvas.number_of(self.key))
        canvas.restoreState()
        canvas.linkRect("", self.key, (0, 0, self.width, self.HIGH - 1), relative=1, thickness=0)


def kept_together(story: Iterable[Flowable]) -> list[Flowable]:
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


def write(story: Iterable[Flowable], paper: Paper, standing: Standing, file: IO[bytes]) -> None:
    """Write the document: the same story gives the same bytes."""
    document = _Document(
        file,
        pagesize=tuple(paper),
        title=printable(standing.title),
        author="Barespot",
        subject=printable(", ".join(standing.above)),
        creator="Barespot",
        lang=get_language() or "en",
        invariant=1,
        initialFontName=FONTS.regular,
    )
    document.standing = standing
    frame = Frame(
        MARGIN, BOTTOM, paper.measure, paper.room, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0
    )

    def page(canvas: Canvas, document: Any) -> None:
        _head_and_foot(canvas, paper, document.standing)

    document.addPageTemplates(PageTemplate("page", [frame], onPage=page))
    document.build(kept_together(story), canvasmaker=_Pages)


class _Pages(Canvas):
    """A canvas that knows only at the end how many pages there are and on which each heading stands.

    Whoever tells one of these numbers refers to a form, which is drawn at the end.
    """

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.page_of: dict[str, int] = {}
        self._asked: dict[str, str] = {}

    def number_of(self, key: str) -> str:
        """The form that says, right-aligned in 40 points, on which page the heading with this key stands."""
        return self._asked.setdefault(key, f"page-{len(self._asked)}")

    def save(self) -> None:
        self._form(_PAGES, f" {self.getPageNumber() - 1}", _SMALL, right=False)
        for key, form in self._asked.items():
            self._form(form, str(self.page_of.get(key, "")), 9.0, right=True)
        super().save()

    def _form(self, name: str, words: str, size: float, *, right: bool) -> None:
        self.beginForm(name, 0, -3, 40, 10)
        self.setFillColor(INK if right else SOFT)
        self.setFont(FONTS.regular, size)
        if right:
            self.drawRightString(40, 0, words)
        else:
            self.drawString(0, 0, words)
        self.endForm()


def _head_and_foot(canvas: Canvas, paper: Paper, standing: Standing) -> None:
    right, numbers = paper.width - MARGIN, paper.width - MARGIN - 14
    canvas.saveState()
    canvas.setFillColor(SOFT)
    canvas.setStrokeColor(LINE)
    canvas.setLineWidth(0.6)
    for place, (words, font) in enumerate(zip(standing.above, FONTS[::-1], strict=True)):
        canvas.setFont(font, 7.5)
        canvas.drawString(MARGIN, paper.height - 30 - 10.5 * place, fitted(words, font, 7.5, paper.measure))
    canvas.line(MARGIN, paper.height - 47, right, paper.height - 47)
    canvas.line(MARGIN, 42, right, 42)
    canvas.setFont(FONTS.regular, _SMALL)
    canvas.drawString(MARGIN, 30, standing.below)
    canvas.drawRightString(numbers, 30, say("page {number} of", number=canvas.getPageNumber()))
    canvas.translate(numbers, 30)
    canvas.doForm(_PAGES)
    canvas.restoreState()


def fitted(words: str, font: str, size: float, width: float) -> str:
    """The words, cut with an ellipsis where they are too long for `width` points."""
    shown = printable(words)
    if stringWidth(shown, font, size) <= width:
        return shown
    while shown and stringWidth(f"{shown}…", font, size) > width:
        shown = shown[:-1]
    return f"{shown.rstrip()}…"
