"""The map of the zone over as many pages as it needs, drawn as vectors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import CondPageBreak, Flowable

from accounts.units import FILM
from accounts.wording import say
from mapping.drawing import Sheet
from mapping.paint import (
    over_all,
    paint,
    paint_legend,
    paint_overview,
    paint_words,
    rows_height,
    rows_that_fit,
)
from mapping.rows import Row
from mapping.scene import Text
from repairs.dossier.layout import Paper, gap, says, section
from repairs.dossier.lettering import FONTS, printable
from repairs.dossier.papers import Papers
from repairs.dossier.reader import Reader
from repairs.film_map import film_map
from repairs.picture import ZonePicture
from repairs.zone_sheet import drawing_of

MARKS = 700.0
"""Width of a row in marks: letters of 11 marks come out about 7.5 points high."""
_WORDS = 66.0
"""Room for the heading and the sentence above the map."""
_ABOVE = 230.0
"""Room for all that stands above the first row."""


class Rows(Flowable):
    """Rows of a sheet; breaks between rows, never inside one."""

    def __init__(self, sheet: Sheet, width: float, rows: range) -> None:
        super().__init__()
        self.sheet, self.shown, self.rows = sheet, width, rows

    def wrap(self, *_room: float) -> tuple[float, float]:
        return self.shown, rows_height(self.sheet, self.shown, len(self.rows))

    def split(self, _width: float, room: float) -> list[Flowable]:
        fit = min(rows_that_fit(self.sheet, self.shown, room), len(self.rows))
        if fit == 0:
            return []
        return [Rows(self.sheet, self.shown, self.rows[:fit]), Rows(self.sheet, self.shown, self.rows[fit:])]

    def draw(self) -> None:
        height = rows_height(self.sheet, self.shown, len(self.rows))
        paint(self.sheet, self.canv, 0, height, self.shown, self.rows, FONTS)


Painter = Callable[..., float]


class Painted(Flowable):
    """Something painted from its top downwards that tells its height only by painting it."""

    def __init__(self, painter: Painter, sheet: Sheet, width: float) -> None:
        super().__init__()
        self.painter, self.sheet, self.shown = painter, sheet, width
        self.high = painter(sheet, Canvas(None), 0, 0, width, FONTS)

    def wrap(self, *_room: float) -> tuple[float, float]:
        return self.shown, self.high

    def draw(self) -> None:
        self.painter(self.sheet, self.canv, 0, self.high, self.shown, FONTS)


def map_of(picture: ZonePicture, paper: Paper) -> list[Flowable]:
    """The section with the map of the zone's ground."""
    told = (
        say("Ground as left: after repair and later work.")
        if picture.left
        else say("Ground as found at the stage {stage}.", stage=picture.stage.name)
    )
    drawn = say("Every flaw, patch, exclusion and landmark is drawn where it was said to be.")
    return sheet_section(say("Map"), f"{told} {drawn}", partial(drawing_of, picture), paper)


def film_map_of(papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """The section with the thickness map of the finished film; nothing where no spot was taken of it."""
    film = papers.films[-1]
    if not film.spots:
        return []
    told = say(
        "Finished film: every spot is drawn where it was taken, with its mean in {unit}. Nothing is interpolated between spots.",
        unit=FILM.us if reader.units == "us" else FILM.si.name,
    )
    draw = partial(film_map, film, reader.units)
    return sheet_section(say("Thickness map"), told, draw, paper)


def sheet_section(title: str, told: str, draw: Callable[..., Sheet], paper: Paper) -> list[Flowable]:
    """Words, overview, legend, and the rows at true scale, of what `draw` draws at a row width and length.

    A zone so short and wide that its one row is narrower than the page needs no overview.
    """
    sheet = _lettered(_fitted(draw, paper))
    width = paper.measure * over_all(sheet) / over_all(replace(sheet, row_width=MARKS))
    whole = sheet.scene.view.plan or sheet.row_width < MARKS
    painters = (paint_words, paint_legend) if whole else (paint_words, paint_overview, paint_legend)
    above = [Painted(painter, sheet, paper.measure) for painter in painters]
    return [
        CondPageBreak(sum(each.high for each in above) + _WORDS + rows_height(sheet, width, 1)),
        section(title),
        says(told),
        *above,
        gap(6),
        Rows(sheet, width, range(len(sheet.rows))),
    ]


def _fitted(draw: Callable[..., Sheet], paper: Paper) -> Sheet:
    """The sheet, its rows made shorter where one of them would be higher than a page."""
    sheet = draw(row_width=MARKS)
    factor = paper.measure / over_all(sheet)
    room = (paper.room - _ABOVE) / factor
    if sheet.scene.view.height * sheet.scale <= room:
        return sheet
    return draw(row_width=room / sheet.scene.view.height * sheet.row_length, row_length=sheet.row_length)


def _lettered(sheet: Sheet) -> Sheet:
    """The sheet with names and reasons in letters that the font has."""
    return replace(sheet, rows=tuple(_row(row) for row in sheet.rows), overview=_row(sheet.overview))


def _row(row: Row) -> Row:
    return replace(
        row, items=tuple(replace(it, text=printable(it.text)) if isinstance(it, Text) else it for it in row.items)
    )
