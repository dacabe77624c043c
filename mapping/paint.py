"""Paints a drawn zone on a ReportLab canvas as vectors: true to scale, symbols as form objects, rows over many pages.

Everything is measured in points from the top left corner (x, y) given; each function returns the height it used.
The caller owns the canvas and its pages; with `invariant=1` the bytes are the same every time.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from reportlab.lib.colors import HexColor
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import FILL_EVEN_ODD, Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from accounts.wording import say
from mapping.drawing import BAR_HEIGHT, OVERVIEW_HEIGHT, Sheet
from mapping.labels import text_width
from mapping.rows import Row
from mapping.scene import Area, Hatch, Line, Symbol, Text
from mapping.symbols import AREAS, CHIP_HALF, HATCHES, LINES, PRINT_PALETTE, SYMBOLS, TEXTS, Part, Stroke
from mapping.wire import legend

GUTTER = 46.0
HEAD = 24.0
FOOT = 24.0
_WORD_SIZE = 9.0
_LEADING = 12.0


class Fonts(NamedTuple):
    """Names of registered fonts; the standard ones hold Latin letters only."""

    regular: str = "Helvetica"
    bold: str = "Helvetica-Bold"


LATIN = Fonts()


def over_all(sheet: Sheet) -> float:
    """Marks from the left of what is written beside a row to the right of what is written there."""
    return GUTTER + sheet.row_width + sheet.scene.view.right


def rows_height(sheet: Sheet, width: float, count: int) -> float:
    """Points that `count` rows of the sheet need when it is painted `width` points wide."""
    return count * _pitch(sheet) * _factor(sheet, width)


def rows_that_fit(sheet: Sheet, width: float, room: float) -> int:
    """How many whole rows fit into `room` points of height."""
    return int(room / (_pitch(sheet) * _factor(sheet, width)) + 1e-9)


def paint(
    sheet: Sheet, canvas: Canvas, x: float, y: float, width: float, rows: range | None = None, fonts: Fonts = LATIN
) -> float:
    """Paint rows (all when None) one under the other, `width` points wide over all.

    Raises
    ------
    ValueError
        When `rows` reaches past the sheet's rows.
    """
    shown = range(len(sheet.rows)) if rows is None else rows
    if any(not 0 <= number < len(sheet.rows) for number in shown):
        raise ValueError(
            say(
                "rows {shown!r} is not allowed: the sheet has rows 0 to {count}", shown=shown, count=len(sheet.rows) - 1
            )
        )
    factor = _factor(sheet, width)
    _define_symbols(canvas)
    for place, number in enumerate(shown):
        canvas.saveState()
        canvas.translate(x + GUTTER * factor, y - (place * _pitch(sheet) + HEAD) * factor)
        canvas.scale(factor, -factor)
        _row(canvas, sheet.rows[number], sheet.scale, sheet.scale, fonts)
        canvas.restoreState()
    return rows_height(sheet, width, len(shown))


def paint_overview(sheet: Sheet, canvas: Canvas, x: float, y: float, width: float, fonts: Fonts = LATIN) -> float:
    """Paint the stretched strip of the whole zone with the words that say so."""
    factor = _factor(sheet, width)
    view = sheet.scene.view
    canvas.saveState()
    canvas.translate(x + GUTTER * factor, y - 2.0)
    canvas.scale(factor, -factor)
    _row(canvas, sheet.overview, sheet.row_width / view.length, OVERVIEW_HEIGHT / view.height, fonts)
    canvas.restoreState()
    bars = BAR_HEIGHT + 4.0 if sheet.scene.flaws else 0.0
    used = 2.0 + (OVERVIEW_HEIGHT + bars) * factor + 2.0
    room = sheet.row_width * factor
    return used + _paragraph(canvas, sheet.overview_words, x + GUTTER * factor, y - used, room, fonts)


def paint_words(sheet: Sheet, canvas: Canvas, x: float, y: float, width: float, fonts: Fonts = LATIN) -> float:
    """Paint from where the sheet is seen and how long its rows are."""
    return _paragraph(canvas, sheet.words, x, y, width, fonts)


def paint_legend(sheet: Sheet, canvas: Canvas, x: float, y: float, width: float, fonts: Fonts = LATIN) -> float:
    """Paint the symbols and patterns that occur on the sheet, each with its word, in as many lines as needed."""
    _define_symbols(canvas)
    right, line = 0.0, 0
    for entry in legend(sheet):
        words = entry.words
        half = 0.8 * (
            CHIP_HALF[0] if entry.style == "cell" else 10.0 if entry.style in sheet.scene.marking.statuses else 13.0
        )
        needed = 2 * half + 18.0 + stringWidth(words, fonts.regular, _WORD_SIZE)
        if right > 0 and right + needed > width:
            right, line = 0.0, line + 1
        canvas.saveState()
        canvas.translate(x + right + half, y - 11.0 - line * 20.0)
        canvas.scale(0.8, -0.8)
        _swatch(canvas, entry.style, f"small-{sheet.scene.marking.statuses[0]}", fonts)
        canvas.restoreState()
        canvas.setFillColor(_colour("soft"))
        canvas.setFont(fonts.regular, _WORD_SIZE)
        canvas.drawString(x + right + 2 * half + 4.0, y - 14.0 - line * 20.0, words)
        right += needed
    return (line + 1) * 20.0 + 4.0


def _factor(sheet: Sheet, width: float) -> float:
    return width / over_all(sheet)


def _pitch(sheet: Sheet) -> float:
    return HEAD + sheet.scene.view.height * sheet.scale + FOOT


def _colour(role: str) -> HexColor:
    return HexColor(PRINT_PALETTE[role])


def _paragraph(canvas: Canvas, words: str, x: float, y: float, width: float, fonts: Fonts) -> float:
    lines = simpleSplit(words, fonts.regular, _WORD_SIZE, width)
    canvas.setFillColor(_colour("soft"))
    canvas.setFont(fonts.regular, _WORD_SIZE)
    for number, line in enumerate(lines, 1):
        canvas.drawString(x, y - number * _LEADING, line)
    return len(lines) * _LEADING + 4.0


def _row(canvas: Canvas, row: Row, scale_u: float, scale_v: float, fonts: Fonts) -> None:
    """Paint a row's items; the canvas is in marks, y down, with its origin at the row's top left corner."""

    def at(u: float, v: float) -> tuple[float, float]:
        return (u - row.start) * scale_u, v * scale_v

    canvas.saveState()
    frame = canvas.beginPath()
    frame.rect(0, 0, (row.end - row.start) * scale_u, row.height * scale_v)
    canvas.clipPath(frame, stroke=0, fill=0)
    for item in row.items:
        if isinstance(item, Area):
            _area(canvas, item.style, _path(canvas, [[at(*point) for point in ring] for ring in item.rings]))
        elif isinstance(item, Hatch):
            points = [[at(*point) for point in ring] for ring in item.rings]
            _hatch(canvas, item.style, _path(canvas, points), _bounds(points[0]))
    canvas.restoreState()
    for item in row.items:
        if isinstance(item, Line):
            _stroke(canvas, LINES[item.style])
            canvas.drawPath(_path(canvas, [[at(*point) for point in item.points]], closed=False), stroke=1, fill=0)
    for item in row.items:
        if isinstance(item, Symbol):
            canvas.saveState()
            canvas.translate(*at(item.u, item.v))
            canvas.doForm(_form(item.style))
            canvas.restoreState()
    for item in row.items:
        if isinstance(item, Text):
            _text(canvas, item, *at(item.u, item.v), fonts)


def _path(canvas: Canvas, rings: Iterable[Iterable[tuple[float, float]]], closed: bool = True) -> PDFPathObject:
    path = canvas.beginPath()
    for ring in rings:
        for number, point in enumerate(ring):
            (path.lineTo if number else path.moveTo)(*point)
        if closed:
            path.close()
    return path


def _bounds(points: list[tuple[float, float]]) -> tuple[float, float, float, float]:
    return min(p[0] for p in points), min(p[1] for p in points), max(p[0] for p in points), max(p[1] for p in points)


def _stroke(canvas: Canvas, stroke: Stroke) -> None:
    canvas.setStrokeColor(_colour(stroke.colour))
    canvas.setLineWidth(stroke.width)
    canvas.setLineCap(1 if stroke.dash[:1] == (0.01,) else 0)
    canvas.setDash(list(stroke.dash))


def _area(canvas: Canvas, style: str, path: PDFPathObject) -> None:
    look = AREAS[style]
    if look.fill:
        canvas.setFillColor(_colour(look.fill))
    if look.edge:
        _stroke(canvas, look.edge)
    canvas.drawPath(path, stroke=int(look.edge is not None), fill=int(look.fill is not None), fillMode=FILL_EVEN_ODD)


def _hatch(canvas: Canvas, style: str, path: PDFPathObject, bounds: tuple[float, float, float, float]) -> None:
    look = HATCHES[style]
    canvas.setFillColor(_colour(look.fill))
    canvas.drawPath(path, stroke=0, fill=1, fillMode=FILL_EVEN_ODD)
    canvas.saveState()
    canvas.clipPath(path, stroke=0, fill=0, fillMode=FILL_EVEN_ODD)
    dash = (0.01, look.step) if look.kind == "dots" else ()
    _stroke(canvas, Stroke(look.stroke.colour, look.stroke.width, dash))
    canvas.lines(list(_hatch_lines(look.kind, look.step, bounds)))
    canvas.restoreState()
    _stroke(canvas, look.edge)
    canvas.drawPath(path, stroke=1, fill=0)


def _hatch_lines(
    kind: str, step: float, bounds: tuple[float, float, float, float]
) -> Iterator[tuple[float, float, float, float]]:
    """Lines over a box, on a raster common to the whole row so that neighbouring pieces join."""
    left, top, right, bottom = bounds
    if kind == "slanted":
        for number in range(int((left + top) // step), int((right + bottom) // step) + 1):
            yield number * step - top, top, number * step - bottom, bottom
    else:
        begin = left // step * step + step / 2
        for number in range(int(top // step), int(bottom // step) + 1):
            yield begin, (number + 0.5) * step, right, (number + 0.5) * step


def _text(canvas: Canvas, item: Text, px: float, py: float, fonts: Fonts) -> None:
    """Letters with a paper rim; letters wider than the room they were given are set narrower."""
    look = TEXTS[item.style]
    font = fonts.bold if look.bold else fonts.regular
    natural = stringWidth(item.text, font, look.size)
    narrower = min(1.0, text_width(item.text, look.size) / natural) if natural else 1.0
    left = {"start": 0.0, "middle": natural * narrower / 2, "end": natural * narrower}[item.anchor]
    canvas.saveState()
    canvas.translate(px + item.dx - left, py + item.dy)
    canvas.scale(narrower, -1)
    canvas.setFont(font, look.size)
    if look.rim:
        _stroke(canvas, Stroke("card", 2.5))
        canvas.setLineJoin(1)
        canvas.drawString(0, 0, item.text, mode=1)
    canvas.setFillColor(_colour(look.colour))
    canvas.drawString(0, 0, item.text, mode=0)
    canvas.restoreState()


def _swatch(canvas: Canvas, style: str, counted: str, fonts: Fonts) -> None:
    """A legend's picture, centred on the origin; `counted` is the symbol on a counted cell."""
    box = (-12.0, -8.0, 12.0, 8.0)
    if style in SYMBOLS:
        canvas.doForm(_form(style))
        if style == "cell":
            canvas.doForm(_form(counted))
            _text(canvas, Text("count", 0.0, 0.0, "12", 6.0, 4.0, "middle"), 0.0, 0.0, fonts)
    elif style in LINES:
        _stroke(canvas, LINES[style])
        canvas.line(0, -9, 0, 9)
    else:
        path = _path(canvas, [[(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])]])
        if style in HATCHES:
            _hatch(canvas, style, path, box)
        else:
            _area(canvas, style, path)
            _stroke(canvas, AREAS[style].edge or Stroke("soft", 0.5))
            canvas.drawPath(path, stroke=1, fill=0)


def _form(style: str) -> str:
    return f"sheet-{style}"


def _define_symbols(canvas: Canvas) -> None:
    """Each symbol once a document, as a form that pages refer to."""
    for style, parts in SYMBOLS.items():
        if not canvas.hasForm(_form(style)):
            canvas.beginForm(_form(style), -22, -14, 22, 14)
            for part in parts:
                _part(canvas, part)
            canvas.endForm()


def _part(canvas: Canvas, part: Part) -> None:
    path = canvas.beginPath()
    for letter, numbers in re.findall(r"([MLCZ])([^MLCZ]*)", part.path):
        values = [float(number) for number in numbers.split()]
        if letter == "Z":
            path.close()
        else:
            {"M": path.moveTo, "L": path.lineTo, "C": path.curveTo}[letter](*values)
    if part.fill:
        canvas.setFillColor(_colour(part.fill))
    if part.stroke:
        _stroke(canvas, Stroke(part.stroke, part.width, part.dash))
    canvas.drawPath(path, stroke=int(part.stroke is not None), fill=int(part.fill is not None))
