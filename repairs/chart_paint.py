"""Paints a chart of the board on a ReportLab canvas as vectors, in the colours of printed sheets."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from mapping.paint import LATIN, Fonts
from mapping.symbols import PRINT_PALETTE
from repairs.charts import TEXT, WIDTH, Box, Chart, Dot, Item, Label, Shape

_INK, _SOFT, _LINE, _STEEL, _TINT = (PRINT_PALETTE[role] for role in ("ink", "soft", "line", "steel", "tint"))
_LOST, _OPEN, _LIMIT = "#cc79a7", "#d55e00", "#8a5a00"


class _Look(NamedTuple):
    """Fill and stroke colours (None: not painted), width and dashes of the stroke in marks."""

    fill: str | None
    stroke: str | None
    width: float = 1.0
    dashes: tuple[float, ...] = ()


_LOOKS: dict[str, _Look] = {
    "axis": _Look(None, _SOFT),
    "soft": _Look(None, _LINE),
    "interval": _Look(None, _SOFT, 2.5),
    "allowed": _Look(None, _LIMIT, 2.0, (4, 3)),
    "kept": _Look(_STEEL, _INK),
    "over": _Look(_OPEN, _INK, 1.5),
    "unjudged": _Look("#ffffff", _INK, 1.5),
    "tested": _Look(_TINT, _INK),
    "pending": _Look("#ffffff", _INK),
    "held": _Look("#ffffff", _INK),
    "lost": _Look("#ffffff", _LOST, 1.2, (3, 2)),
    "gap": _Look("#ffffff", _INK),
    "excluded": _Look("#c9c6bd", _INK),
    "hatch": _Look(_INK, _INK, 0.7),
    "hatch-lost": _Look(None, _LOST, 1.2),
    "flaws": _Look(_OPEN, _INK),
}


def chart_height(chart: Chart, width: float) -> float:
    """Points of height that the chart needs when it is painted `width` points wide."""
    return chart.height * width / WIDTH


def paint_chart(chart: Chart, canvas: Canvas, x: float, y: float, width: float, fonts: Fonts = LATIN) -> float:
    """Paint the chart `width` points wide with its upper left corner at (x, y); the height it used, in points."""
    factor = width / WIDTH
    canvas.saveState()
    canvas.translate(x, y)
    canvas.scale(factor, -factor)
    for item in chart.items:
        _paint(canvas, item, fonts)
    canvas.restoreState()
    return chart_height(chart, width)


def _paint(canvas: Canvas, item: Item, fonts: Fonts) -> None:
    if isinstance(item, Label):
        _label(canvas, item, fonts)
        return
    look = _LOOKS[item.style]
    canvas.setLineWidth(look.width)
    canvas.setDash(list(look.dashes))
    if look.stroke:
        canvas.setStrokeColor(HexColor(look.stroke))
    if look.fill:
        canvas.setFillColor(HexColor(look.fill))
    fill, stroke = int(look.fill is not None), int(look.stroke is not None)
    if isinstance(item, Box):
        canvas.rect(item.x, item.y, item.width, item.height, stroke=stroke, fill=fill)
    elif isinstance(item, Dot):
        canvas.circle(item.x, item.y, item.radius, stroke=stroke, fill=fill)
    else:
        _outline(canvas, item.points, isinstance(item, Shape), stroke, fill)


def _outline(canvas: Canvas, points: Sequence[tuple[float, float]], closed: bool, stroke: int, fill: int) -> None:
    path = canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    if closed:
        path.close()
    canvas.drawPath(path, stroke=stroke, fill=fill if closed else 0)


def _label(canvas: Canvas, label: Label, fonts: Fonts) -> None:
    canvas.saveState()
    canvas.translate(label.x, label.y)
    canvas.scale(1, -1)
    canvas.setFont(fonts.regular, TEXT)
    canvas.setFillColor(HexColor(_SOFT if label.soft else _INK))
    draw = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
    draw[label.anchor](0, 0, label.text)
    canvas.restoreState()
