"""A drawn zone as compact columns for the browser's painter, and its legend as small pictures with words.

Plane metres rounded to millimetres; looks and layout rules travel along, so that they are written once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from typing import Any, NamedTuple

import numpy as np
from shapely.geometry import Polygon

from accounts.wording import noted, say
from mapping import crowding, drawing, rows, symbols
from mapping.drawing import Sheet, row_lengths, row_starts, row_words
from mapping.rows import patch_style
from mapping.scene import PassMark, Scene, Symbol, line_style, point_style
from mapping.symbols import FLAW_MARKS, Marking
from mapping.view import View

LAYOUT = {
    "cell": crowding.CELL,
    "perCell": crowding.PER_CELL,
    "symbolHalf": rows.SYMBOL_HALF,
    "doubtedHalf": rows.DOUBTED_HALF,
    "chipHalf": symbols.CHIP_HALF,
    "landmarkHalf": rows.LANDMARK_HALF,
    "labelledMost": rows.LABELLED_MOST,
    "tickRoom": rows.TICK_ROOM,
    "sideRoom": rows.SIDE_ROOM,
    "planOverview": drawing.PLAN_OVERVIEW,
    "overviewHeight": drawing.OVERVIEW_HEIGHT,
    "reach": crowding.REACH,
    "bar": drawing.BAR,
    "barHeight": drawing.BAR_HEIGHT,
    "readable": drawing.READABLE,
    "thinnest": drawing.THINNEST,
    "mostRows": drawing.MOST_ROWS,
}
STYLES: dict[str, Any] = {
    "symbols": {style: [asdict(part) for part in parts] for style, parts in symbols.SYMBOLS.items()},
    "lines": {style: asdict(stroke) for style, stroke in symbols.LINES.items()},
    "areas": {style: asdict(fill) for style, fill in symbols.AREAS.items()},
    "hatches": {style: asdict(hatch) for style, hatch in symbols.HATCHES.items()},
    "texts": {style: asdict(letters) for style, letters in symbols.TEXTS.items()},
}

CLOSEST = 0.5
"""Metres that the window shows of a plan at its largest."""
ROW_WORDS = {
    "out": noted("Zoom out: longer rows"),
    "into": noted("Zoom in: shorter rows"),
    "off": noted("That is off the zone. Press inside its edge."),
}
PLAN_WORDS = {**ROW_WORDS, "out": noted("Zoom out: smaller"), "into": noted("Zoom in: larger")}


class LegendEntry(NamedTuple):
    """One line of a legend: the style, what it means, and its picture as inline SVG (safe markup, no styles in it)."""

    style: str
    words: str
    svg: str


def wire(sheet: Sheet) -> dict[str, Any]:
    """The drawn zone as plain lists, numbers and strings, ready for JSON; see `static/mapping/sheet.js`."""
    scene, view, marking = sheet.scene, sheet.scene.view, sheet.scene.marking
    words = {**(PLAN_WORDS if view.plan else ROW_WORDS), "keys": marking.keys}
    return {
        "v": 2,
        "view": {
            "length": view.length,
            "height": view.height,
            "x0": view.x0,
            "y0": view.y0,
            "stepX": view.step_x,
            "stepY": view.step_y,
            "wrap": view.wrap,
            "plan": view.plan,
            "right": view.right,
            "seenFrom": view.seen_from,
            "outline": [_flat(ring) for ring in view.outline],
            "grid": [_flat(points) for points in view.grid],
            "names": [list(name) for name in view.names],
            "strides": list(view.strides),
        },
        "words": {name: say(sentence) for name, sentence in words.items()},
        "side": [[v, text] for v, text in view.side],
        "levels": _plan_levels(view) if view.plan else [_level(view, length) for length in row_lengths(view)],
        "end": view.print_start(view.length),
        "overview": sheet.overview_words,
        "ticks": {
            "steps": [tick.steps for tick in view.ticks],
            "u": [tick.u for tick in view.ticks],
            "text": [tick.text for tick in view.ticks],
        },
        "ground": {style: [_rings(polygon) for polygon in polygons] for style, polygons in scene.ground.items()},
        "excluded": {
            "rings": [_rings(polygon) for polygon, _ in scene.excluded],
            "reason": [reason for _, reason in scene.excluded],
        },
        "landmarks": {
            "x": [round(mark.x, 3) for mark in scene.landmarks],
            "y": [None if mark.y is None else round(mark.y, 3) for mark in scene.landmarks],
            "name": [mark.name for mark in scene.landmarks],
            "style": [line_style(mark) if mark.y is None else point_style(mark) for mark in scene.landmarks],
            "point": [not mark.line for mark in scene.landmarks],
        },
        "strokes": {
            "points": [_flat(stroke.points) for stroke in scene.strokes],
            "style": [stroke.style for stroke in scene.strokes],
        },
        "patches": {
            "rings": [_rings(polygon) for polygon, _, _ in scene.patches],
            "number": [patch.number if first else "" for _, patch, first in scene.patches],
            "style": [patch_style(patch) for _, patch, _ in scene.patches],
        },
        "flaws": flaw_columns(scene),
        "doubted": {flaw.id: list(flaw.doubts) for flaw in scene.flaws if flaw.doubts},
        "statuses": list(marking.statuses),
        "statusWords": [_words(status, marking) for status in marking.statuses],
        "doubts": list(symbols.DOUBTS),
        "unsettled": marking.unsettled,
        "layout": LAYOUT,
        "styles": STYLES,
    }


def flaw_columns(scene: Scene) -> dict[str, list[Any]]:
    """Flaws as columns of equal length: x, y (plane metres to the mm), status (place in "statuses"), tag, id."""
    places = np.array([(flaw.x, flaw.y) for flaw in scene.flaws], dtype=float).reshape(-1, 2).round(3)
    return {
        "x": places[:, 0].tolist(),
        "y": places[:, 1].tolist(),
        "status": scene.ranks.tolist(),
        "tag": [flaw.tag for flaw in scene.flaws],
        "id": [flaw.id for flaw in scene.flaws],
    }


def legend(sheet: Sheet) -> list[LegendEntry]:
    """What the sheet shows, in a fixed order: only styles that occur on it."""
    scene = sheet.scene
    shown = {flaw.status for flaw in scene.flaws} | {style for style in symbols.GROUND if scene.ground[style]}
    shown |= {doubt for flaw in scene.flaws for doubt in flaw.doubts}
    shown |= {line_style(mark) for mark in scene.landmarks if mark.y is None} - {"landmark"}
    shown |= {point_style(mark) for mark in scene.landmarks if mark.y is not None and not mark.line}
    shown |= {stroke.style for stroke in scene.strokes if stroke.style != "landmark"}
    shown |= {
        item.style for row in sheet.rows for item in row.items if isinstance(item, Symbol) and item.style == "cell"
    }
    shown |= {"excluded" for _ in scene.excluded} | {
        "swept-again" if isinstance(each, PassMark) else "patch" for _, each, _ in scene.patches
    }
    return [
        LegendEntry(style, _words(style, scene.marking), svg_symbol(style, scene.marking))
        for style in symbols.WORDS
        if style in shown
    ]


def _words(style: str, marking: Marking) -> str:
    """What a style means on a sheet of these marks."""
    if style in marking.words:
        return marking.words[style]
    return say(marking.cell if style == "cell" else symbols.WORDS[style])


def legend_of(styles: Iterable[str]) -> list[LegendEntry]:
    """The legend's entries for these styles.

    Raises
    ------
    KeyError
        For a style without words.
    """
    return [LegendEntry(style, say(symbols.WORDS[style]), svg_symbol(style)) for style in styles]


def svg_symbol(style: str, marking: Marking = FLAW_MARKS) -> str:
    """A style's picture as inline SVG; colours come from classes in sheet.css (no style attributes, no ids)."""
    if style in symbols.SYMBOLS:
        half = symbols.CHIP_HALF[0] + 1 if style == "cell" else 10
        parts = symbols.SYMBOLS[style]
        if style == "cell":
            parts = (*parts, *symbols.SYMBOLS[f"small-{marking.statuses[0]}"])
        drawn = "".join(_svg_path(part.path, part.fill, part.stroke, part.width, part.dash) for part in parts)
        if style == "cell":
            drawn += '<text x="6" y="4" font-size="11" text-anchor="middle" class="sheet-fill-ink">12</text>'
        return _svg(half, drawn, 13 if style in (*symbols.DOUBTS, "next-place") else 10)
    return _svg(13, _swatch(style))


def _swatch(style: str) -> str:
    box = "M-12 -8L12 -8L12 8L-12 8Z"
    if style in symbols.LINES:
        line = symbols.LINES[style]
        return _svg_path("M0 -9L0 9", None, line.colour, line.width, line.dash)
    if style in symbols.AREAS:
        fill = symbols.AREAS[style]
        edge = fill.edge or symbols.Stroke("line", 1.0)
        return _svg_path(box, fill.fill, edge.colour, edge.width, edge.dash)
    hatch = symbols.HATCHES[style]
    lines = {
        "level": "M-12 -4L12 -4M-12 0L12 0M-12 4L12 4",
        "slanted": "M-12 2L-2 -8M-12 8L4 -8M-6 8L10 -8M0 8L12 -4M6 8L12 2",
        "dots": "M-9 -5L9 -5M-9 0L9 0M-9 5L9 5",
    }[hatch.kind]
    dash = (0.01, 4.5) if hatch.kind == "dots" else ()
    return (
        _svg_path(box, hatch.fill, None, 0.0, ())
        + _svg_path(lines, None, hatch.stroke.colour, hatch.stroke.width, dash)
        + _svg_path(box, None, hatch.edge.colour, hatch.edge.width, hatch.edge.dash)
    )


def _svg(half: float, drawn: str, reach: float = 10) -> str:
    """A picture 20 px high of what reaches `reach` marks up and down."""
    box = half * reach / 10
    return (
        f'<svg class="sheet-symbol" viewBox="-{box:g} -{reach:g} {2 * box:g} {2 * reach:g}" width="{2 * half:g}" height="20" '
        f'aria-hidden="true" focusable="false">{drawn}</svg>'
    )


def _svg_path(path: str, fill: str | None, stroke: str | None, width: float, dash: tuple[float, ...]) -> str:
    classes = f"sheet-fill-{fill or 'none'}" + (f" sheet-line-{stroke}" if stroke else "")
    strokes = f' stroke-width="{width:g}"' if stroke else ""
    dashes = f' stroke-dasharray="{" ".join(f"{length:g}" for length in dash)}"' if dash else ""
    if dash and dash[0] < 0.1:
        dashes += ' stroke-linecap="round"'
    return f'<path class="{classes}" d="{path}"{strokes}{dashes}/>'


def _level(view: View, length: float) -> dict[str, Any]:
    return {
        "length": length,
        "words": row_words(view, length),
        "starts": [view.print_start(start) for start in row_starts(view, length)],
    }


def _plan_levels(view: View) -> list[dict[str, Any]]:
    """A plan is enlarged step by step until the window shows about half a metre."""
    zooms = [2**step for step in range(12) if step == 0 or view.length / 2**step >= CLOSEST]
    return [{"zoom": zoom, **_level(view, view.length)} for zoom in zooms]


def _flat(points: Iterable[tuple[float, float]]) -> list[float]:
    return [round(number, 4) for point in points for number in point]


def _rings(polygon: Polygon) -> list[list[float]]:
    """Outer ring, then holes, each as x, y, x, y, ... without the closing point."""
    rings = (polygon.exterior, *polygon.interiors)
    return [np.asarray(ring.coords)[:-1, :2].round(3).ravel().tolist() for ring in rings]
