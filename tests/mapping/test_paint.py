"""The printed sheet, read back by another program's PDF reader (PDFium)."""

from __future__ import annotations

import io
import re
from collections.abc import Callable

import pypdfium2 as pdfium
import pytest
from reportlab.pdfgen.canvas import Canvas

from mapping.drawing import Sheet
from mapping.paint import (
    GUTTER,
    HEAD,
    paint,
    paint_legend,
    paint_overview,
    paint_words,
    rows_height,
    rows_that_fit,
)
from mapping.scene import Text
from mapping.symbols import SYMBOLS, WORDS
from mapping.view import RIGHT
from tests.mapping.made_up_section import CIRCUMFERENCE, a_sheet

PAGE = (595.0, 842.0)
LEFT, TOP, WIDTH = 40.0, 800.0, 515.0


def printed(*pages: Callable[[Canvas], object]) -> bytes:
    held = io.BytesIO()
    canvas = Canvas(held, pagesize=PAGE, pageCompression=0, invariant=1)
    for page in pages:
        page(canvas)
        canvas.showPage()
    canvas.save()
    return held.getvalue()


def words_of(document: bytes) -> list[list[str]]:
    return [page.get_textpage().get_text_bounded().split() for page in pdfium.PdfDocument(document)]


def whole(sheet: Sheet) -> bytes:
    def page(canvas: Canvas) -> None:
        y = TOP - paint_words(sheet, canvas, LEFT, TOP, WIDTH)
        y -= paint_overview(sheet, canvas, LEFT, y, WIDTH)
        y -= paint_legend(sheet, canvas, LEFT, y, WIDTH)
        paint(sheet, canvas, LEFT, y, WIDTH)

    return printed(page)


def test_the_same_sheet_gives_the_same_bytes() -> None:
    assert whole(a_sheet(row_width=700.0)) == whole(a_sheet(row_width=700.0))


def test_every_text_of_the_display_list_is_printed() -> None:
    sheet = a_sheet(row_width=700.0)
    expected = {
        word for row in sheet.rows for item in row.items if isinstance(item, Text) for word in item.text.split()
    }
    assert expected <= set(words_of(whole(sheet))[0])


def test_every_symbol_is_stored_once_however_many_pages_show_it() -> None:
    sheet = a_sheet(count=400, row_length=10.0, row_width=700.0)
    document = printed(
        *[lambda canvas, n=n: paint(sheet, canvas, LEFT, TOP, WIDTH, range(n, n + 2)) for n in (0, 2, 4)]
    )
    assert len(re.findall(rb"/Subtype /Form", document)) == len(SYMBOLS)


def test_rows_split_over_pages_are_each_printed_once() -> None:
    sheet = a_sheet(row_length=10.0, row_width=700.0)
    fit = rows_that_fit(sheet, WIDTH, 500.0)
    assert 0 < fit < len(sheet.rows)
    breaks = range(0, len(sheet.rows), fit)
    document = printed(
        *[
            lambda canvas, n=n: paint(sheet, canvas, LEFT, TOP, WIDTH, range(n, min(n + fit, len(sheet.rows))))
            for n in breaks
        ]
    )
    starts = [word for page in words_of(document) for word in page if re.fullmatch(r"1\+\d\d0\.00", word)]
    assert starts == [f"1+{metres:03d}.00" for metres in range(0, 100, 10)]


def test_rows_take_the_height_that_was_foretold() -> None:
    sheet = a_sheet(row_length=10.0, row_width=700.0)
    used: list[float] = []
    printed(lambda canvas: used.append(paint(sheet, canvas, LEFT, TOP, WIDTH, range(3))))
    assert used == [pytest.approx(rows_height(sheet, WIDTH, 3))]
    assert rows_that_fit(sheet, WIDTH, used[0]) == 3
    assert rows_that_fit(sheet, WIDTH, used[0] - 0.01) == 2


def test_rows_that_are_not_on_the_sheet_are_refused() -> None:
    sheet = a_sheet(row_length=48.0)
    with pytest.raises(ValueError, match=r"rows range\(1, 3\) is not allowed: the sheet has rows 0 to 1"):
        printed(lambda canvas: paint(sheet, canvas, LEFT, TOP, WIDTH, range(1, 3)))


def test_a_row_is_printed_at_true_scale() -> None:
    sheet = a_sheet(count=0, row_length=48.0, row_width=700.0)
    page = pdfium.PdfDocument(printed(lambda canvas: paint(sheet, canvas, LEFT, TOP, WIDTH, range(1))))[0]
    factor = WIDTH / (GUTTER + 700.0 + RIGHT)
    bounds = [item.get_bounds() for item in page.get_objects(filter=(pdfium.raw.FPDF_PAGEOBJ_PATH,))]
    left, bottom, right, top = max(bounds, key=lambda b: (b[2] - b[0]) * (b[3] - b[1]))
    assert left == pytest.approx(LEFT + GUTTER * factor, abs=1.0)
    assert top == pytest.approx(TOP - HEAD * factor, abs=1.0)
    assert right - left == pytest.approx(700.0 * factor, abs=2.0)
    assert top - bottom == pytest.approx(CIRCUMFERENCE / 48.0 * 700.0 * factor, abs=2.0)


def test_a_tag_stands_beside_its_flaw() -> None:
    sheet = a_sheet(count=12, row_length=48.0, row_width=700.0)
    tag = next(item for item in sheet.rows[0].items if isinstance(item, Text) and item.style == "tag")
    page = pdfium.PdfDocument(printed(lambda canvas: paint(sheet, canvas, LEFT, TOP, WIDTH, range(1))))[0]
    text = page.get_textpage()
    place = text.search(tag.text, match_case=True, match_whole_word=True).get_next()
    assert place is not None
    left, bottom, right, _ = text.get_charbox(place[0])
    factor = WIDTH / (GUTTER + 700.0 + RIGHT)
    flaw_x = LEFT + (GUTTER + tag.u * sheet.scale) * factor
    flaw_y = TOP - (HEAD + tag.v * sheet.scale) * factor
    assert abs(left - flaw_x) < 40 * factor
    assert bottom == pytest.approx(flaw_y - tag.dy * factor, abs=1.0)


def test_the_words_say_how_the_sheet_is_seen_and_that_the_overview_is_stretched() -> None:
    said = " ".join(words_of(whole(a_sheet(row_width=700.0)))[0])
    assert "Rows of 48 m, true scale. Outside face, as seen standing at the 3 o'clock side" in said
    assert "Overview, stretched: 96 m along, 3.83 m around, not to scale." in said


def test_the_legend_prints_each_word() -> None:
    said = " ".join(words_of(whole(a_sheet(row_width=700.0)))[0])
    for style in ("open", "begun", "ready", "conceded", "accepted", "struck", "false", "tested", "lost", "held"):
        assert WORDS[style] in said
