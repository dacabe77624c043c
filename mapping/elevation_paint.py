"""Paints an asset's drawing on a ReportLab canvas as vectors, its groups side by side, small enough for the box it gets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from reportlab.lib.colors import HexColor
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import FILL_EVEN_ODD, Canvas

from accounts.wording import noted, say
from mapping.elevation import CHIP, SIGNS, WIDTH, AssetDrawing, Group, Lettering, Piece, Rings
from mapping.labels import text_width
from mapping.paint import LATIN, Fonts
from mapping.symbols import PRINT_PALETTE

STATE_COLOURS = {"accepted": "done", "ready": "wait", "owner": "held", "begun": "work", "open": "open"}
"""Colour roles of a zone's state; its sign stands on it."""
STATE_WORDS = {
    "accepted": noted("released"),
    "ready": noted("ready to release"),
    "owner": noted("the owner's turn"),
    "begun": noted("the contractor's turn"),
    "open": noted("the crew's turn"),
}
GROUND_WORDS = {
    "tested": noted("tested"),
    "doubtful": noted("waits, held or lost"),
    "flaw": noted("open flaws"),
}
_BETWEEN, _WORD, _LEADING = 24.0, 10.0, 13.0
_NARROWEST = 190.0


class Box(NamedTuple):
    """Room on a page, points: the corner up left, width, and the height that may be used."""

    left: float
    top: float
    width: float
    height: float


class _Laid(NamedTuple):
    group: Group
    column: int
    down: float


def paint_asset(canvas: Canvas, drawing: AssetDrawing, box: Box, fonts: Fonts = LATIN) -> float:
    """Paint an asset with its legend, as large as the box allows; the height used, points. Nothing for no zones."""
    if not drawing.groups:
        return 0.0
    most = max(1, min(len(drawing.groups), int(box.width // _NARROWEST)))
    best: tuple[float, int, list[_Laid], float] | None = None
    for columns in range(1, most + 1):
        laid, high = _laid(drawing.groups, columns)
        wide = columns * WIDTH + (columns - 1) * _BETWEEN
        scale = min(box.width / wide, (box.height - 24.0) / high, 1.0)
        if best is None or scale > best[0] + 1e-9:
            best = scale, columns, laid, high
    assert best is not None
    scale, columns, laid, high = best
    left = box.left + (box.width - (columns * WIDTH + (columns - 1) * _BETWEEN) * scale) / 2
    for group, column, down in laid:
        canvas.saveState()
        canvas.translate(left + column * (WIDTH + _BETWEEN) * scale, box.top - down * scale)
        canvas.scale(scale, -scale)
        _group(canvas, group, fonts)
        canvas.restoreState()
    return high * scale + _legend(canvas, drawing, box, box.top - high * scale, fonts)


def _laid(groups: Sequence[Group], columns: int) -> tuple[list[_Laid], float]:
    """Groups in reading order down the columns, each column filled to about an equal share."""
    heights = [_height(group) for group in groups]
    share = sum(heights) / columns
    laid, column, down, deepest = [], 0, 0.0, 0.0
    for group, high in zip(groups, heights, strict=True):
        if down and down + high / 2 > share and column < columns - 1:
            column, down = column + 1, 0.0
        laid.append(_Laid(group, column, down))
        down += high
        deepest = max(deepest, down)
    return laid, deepest


def _height(group: Group) -> float:
    return len(_lines(group)) * _LEADING + group.height + 8.0


def _lines(group: Group) -> list[str]:
    return list(simpleSplit(group.words, LATIN.regular, _WORD, WIDTH * 0.9)) if group.words else []


def _colour(role: str) -> HexColor:
    return HexColor(PRINT_PALETTE[role])


def _group(canvas: Canvas, group: Group, fonts: Fonts) -> None:
    lines = _lines(group)
    for number, line in enumerate(lines, 1):
        _letters(canvas, Lettering(0.0, number * _LEADING - 3.0, line, "start", _WORD), "soft", fonts.regular)
    canvas.translate(0, len(lines) * _LEADING)
    canvas.setStrokeColor(_colour("soft"))
    canvas.setDash([4, 3])
    for line_ in group.lines:
        canvas.line(*line_[0], *line_[1])
    canvas.setDash([])
    for piece in group.pieces:
        _piece(canvas, piece)
    for piece in group.pieces:
        _named(canvas, piece, fonts)
    for each in group.lettering:
        _letters(canvas, each, "soft", fonts.regular)


def _path(canvas: Canvas, shapes: Sequence[Rings], fill: str | None, edge: str | None, width: float = 1.0) -> None:
    path = canvas.beginPath()
    for rings in shapes:
        for ring in rings:
            path.moveTo(*ring[0])
            for point in ring[1:]:
                path.lineTo(*point)
            path.close()
    if fill:
        canvas.setFillColor(_colour(fill))
    if edge:
        canvas.setStrokeColor(_colour(edge))
        canvas.setLineWidth(width)
    canvas.drawPath(path, stroke=int(edge is not None), fill=int(fill is not None), fillMode=FILL_EVEN_ODD)


def _piece(canvas: Canvas, piece: Piece) -> None:
    _path(canvas, [piece.outline], "card", None)
    if piece.tested:
        _path(canvas, piece.tested, "tint", None)
    if piece.doubtful:
        _hatched(canvas, piece.doubtful)
    _path(canvas, [piece.outline], None, "ink" if piece.part.state != "none" else "soft")
    canvas.setFillColor(_colour("open"))
    canvas.setStrokeColor(_colour("ink"))
    canvas.setLineWidth(0.5)
    for x, y in piece.dots:
        canvas.circle(x, y, 2.2, stroke=1, fill=1)


def _hatched(canvas: Canvas, shapes: Sequence[Rings]) -> None:
    path = canvas.beginPath()
    points = [point for rings in shapes for point in rings[0]]
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    top, bottom = min(y for _, y in points), max(y for _, y in points)
    for rings in shapes:
        for ring in rings:
            path.moveTo(*ring[0])
            for point in ring[1:]:
                path.lineTo(*point)
            path.close()
    canvas.saveState()
    canvas.clipPath(path, stroke=0, fill=0, fillMode=FILL_EVEN_ODD)
    canvas.setStrokeColor(_colour("held"))
    canvas.setLineWidth(1.5)
    for step in range(math.ceil((left + top) / 6), math.floor((right + bottom) / 6) + 1):
        low, high = max(left, step * 6 - bottom), min(right, step * 6 - top)
        canvas.line(low, step * 6 - low, high, step * 6 - high)
    canvas.restoreState()


def _named(canvas: Canvas, piece: Piece, fonts: Fonts) -> None:
    if piece.chip:
        _chip(canvas, *piece.chip, piece.part.state, fonts)
    if piece.label:
        _letters(canvas, piece.label, "ink", fonts.regular, rim=True)


def _chip(canvas: Canvas, x: float, y: float, state: str, fonts: Fonts) -> None:
    canvas.setFillColor(_colour(STATE_COLOURS[state]))
    canvas.setStrokeColor(_colour("ink"))
    canvas.setLineWidth(1.0)
    canvas.rect(x, y, CHIP, CHIP, stroke=1, fill=1)
    _letters(canvas, Lettering(x + CHIP / 2, y + CHIP - 3.5, SIGNS[state], "middle", 10.0), "ink", fonts.bold)


def _letters(canvas: Canvas, words: Lettering, colour: str, font: str, *, rim: bool = False) -> None:
    """Letters the right way up on a canvas whose y runs down, no wider than the room that was reckoned for them."""
    natural = stringWidth(words.text, font, words.size)
    narrower = min(1.0, text_width(words.text, words.size) / natural) if natural else 1.0
    back = {"start": 0.0, "middle": natural * narrower / 2, "end": natural * narrower}[words.anchor]
    canvas.saveState()
    canvas.translate(words.x - back, words.y)
    canvas.scale(narrower, -1)
    canvas.setFont(font, words.size)
    if rim:
        canvas.setStrokeColor(_colour("card"))
        canvas.setLineWidth(2.5)
        canvas.setLineJoin(1)
        canvas.drawString(0, 0, words.text, mode=1)
    canvas.setFillColor(_colour(colour))
    canvas.drawString(0, 0, words.text, mode=0)
    canvas.restoreState()


def _legend(canvas: Canvas, drawing: AssetDrawing, box: Box, top: float, fonts: Fonts) -> float:
    """What occurs on the drawing, each with its word, in as many lines as needed."""
    right, line = 0.0, 0
    for name, words in {**GROUND_WORDS, **STATE_WORDS}.items():
        if name not in drawing.shown:
            continue
        said = say(words)
        needed = 20.0 + stringWidth(said, fonts.regular, 8.5) + 12.0
        if right and right + needed > box.width:
            right, line = 0.0, line + 1
        canvas.saveState()
        canvas.translate(box.left + right, top - line * 16.0 - 4.0)
        canvas.scale(0.8, -0.8)
        _swatch(canvas, name, fonts)
        canvas.restoreState()
        canvas.setFillColor(_colour("soft"))
        canvas.setFont(fonts.regular, 8.5)
        canvas.drawString(box.left + right + 17.0, top - line * 16.0 - 13.0, said)
        right += needed
    return (line + 1) * 16.0 + 6.0


def _swatch(canvas: Canvas, name: str, fonts: Fonts) -> None:
    square: Rings = (((0.0, 0.0), (CHIP, 0.0), (CHIP, CHIP), (0.0, CHIP)),)
    if name in STATE_COLOURS:
        _chip(canvas, 0.0, 0.0, name, fonts)
    elif name == "flaw":
        canvas.setFillColor(_colour("open"))
        canvas.setStrokeColor(_colour("ink"))
        canvas.setLineWidth(0.5)
        canvas.circle(CHIP / 2, CHIP / 2, 2.8, stroke=1, fill=1)
    else:
        if name == "tested":
            _path(canvas, [square], "tint", "soft")
        else:
            _hatched(canvas, [square])
            _path(canvas, [square], None, "soft")
