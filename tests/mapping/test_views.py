"""Every kind of surface as the person facing it sees it: where places are drawn, the graticule, and what is written at it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from shapely import LineString, Point, Polygon

from mapping.drawing import draw_zone, row_lengths
from mapping.positions import Chainage
from mapping.rows import Row
from mapping.scene import Area, FlawMark, Hatch, Line, Mark, Symbol, Text
from mapping.surfaces import from_json
from mapping.surfaces.cone import Cone
from mapping.surfaces.deck import Corner, Deck
from mapping.surfaces.disk import Disk
from mapping.surfaces.strake import Strake
from mapping.symbols import GROUND, STATUSES
from mapping.view import view_of
from mapping.wire import legend
from tests.mapping.made_up_sheets import SHEETS, a_sheet_of, ground_on
from tests.mapping.made_up_surfaces import CURVED, DECK, STRAKE, inside, shares

VECTORS: list[dict[str, Any]] = json.loads(
    (Path(__file__).parents[1] / "vectors" / "views.json").read_text(encoding="utf-8")
)["cases"]
METRIC = Chainage()


def texts(row: Row, *styles: str) -> list[Text]:
    return [item for item in row.items if isinstance(item, Text) and item.style in styles]


@pytest.mark.parametrize("case", VECTORS, ids=[case["name"] for case in VECTORS])
def test_a_spoken_place_is_drawn_where_it_was_worked_out_by_hand(case: dict[str, Any]) -> None:
    surface = from_json(case["kind"], case["surface"], case["face"], METRIC)
    place = surface.read_place(case["said"])
    assert view_of(surface).seen(*place) == pytest.approx((case["u"], case["v"]), abs=0.0015)


@pytest.mark.parametrize("name", list(SHEETS))
@settings(max_examples=25, deadline=None)
@given(share_x=shares, share_y=shares)
def test_every_view_agrees_with_its_surface_and_back(name: str, share_x: float, share_y: float) -> None:
    surface = SHEETS[name]
    view = view_of(surface)
    place = inside(surface, share_x, share_y)
    u, v = view.seen(*place)
    us, vs = surface.to_view(
        np.array([place.x, surface.outline.bounds[0]]), np.array([place.y, surface.outline.bounds[1]])
    )
    corner = view.step_x * (surface.outline.bounds[0] - view.x0), view.step_y * (surface.outline.bounds[1] - view.y0)
    off_u, off_v = u - corner[0] - (us[0] - us[1]), v - corner[1] - (vs[0] - vs[1])
    turns_u, turns_v = off_u / view.length, off_v / view.height
    assert abs(off_u) < 0.0011 or (view.wrap == "x" and abs(turns_u - round(turns_u)) * view.length < 0.0011)
    assert abs(off_v) < 0.0011 or (view.wrap == "y" and abs(turns_v - round(turns_v)) * view.height < 0.0011)
    back = view.plane(u, v)
    apart = np.abs(np.array(back) - place)
    if view.wrap:
        axis = "xy".index(view.wrap)
        apart[axis] = min(apart[axis], surface.period - apart[axis])
    assert apart.max() < 0.0011


@pytest.mark.parametrize("name", list(SHEETS))
def test_the_rows_of_every_surface_show_its_ground_and_no_more(name: str) -> None:
    surface = SHEETS[name]
    sheet, ground = a_sheet_of(surface), ground_on(surface)
    for style, shape in zip(GROUND, (ground.stands, ground.gap, ground.pending, ground.held, ground.lost), strict=True):
        shown = 0.0
        for row in sheet.rows:
            window = shapely.box(row.start, 0, row.end, row.height)
            for item in row.items:
                if isinstance(item, Area | Hatch) and item.style == style:
                    outer, *holes = item.rings
                    shown += Polygon(outer, holes).intersection(window).area
        assert shown == pytest.approx(shape.area, rel=2e-3, abs=0.01), style


@pytest.mark.parametrize("name", list(SHEETS))
def test_every_flaw_of_every_surface_is_drawn_or_counted_once(name: str) -> None:
    sheet = a_sheet_of(SHEETS[name], count=120)
    drawn = [item.name for row in sheet.rows for item in row.items if isinstance(item, Symbol) and item.name]
    counted = sum(int(text.text) for row in sheet.rows for text in texts(row, "count"))
    assert len(set(drawn)) + counted == 120
    assert len(set(drawn)) == len(drawn)


@pytest.mark.parametrize("name", list(SHEETS))
def test_lines_of_every_surface_stay_inside_their_row(name: str) -> None:
    for row in a_sheet_of(SHEETS[name], row_length=None).rows:
        for item in row.items:
            if isinstance(item, Line):
                assert all(row.start - 1e-6 <= u <= row.end + 1e-6 for u, _ in item.points), item
                assert all(-0.01 <= v <= row.height + 0.01 for _, v in item.points), item


def test_disks_cones_and_short_decks_are_one_plan_and_long_ones_are_cut() -> None:
    long_deck = Deck(letters=(0, 30, 60, 90), numbers=(0, 6, 12))
    plans = {name: len(a_sheet_of(SHEETS[name]).rows) == 1 for name in ("disk", "cone", "annulus", "deck", "head")}
    assert all(plans.values())
    assert view_of(SHEETS["disk"]).plan
    assert row_lengths(view_of(SHEETS["disk"])) == pytest.approx([24.0], abs=0.001)
    assert not view_of(long_deck).plan
    assert len(draw_zone(long_deck, ground_on(long_deck), row_length=30.0).rows) == 3


def test_azimuths_are_written_to_the_right_inside_and_to_the_left_outside() -> None:
    for face, order in (("inside", 1), ("outside", -1)):
        strake = Strake(number=1, height=2.4, circumference=36.0, face=face)
        row = draw_zone(strake, ground_on(strake), row_length=36.0).rows[0]
        degrees = [int(text.text.removesuffix("°")) for text in sorted(texts(row, "axis"), key=lambda t: t.u)]
        assert len(degrees) >= 8
        assert degrees == sorted(degrees, reverse=order < 0)


@pytest.mark.parametrize("face", ["inside", "outside"])
def test_every_azimuth_on_the_axis_reads_back_as_the_place_it_marks(face: str) -> None:
    strake = Strake(number=1, height=2.4, circumference=36.0, face=face)
    sheet = draw_zone(strake, ground_on(strake))
    written = [text for row in sheet.rows for text in texts(row, "axis", "start")]
    assert len(written) > 10
    for text in written:
        place = strake.read_place(f"{text.text}, 1.00 m up")
        u = sheet.scene.view.seen(*place)[0]
        assert min(abs(u - text.u), 36.0 - abs(u - text.u)) < 0.0006


def test_heights_are_written_beside_a_strake_and_read_back() -> None:
    row = a_sheet_of(STRAKE, row_length=4.0).rows[0]
    side = texts(row, "side")
    assert [text.text for text in side][-1] == "0 m"
    assert side[0].text == "2.44"
    for text in side[1:-1]:
        assert STRAKE.height - float(text.text) == pytest.approx(text.v)


def test_heights_beside_a_sphere_are_measured_over_its_surface() -> None:
    sphere = SHEETS["sphere"]
    for text in texts(a_sheet_of(sphere).rows[0], "side")[1:-1]:
        y = sphere.read_place(f"0 deg, {text.text} m up").y
        assert sphere.outline.bounds[3] - y == pytest.approx(text.v, abs=1e-5)


def test_plates_of_a_strake_are_seams_named_with_the_way_they_run() -> None:
    row = a_sheet_of(STRAKE, row_length=40.0).rows[0]
    seams = sorted(item.points[0][0] for item in row.items if isinstance(item, Line) and item.style == "seam" and len(item.points) == 2 and item.points[0][0] == item.points[1][0])  # fmt: skip
    assert seams == pytest.approx(sorted(azimuth / 360 * 40.0 for azimuth in STRAKE.plates), abs=0.001)
    assert "plate 2 →" in [text.text for text in texts(row, "landmark")]


def test_lines_of_a_deck_are_named_as_their_crossings_are_spoken() -> None:
    row = a_sheet_of(DECK).rows[0]
    for text in texts(row, "axis", "start"):
        x, _ = DECK.read_place(f"{text.text}-7")
        assert view_of(DECK).seen(x, DECK.numbers[0])[0] == pytest.approx(text.u, abs=0.001)
    for text in texts(row, "side"):
        _, y = DECK.read_place(f"G-{text.text}")
        assert view_of(DECK).seen(DECK.letters[0], y)[1] == pytest.approx(text.v, abs=0.001)
    assert [text.text for text in texts(row, "side")] == ["10", "9", "8", "7"]


def test_a_deck_seen_from_below_has_its_letters_mirrored() -> None:
    for viewed, letters in (("above", ["A", "B", "C"]), ("below", ["C", "B", "A"])):
        deck = Deck(letters=(0, 6, 12), numbers=(0, 4, 8), viewed=viewed)
        row = draw_zone(deck, ground_on(deck)).rows[0]
        assert [text.text for text in sorted(texts(row, "axis", "start"), key=lambda text: text.u)] == letters


def test_a_skewed_deck_is_drawn_with_its_own_outline() -> None:
    skewed = Deck(
        letters=(0, 6, 12), numbers=(0, 4), corners=(Corner(0, 0), Corner(12, 0), Corner(14, 4), Corner(2, 4))
    )
    row = draw_zone(skewed, ground_on(skewed)).rows[0]
    (edge,) = [item for item in row.items if isinstance(item, Line) and item.style == "edge"]
    assert Polygon(edge.points).area == pytest.approx(48.0)
    assert edge.points[0] == edge.points[-1]


def test_rings_and_rays_of_a_disk_lie_where_their_names_say() -> None:
    disk = Disk(diameter=24.0)
    sheet = draw_zone(disk, ground_on(disk))
    middle = view_of(disk).seen(0.0, 0.0)
    names = {text.text: text for text in texts(sheet.rows[0], "axis")}
    for text in ("5 m", "10 m"):
        assert middle[1] - names[text].v == pytest.approx(float(text.removesuffix(" m")), abs=0.001)
    for text in ("0°", "90°", "180°", "270°"):
        place = disk.read_place(f"{text}, r 12.00 m")
        assert view_of(disk).seen(*place) == pytest.approx((names[text].u, names[text].v), abs=0.01)
    grid = [LineString(item.points) for item in sheet.rows[0].items if isinstance(item, Line) and item.style == "grid"]
    assert min(line.distance(Point(middle[0] + 10.0, middle[1])) for line in grid) < 0.01


def test_the_names_of_a_cone_stand_at_its_own_azimuths() -> None:
    cone = Cone(diameter=6, height=4)
    row = draw_zone(cone, ground_on(cone)).rows[0]
    for text in texts(row, "axis"):
        if text.text.endswith("°") and text.text != "0°":
            assert view_of(cone).seen(*cone.read_place(f"{text.text}, slant 5.00 m")) == pytest.approx(
                (text.u, text.v), abs=0.01
            )
    assert [text.text for text in texts(row, "axis")].count("0°") == 2


@pytest.mark.parametrize("name", ["bend", "head", "sphere"])
def test_surfaces_that_do_not_unroll_say_that_distances_are_local(name: str) -> None:
    assert "distances are local" in a_sheet_of(SHEETS[name]).words


def test_a_plan_says_that_it_is_true_to_scale_and_from_where_it_is_seen() -> None:
    assert a_sheet_of(SHEETS["disk from below, in feet"]).words.startswith("Plan, true scale. As seen from below")


def test_a_line_over_the_seam_is_drawn_on_both_sides_of_it() -> None:
    strake = Strake(number=1, height=2.4, circumference=36.0)
    sheet = draw_zone(strake, ground_on(strake), landmarks=[Mark("weld", "W1", 0.5, 1.2, ((34.0, 1.2), (38.0, 1.2)))])
    spans = sorted(
        (min(u for u, _ in stroke.points), max(u for u, _ in stroke.points)) for stroke in sheet.scene.strokes
    )
    assert spans == [pytest.approx((0.0, 2.0)), pytest.approx((34.0, 36.0))]


def test_a_doubtful_flaw_carries_the_mark_of_its_doubt() -> None:
    disk = Disk(diameter=24.0)
    flaws = [FlawMark("B1", 3.0, 3.0, "open", "1", ("unconfirmed",)), FlawMark("B2", -3.0, -3.0, "open", "2")]
    sheet = draw_zone(disk, ground_on(disk), flaws=flaws)
    rings = [item for item in sheet.rows[0].items if isinstance(item, Symbol) and item.style == "unconfirmed"]
    assert [(ring.u, ring.v) for ring in rings] == [pytest.approx(view_of(disk).seen(3.0, 3.0))]
    assert "unconfirmed" in [entry.style for entry in legend(sheet)]


def test_a_doubt_that_does_not_exist_is_refused_by_name() -> None:
    disk = Disk(diameter=24.0)
    with pytest.raises(ValueError, match="doubt 'perhaps' is not allowed: one of unconfirmed, by-test"):
        draw_zone(disk, ground_on(disk), flaws=[FlawMark("B1", 3.0, 3.0, "open", "1", ("perhaps",))])


@pytest.mark.parametrize("name", list(SHEETS))
def test_every_flaw_lies_inside_the_frame_it_is_drawn_in(name: str) -> None:
    sheet = a_sheet_of(SHEETS[name])
    for row in sheet.rows:
        for item in row.items:
            if isinstance(item, Symbol) and item.style in STATUSES:
                assert row.start <= item.u <= row.end
                assert 0 <= item.v <= row.height


def test_a_curved_deck_keeps_its_graticule_inside_its_frame() -> None:
    row = a_sheet_of(CURVED).rows[0]
    assert {text.text for text in texts(row, "axis")} >= {"B", "C", "D"}
