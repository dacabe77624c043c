"""The drawing of an unrolled zone: what is where on the sheet, said how, and that nothing covers anything."""

from __future__ import annotations

import random
import re
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from mapping import symbols
from mapping.drawing import (
    BAR_HEIGHT,
    OVERVIEW_HEIGHT,
    Sheet,
    draw_zone,
    fitting_length,
    row_lengths,
)
from mapping.labels import Box, Placed, place_along, text_box, text_width
from mapping.positions import Chainage
from mapping.rows import SYMBOL_HALF, Row
from mapping.scene import Area, FlawMark, Hatch, Line, Mark, PatchMark, Symbol, Text
from mapping.symbols import CHIP_HALF, GROUND, STATUSES, TEXTS, UNSETTLED
from mapping.view import view_of
from mapping.wire import legend, svg_symbol
from tests.mapping.made_up_section import CIRCUMFERENCE, Divided, a_pipe, a_sheet, ground_of, random_flaws

CSS = Path(symbols.__file__).parent / "static/mapping/sheet.css"


def texts(row: Row, *styles: str) -> list[Text]:
    return [item for item in row.items if isinstance(item, Text) and item.style in styles]


def drawn_symbols(row: Row, *styles: str) -> list[Symbol]:
    return [item for item in row.items if isinstance(item, Symbol) and item.style in styles]


def shown_area(row: Row, style: str) -> float:
    """Area that a row shows of a style, by shapely from the rings in the list."""
    window = box(row.start, 0, row.end, row.height)
    rings = [item.rings for item in row.items if isinstance(item, Area | Hatch) and item.style == style]
    return sum(Polygon(outer, holes).intersection(window).area for outer, *holes in rings)


def test_rows_are_of_equal_length_and_together_the_whole_zone() -> None:
    sheet = a_sheet(row_length=20.0)
    assert [(row.start, row.end) for row in sheet.rows] == [(0, 20), (20, 40), (40, 60), (60, 80), (80, 96)]


def test_rows_together_show_the_ground_that_was_given() -> None:
    sheet = a_sheet(row_length=17.0)
    ground = ground_of(a_pipe())
    for style, shape in zip(GROUND, (ground.stands, ground.gap, ground.pending, ground.held, ground.lost), strict=True):
        assert sum(shown_area(row, style) for row in sheet.rows) == pytest.approx(shape.area, abs=0.05), style


def test_ground_that_is_not_tested_is_hatched_or_bare() -> None:
    items = [item for row in a_sheet().rows for item in row.items]
    assert {item.style for item in items if isinstance(item, Hatch)} == {"pending", "held", "lost"}
    assert {"tested", "gap", "excluded"} <= {item.style for item in items if isinstance(item, Area)}


def test_outside_runs_12_3_6_9_12_down_the_page() -> None:
    side = texts(a_sheet(row_length=48.0).rows[0], "side")
    assert [text.text for text in side] == ["12:00", "3:00", "6:00", "9:00", "12:00"]
    assert [text.v for text in side] == pytest.approx([CIRCUMFERENCE * i / 4 for i in range(5)])


def test_inside_runs_12_9_6_3_12_down_the_page() -> None:
    side = texts(a_sheet(row_length=48.0, face="inside").rows[0], "side")
    assert [text.text for text in side] == ["12:00", "9:00", "6:00", "3:00", "12:00"]


@pytest.mark.parametrize(("face", "down"), [("outside", 0.25), ("inside", 0.75)])
def test_a_flaw_at_3_oclock_lies_beside_the_label_3_00(face: str, down: float) -> None:
    pipe = a_pipe(face=face)
    place = pipe.read_place("1+010.00 @ 3:00")
    sheet = draw_zone(pipe, ground_of(pipe), flaws=[FlawMark("B1", place.x, place.y, "open", "1")])
    flaw = drawn_symbols(sheet.rows[0], "open")[0]
    assert (flaw.u, flaw.v) == pytest.approx((10.0, down * CIRCUMFERENCE), abs=0.001)
    assert {text.text: text.v for text in texts(sheet.rows[0], "side")}["3:00"] == pytest.approx(flaw.v, abs=0.001)


@given(st.floats(1000, 1096), st.floats(0, CIRCUMFERENCE - 0.001), st.sampled_from(["outside", "inside"]))
def test_the_view_agrees_with_the_surface_and_back(x: float, y: float, face: str) -> None:
    pipe = a_pipe(face=face)
    view = view_of(pipe)
    right, down = pipe.to_view(x, y)
    u, v = view.seen(x, y)
    assert u == pytest.approx(float(right) - 1000.0, abs=0.001)
    assert min(abs(v - down), CIRCUMFERENCE - abs(v - down)) <= 0.001
    back = view.plane(u, v)
    assert float(pipe.distance(x, y, *back)) <= 0.001


@given(st.floats(0, 3.8), st.integers(-3, 3))
def test_y_is_drawn_modulo_the_circumference(y: float, turns: int) -> None:
    view = view_of(a_pipe())
    first, second = view.seen(1010, y)[1], view.seen(1010, y + turns * CIRCUMFERENCE)[1]
    assert min(abs(first - second), CIRCUMFERENCE - abs(first - second)) <= 0.0011


def test_a_patch_over_the_seam_is_drawn_in_two_pieces_and_named_once() -> None:
    sheet = a_sheet(count=0, row_length=96.0, row_width=4000.0)
    pieces = [item for item in sheet.rows[0].items if isinstance(item, Area) and item.style == "patch-settled"]
    assert len(pieces) == 2
    assert shown_area(sheet.rows[0], "patch-settled") == pytest.approx(0.96 * 0.65, abs=0.01)
    assert [text.text for text in texts(sheet.rows[0], "patch")].count("P2") == 1


def test_the_row_starts_with_its_chainage_in_full_and_the_zone_ends_with_its_own() -> None:
    sheet = a_sheet(row_length=48.0, start=1003.27, end=1099.27)
    assert [[text.text for text in texts(row, "start")] for row in sheet.rows] == [
        ["1+003.27"],
        ["1+051.27", "1+099.27"],
    ]


@pytest.mark.parametrize("system", ["metric", "imperial"])
def test_every_chainage_on_the_axis_reads_back_as_the_place_it_marks(system: str) -> None:
    chainage = Chainage(system=system)
    for row in a_sheet(start=1003.2, chainage=chainage).rows:
        written = texts(row, "axis")
        assert len(written) > 3
        for text in written:
            assert chainage.read(text.text) == pytest.approx(1003.2 + text.u, abs=0.0001)


def test_imperial_rows_are_whole_feet_and_say_so() -> None:
    sheet = a_sheet(chainage=Chainage(system="imperial"))
    assert sheet.row_length / 0.3048 == pytest.approx(round(sheet.row_length / 0.3048))
    assert sheet.words.startswith("Rows of 158 ft, true scale. Outside face, as seen standing at the 3 o'clock side")


def test_lengths_to_choose_from_shorten_from_the_whole_zone() -> None:
    assert row_lengths(view_of(a_pipe())) == [96.0, 48.0, 20.0, 10.0, 4.8, 2.0]


@pytest.mark.parametrize(("width", "length"), [(1000.0, 48.0), (300.0, 20.0), (3000.0, 96.0)])
def test_rows_are_as_long_as_they_stay_high_enough_to_read(width: float, length: float) -> None:
    assert fitting_length(view_of(a_pipe()), width) == length


def test_a_long_thin_pipe_gets_longer_rows_but_none_too_thin_to_show_anything() -> None:
    view = view_of(a_pipe(end=3000.0, circumference=1.0))
    length = fitting_length(view, 1000.0)
    assert 20.0 <= 1000.0 / length * view.height < 48.0


def test_welds_are_lines_all_round_with_their_names_below() -> None:
    row = a_sheet(row_length=48.0).rows[0]
    welds = [item for item in row.items if isinstance(item, Line) and item.style == "weld"]
    assert [weld.points for weld in welds] == [((u, 0.0), (u, CIRCUMFERENCE)) for u in (0.0, 12.0, 24.0, 36.0)]
    below = [text for text in texts(row, "landmark") if text.v == CIRCUMFERENCE]
    assert [text.text for text in below] == ["W1", "W2", "W3", "W4"]


def test_the_overview_shows_the_whole_zone_and_says_that_it_is_stretched() -> None:
    sheet = a_sheet()
    assert (sheet.overview.start, sheet.overview.end) == (0.0, 96.0)
    assert sheet.overview_words.startswith("Overview, stretched: 96 m along, 3.83 m around, not to scale.")
    assert shown_area(sheet.overview, "lost") == pytest.approx(ground_of(a_pipe()).lost.area, abs=0.01)


def test_the_overview_counts_every_flaw_in_its_bars() -> None:
    sheet = a_sheet(count=200)
    bars = [item for item in sheet.overview.items if isinstance(item, Line) and item.style.startswith("bar-")]
    heights = {
        style: sum(bar.points[0][1] - bar.points[1][1] for bar in bars if bar.style == style)
        for style in ("bar-unsettled", "bar-settled")
    }
    unsettled = sum(flaw.status in UNSETTLED for flaw in sheet.scene.flaws)
    assert heights["bar-unsettled"] / heights["bar-settled"] == pytest.approx(unsettled / (200 - unsettled))
    top = min(bar.points[1][1] for bar in bars)
    base = max(bar.points[0][1] for bar in bars)
    assert base - top == pytest.approx(BAR_HEIGHT * CIRCUMFERENCE / OVERVIEW_HEIGHT)


def counted(row: Row) -> int:
    return sum(int(text.text) for text in texts(row, "count"))


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 900), st.integers(0, 10_000), st.sampled_from([7.0, 20.0, 48.0, 96.0]))
def test_every_flaw_is_drawn_once_or_counted_once(count: int, seed: int, row_length: float) -> None:
    pipe = a_pipe()
    sheet = draw_zone(pipe, ground_of(pipe), flaws=random_flaws(pipe, count, seed), row_length=row_length)
    drawn = [symbol.name for row in sheet.rows for symbol in drawn_symbols(row, *STATUSES)]
    assert len(set(drawn)) == len(drawn)
    assert len(drawn) + sum(counted(row) for row in sheet.rows) == count


def boxes_on(sheet: Sheet, row: Row) -> tuple[list[Box], list[Box]]:
    """Boxes in marks of the labels inside a row, and of the symbols they must not cover."""

    def at(item: Symbol | Text) -> tuple[float, float]:
        return (item.u - row.start) * sheet.scale, item.v * sheet.scale

    inside = [text for text in texts(row, "tag", "patch", "reason", "landmark") if text.dy != 13.0]
    labels = [
        text_box(
            *at(text),
            text_width(text.text, TEXTS[text.style].size),
            TEXTS[text.style].size,
            Placed(text.dx, text.dy, text.anchor),
        )
        for text in inside
    ]
    halves = dict.fromkeys(STATUSES, (SYMBOL_HALF, SYMBOL_HALF)) | {"cell": CHIP_HALF, "landmark": (4.0, 4.0)}
    marks = []
    for symbol in drawn_symbols(row, *halves):
        (px, py), (half_width, half_height) = at(symbol), halves[symbol.style]
        marks.append(Box(px - half_width, py - half_height, px + half_width, py + half_height))
    return labels, marks


def overlap(one: Box, other: Box) -> bool:
    thin = 1e-6
    return (
        one.left < other.right - thin
        and one.right > other.left + thin
        and one.top < other.bottom - thin
        and one.bottom > other.top + thin
    )


@settings(max_examples=25, deadline=None)
@given(
    st.integers(1, 250), st.integers(0, 10_000), st.sampled_from([8.0, 20.0, 48.0]), st.sampled_from([300.0, 1000.0])
)
def test_labels_cover_neither_each_other_nor_a_symbol_nor_leave_the_row(
    count: int, seed: int, row_length: float, row_width: float
) -> None:
    pipe = a_pipe()
    sheet = draw_zone(
        pipe,
        ground_of(pipe),
        [(box(1040, 2.8, 1050, 3.7), "saddle")],
        [Mark("nozzle", "N2", 1022.0, 0.4), Mark("girth weld", "W3", 1024.0)],
        random_flaws(pipe, count, seed),
        [PatchMark("P1", box(1010, 1.4, 1011, 2.0), "begun")],
        row_length,
        row_width,
    )
    for row in sheet.rows:
        labels, marks = boxes_on(sheet, row)
        assert not [pair for pair in combinations(labels, 2) if overlap(*pair)]
        assert not [(label, mark) for label in labels for mark in marks if overlap(label, mark)]
        width, height = (row.end - row.start) * sheet.scale, row.height * sheet.scale
        assert all(b.left >= 0 and b.top >= 0 and b.right <= width and b.bottom <= height for b in labels)


@given(st.lists(st.tuples(st.floats(0, 500), st.text("1+0.W", min_size=1, max_size=8)), max_size=30))
def test_texts_along_an_axis_stay_apart_and_on_it(wanted: list[tuple[float, str]]) -> None:
    spans = []
    for px, text, placed in place_along(wanted, 500.0, 11.0):
        area = text_box(px, 0.0, text_width(text, 11.0), 11.0, placed)
        spans.append((area.left, area.right))
        assert area.left >= -1e-9
        assert area.right <= 500 + 1e-9
    spans.sort()
    assert all(first[1] + 8 <= second[0] + 1e-9 for first, second in zip(spans, spans[1:], strict=False))


def test_a_lone_flaw_is_named() -> None:
    pipe = a_pipe()
    sheet = draw_zone(pipe, ground_of(pipe), flaws=[FlawMark("B17", 1050.3, 1.9, "open", "17")])
    assert [text.text for row in sheet.rows for text in texts(row, "tag")] == ["B17"]


def test_a_counted_cell_carries_the_most_urgent_status_in_it() -> None:
    pipe = a_pipe()
    flaws = [FlawMark(f"B{i}", 1010.0, 1.9, status, str(i)) for i, status in enumerate(["struck", "accepted", "ready"])]
    row = draw_zone(pipe, ground_of(pipe), flaws=flaws).rows[0]
    assert counted(row) == 3
    assert [symbol.style for symbol in drawn_symbols(row, *(f"small-{s}" for s in STATUSES))] == ["small-ready"]


def test_the_order_in_which_flaws_come_changes_nothing() -> None:
    pipe = a_pipe()
    flaws = random_flaws(pipe, 150)
    shuffled = random.Random(1).sample(flaws, len(flaws))
    drawn = [draw_zone(pipe, ground_of(pipe), flaws=some).rows for some in (flaws, shuffled)]
    assert drawn[0] == drawn[1]


def test_both_ends_belong_to_the_zone_and_what_lies_past_them_is_left_out() -> None:
    pipe = a_pipe()
    flaws = [FlawMark(str(x), x, 1.0, "open", str(x)) for x in (999.99, 1000.0, 1096.0, 1096.01)]
    sheet = draw_zone(pipe, ground_of(pipe), flaws=flaws)
    assert [symbol.name for row in sheet.rows for symbol in drawn_symbols(row, "open")] == ["1000.0", "1096.0"]


def test_a_zone_without_anything_swept_is_all_gap() -> None:
    pipe = a_pipe()
    nothing = Polygon()
    sheet = draw_zone(pipe, Divided(nothing, nothing, nothing, nothing, pipe.outline), row_length=96.0)
    assert shown_area(sheet.rows[0], "gap") == pytest.approx(pipe.area)


def test_an_unknown_status_is_refused_by_name() -> None:
    pipe = a_pipe()
    with pytest.raises(ValueError, match="status 'mended' is not allowed: one of open, begun, ready"):
        draw_zone(pipe, ground_of(pipe), flaws=[FlawMark("B1", 1001, 1, "mended", "1")])


@pytest.mark.parametrize("length", [0.0, -5.0, float("nan"), float("inf")])
def test_a_row_length_not_above_zero_is_refused(length: float) -> None:
    with pytest.raises(ValueError, match="row_length .* is not allowed: a number above zero"):
        a_sheet(row_length=length)


def test_the_legend_names_what_is_shown_and_nothing_else() -> None:
    pipe = a_pipe()
    sheet = draw_zone(
        pipe,
        Divided(pipe.outline, *[Polygon()] * 4),
        flaws=[FlawMark("B1", 1001, 1, "open", "1")],
        landmarks=[Mark("girth weld", "W1", 1000.0)],
    )
    assert [entry.words for entry in legend(sheet)] == ["open", "tested", "weld"]


@pytest.mark.parametrize("style", list(symbols.WORDS))
def test_pictures_for_legends_pass_a_strict_content_policy(style: str) -> None:
    picture = svg_symbol(style)
    assert "style=" not in picture
    assert "<script" not in picture
    colours = set(re.findall(r"sheet-(?:fill|line)-\w+", picture))
    assert colours
    assert all(f".{name} " in CSS.read_text() for name in colours)


# Okabe and Ito, "Color Universal Design" (2008), RGB as published there; the values are from memory.
OKABE_ITO = {
    "open": (213, 94, 0),
    "work": (230, 159, 0),
    "wait": (86, 180, 233),
    "done": (0, 158, 115),
    "held": (204, 121, 167),
}


@pytest.mark.parametrize("role", list(OKABE_ITO))
def test_status_colours_are_those_of_okabe_and_ito(role: str) -> None:
    assert tuple(bytes.fromhex(symbols.PRINT_PALETTE[role][1:])) == OKABE_ITO[role]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two #rgb or #rrggbb colours: W3C, WCAG 2.2, "relative luminance" and "contrast ratio"."""

    def luminance(colour: str) -> float:
        digits = colour[1:] if len(colour) == 7 else "".join(letter * 2 for letter in colour[1:])
        linear = [
            part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
            for part in (value / 255 for value in bytes.fromhex(digits))
        ]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def palettes() -> list[dict[str, str]]:
    """Print, light, dark and high-contrast colours, the latter three from the stylesheet's fallbacks."""
    blocks = CSS.read_text().split("{\n")
    found = [dict(re.findall(r"--sheet-(\w+): var\(--\w+, (#\w+)\)", block)) for block in blocks]
    light, dark, high = (block for block in found if block)
    return [symbols.PRINT_PALETTE, light, light | dark, light | high]


@pytest.mark.parametrize("palette", palettes(), ids=["print", "light", "dark", "high contrast"])
def test_every_symbol_has_a_rim_and_every_text_letters_that_stand_out(palette: dict[str, str]) -> None:
    for ground in ("card", "tint"):
        for style in STATUSES:
            roles = {role for part in symbols.SYMBOLS[style] for role in (part.fill, part.stroke) if role}
            assert max(contrast(palette[role], palette[ground]) for role in roles & {"ink", "soft"}) >= 3
        for letters in TEXTS.values():
            assert contrast(palette[letters.colour], palette[ground]) >= 4.5
        for hatch in symbols.HATCHES.values():
            assert contrast(palette[hatch.edge.colour], palette[ground]) >= 3
    assert contrast(palette["ink"], palette["line"]) >= 4.5
