"""A thickness map: the zone's sheet with spots as its marks, told apart by shape, colour and word."""

from __future__ import annotations

import io
import random

import pypdfium2 as pdfium
import pytest
from reportlab.pdfgen.canvas import Canvas
from shapely.geometry import Polygon

from mapping import symbols
from mapping.drawing import Sheet, draw_zone
from mapping.paint import paint, paint_legend
from mapping.scene import FlawMark, Line, Mark, Symbol
from mapping.symbols import FILM_CLASSES, FILM_MARKS
from mapping.wire import legend, svg_symbol, wire
from tests.mapping.made_up_section import Divided, a_pipe

NOTHING = Divided(*[Polygon()] * 5)


def a_film_map(count: int = 30, row_length: float | None = None, row_width: float = 1000.0) -> Sheet:
    pipe = a_pipe()
    dice = random.Random(7)
    spots = [
        FlawMark(
            f"{dice.randint(180, 640)}",
            round(dice.uniform(pipe.start, pipe.end), 3),
            round(dice.uniform(0, pipe.period), 3),
            dice.choice(FILM_CLASSES),
            f"spot-{number}",
        )
        for number in range(count)
    ]
    marks = [
        Mark("next", "1", 1010.0, 1.0),
        Mark("failed", "", 1050.0, 1.0, ((1048.0, 0.5), (1052.0, 0.5), (1050.0, 2.0), (1048.0, 0.5))),
    ]
    return draw_zone(
        pipe, NOTHING, (), marks, spots, row_length=row_length, row_width=row_width, marking=FILM_MARKS
    )  # fmt: skip


def test_classes_of_film_differ_by_shape_and_not_by_colour_alone() -> None:
    outlines = {tuple(part.path for part in symbols.SYMBOLS[style]) for style in FILM_CLASSES}
    assert len(outlines) == len(FILM_CLASSES)


def test_every_class_of_film_has_a_word_and_a_rim_of_ink_or_grey() -> None:
    for style in FILM_CLASSES:
        assert symbols.WORDS[style]
        assert {part.stroke for part in symbols.SYMBOLS[style]} <= {"ink", "soft"}


def test_a_spot_is_drawn_by_its_class_with_its_figure() -> None:
    sheet = draw_zone(
        a_pipe(), NOTHING, flaws=[FlawMark("212", 1050.0, 1.9, "thin", "s1")], marking=FILM_MARKS
    )  # fmt: skip
    items = [item for row in sheet.rows for item in row.items]
    assert [item.name for item in items if isinstance(item, Symbol) and item.style == "thin"] == ["s1"]
    assert "212" in [getattr(item, "text", "") for item in items]


def test_a_counted_cell_of_spots_carries_the_thinnest_class() -> None:
    spots = [FlawMark(str(n), 1010.0, 1.9, style, str(n)) for n, style in enumerate(("within", "thick", "thin"))]
    row = draw_zone(a_pipe(), NOTHING, flaws=spots, marking=FILM_MARKS).rows[0]
    small = [item.style for item in row.items if isinstance(item, Symbol) and item.style.startswith("small-")]
    assert small == ["small-thin"]


def test_a_flaw_status_is_refused_on_a_thickness_map() -> None:
    with pytest.raises(ValueError, match="status 'open' is not allowed: one of thin, thick, out, within"):
        draw_zone(a_pipe(), NOTHING, flaws=[FlawMark("B1", 1001.0, 1.0, "open", "1")], marking=FILM_MARKS)


def test_the_legend_of_a_thickness_map_says_the_figures_it_was_given() -> None:
    spots = [FlawMark("212", 1050.0, 1.9, "thin", "s1")]
    words = {"thin": "thin: below 240 µm"}
    marking = symbols.Marking(FILM_CLASSES, 2, FILM_MARKS.bars, FILM_MARKS.cell, FILM_MARKS.keys, words)
    sheet = draw_zone(a_pipe(), NOTHING, flaws=spots, marking=marking)
    assert [entry.words for entry in legend(sheet)] == ["thin: below 240 µm"]
    assert wire(sheet)["statusWords"][0] == "thin: below 240 µm"


def test_the_legend_names_next_places_and_bounds() -> None:
    assert {"next-place", "failed", "cell"} >= {entry.style for entry in legend(a_film_map())} - set(FILM_CLASSES)


def test_bounds_of_a_failed_area_are_one_closed_line() -> None:
    lines = [
        item for row in a_film_map().rows for item in row.items if isinstance(item, Line) and item.style == "failed"
    ]
    assert len(lines) == 1
    assert lines[0].points[0] == lines[0].points[-1]


def test_the_overview_counts_thin_and_thick_spots_apart() -> None:
    sheet = a_film_map(200)
    outside = sum(spot.status in ("thin", "thick") for spot in sheet.scene.flaws)
    bars = [item for item in sheet.overview.items if isinstance(item, Line) and item.style == "bar-unsettled"]
    every = [item for item in sheet.overview.items if isinstance(item, Line) and item.style == "bar-settled"]
    heights = [sum(line.points[0][1] - line.points[1][1] for line in lines) for lines in (bars, every)]
    assert heights[0] / heights[1] == pytest.approx(outside / (200 - outside))


@pytest.mark.parametrize("style", [*FILM_CLASSES, "cell", "next-place"])
def test_pictures_of_a_thickness_map_pass_a_strict_content_policy(style: str) -> None:
    picture = svg_symbol(style, FILM_MARKS)
    assert "style=" not in picture
    assert "<path" in picture


def test_a_thickness_map_is_printed_with_its_legend() -> None:
    held = io.BytesIO()
    canvas = Canvas(held, pagesize=(595.0, 842.0), invariant=1)
    sheet = a_film_map(row_width=700.0)
    y = 800.0 - paint_legend(sheet, canvas, 40.0, 800.0, 515.0)
    paint(sheet, canvas, 40.0, y, 515.0, range(1))
    canvas.showPage()
    canvas.save()
    text = pdfium.PdfDocument(held.getvalue())[0].get_textpage().get_text_bounded()
    assert "within what a spot may be" in text
    assert "several flaws" not in text
