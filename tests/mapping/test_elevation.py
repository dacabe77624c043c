"""An asset drawn as one sees it: which zones belong together, true scale, where ground and flaws lie, and its painting."""

from __future__ import annotations

import io
import math
import random

import pypdfium2 as pdfium
import pytest
import shapely
from reportlab.pdfgen.canvas import Canvas
from shapely import Polygon

from mapping.assembly import IN_A_ROW, draw_asset
from mapping.elevation import WIDTH, Group, Part, Piece, Rings, shortened
from mapping.elevation_paint import Box, paint_asset
from mapping.labels import text_width
from mapping.surfaces.cone import Cone
from mapping.surfaces.corners import Corner
from mapping.surfaces.deck import Deck
from mapping.surfaces.disk import Annulus, Disk
from mapping.surfaces.local import Sphere
from mapping.surfaces.panel import Panel
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Surface
from mapping.surfaces.strake import Strake
from tests.mapping.made_up_section import Divided
from tests.mapping.made_up_sheets import SHEETS, ground_on
from tests.mapping.made_up_surfaces import inside

NOTHING = Polygon()


def a_part(name: str, surface: Surface, state: str = "open", **given: object) -> Part:
    return Part(name, name, surface, state, f"{name}: not ready", **{"ground": ground_on(surface), **given})  # type: ignore[arg-type]


def spools(count: int) -> list[Part]:
    return [a_part(f"Spool {n + 1}", Pipe(start=12.0 * n, end=12.0 * (n + 1), diameter=1.2)) for n in range(count)]


def a_tank(face: str = "inside") -> list[Part]:
    over, under = ("below", "above") if face == "inside" else ("above", "below")
    strakes = [Strake(number=n, height=2.4, diameter=24.0, face=face) for n in range(1, 6)]
    return [
        *(a_part(f"Strake {strake.number}", strake) for strake in strakes),
        a_part("Roof", Cone(diameter=24.6, height=2.1, viewed=over, face=face)),
        a_part("Floor", Disk(diameter=22.0, viewed=under, face=face)),
        a_part("Annular plates", Annulus(diameter=24.0, inner_diameter=22.02, viewed=under, face=face)),
    ]


def box_of(piece: Piece) -> tuple[float, float, float, float]:
    return tuple(Polygon(piece.outline[0]).bounds)  # type: ignore[return-value]


def by_name(group: Group) -> dict[str, Piece]:
    return {piece.part.name: piece for piece in group.pieces}


def area_of(shapes: tuple[Rings, ...]) -> float:
    return float(sum(Polygon(rings[0], rings[1:]).area for rings in shapes))


def test_every_zone_is_one_piece() -> None:
    parts = [a_part(name, surface) for name, surface in SHEETS.items()]
    pieces = [piece.part.name for group in draw_asset(parts).groups for piece in group.pieces]
    assert sorted(pieces) == sorted(SHEETS)


def test_no_zones_are_no_drawing() -> None:
    assert draw_asset([]).groups == ()


@pytest.mark.parametrize("name", list(SHEETS))
def test_everything_drawn_lies_in_its_group(name: str) -> None:
    dice = random.Random(1)
    surface = SHEETS[name]
    flaws = [inside(surface, dice.random(), dice.random()) for _ in range(20)]
    for group in draw_asset([a_part(name, surface, flaws=flaws)]).groups:
        for piece in group.pieces:
            points = [p for ring in piece.outline for p in ring] + list(piece.dots)
            points += [p for rings in (*piece.tested, *piece.doubtful) for ring in rings for p in ring]
            assert all(-0.5 <= x <= WIDTH + 0.5 and 0 <= y <= group.height for x, y in points)


@pytest.mark.parametrize("name", list(SHEETS))
def test_ground_and_flaws_lie_on_their_zone(name: str) -> None:
    surface = SHEETS[name]
    dice = random.Random(2)
    flaws = [inside(surface, dice.random(), dice.random()) for _ in range(20)]
    ((piece,),) = [group.pieces for group in draw_asset([a_part(name, surface, flaws=flaws)]).groups]
    zone = shapely.make_valid(Polygon(piece.outline[0], piece.outline[1:])).buffer(1.0)
    assert all(zone.covers(shapely.Point(dot)) for dot in piece.dots)
    for rings in (*piece.tested, *piece.doubtful):
        assert zone.covers(Polygon(rings[0]))


@pytest.mark.parametrize("name", list(SHEETS))
def test_a_zone_tested_whole_is_filled_whole(name: str) -> None:
    surface = SHEETS[name]
    ground = Divided(surface.outline, NOTHING, NOTHING, NOTHING, NOTHING)
    ((piece,),) = [group.pieces for group in draw_asset([a_part(name, surface, ground=ground)]).groups]
    whole = Polygon(piece.outline[0], piece.outline[1:]).area
    assert area_of(piece.tested) == pytest.approx(whole, rel=0.02)
    assert piece.doubtful == ()


def test_a_pipeline_is_rows_of_few_zones_at_one_scale() -> None:
    groups = draw_asset(spools(15)).groups
    assert [len(group.pieces) for group in groups] == [8, 7]
    widths = {round(box_of(piece)[2] - box_of(piece)[0]) for group in groups for piece in group.pieces}
    assert len(widths) == 1
    assert [text.text for text in groups[0].lettering] == ["0+000.00", "0+096.00"]


def test_two_hundred_zones_stay_wide_enough_to_press_and_to_tell_their_state() -> None:
    groups = draw_asset(spools(220)).groups
    pieces = [piece for group in groups for piece in group.pieces]
    assert len(pieces) == 220
    assert all(len(group.pieces) <= IN_A_ROW for group in groups)
    assert all(box_of(piece)[2] - box_of(piece)[0] >= 48 for piece in pieces)
    assert all(piece.chip and piece.label for piece in pieces)


def test_pipes_side_by_side_have_a_ribbon_each() -> None:
    parts = [a_part(face, Pipe(start=0, end=100, diameter=1.2, face=face)) for face in ("outside", "inside")]
    assert [[piece.part.name for piece in group.pieces] for group in draw_asset(parts).groups] == [
        ["outside"],
        ["inside"],
    ]


def test_strakes_stand_on_each_other_under_the_roof() -> None:
    shell, _ = draw_asset(a_tank()).groups
    boxes = {name: box_of(piece) for name, piece in by_name(shell).items()}
    for upper, lower in (("Roof", "Strake 5"), ("Strake 5", "Strake 4"), ("Strake 2", "Strake 1")):
        assert boxes[upper][3] == pytest.approx(boxes[lower][1], abs=0.15)


def test_the_floor_is_a_group_of_its_own_that_can_lie_beside_the_shell() -> None:
    shell, floor = draw_asset(a_tank()).groups
    assert set(by_name(floor)) == {"Floor", "Annular plates"}
    assert max(box_of(piece)[3] for piece in floor.pieces) < floor.height
    assert "Floor" in floor.words
    assert "Floor" not in shell.words


def test_a_tank_is_true_to_scale() -> None:
    shell, floor = draw_asset(a_tank()).groups
    left, top, right, bottom = box_of(by_name(shell)["Strake 3"])
    assert (right - left) / (bottom - top) == pytest.approx(24.0 / 2.4, rel=0.01)
    scale = (right - left) / 24.0
    left, top, right, bottom = box_of(by_name(shell)["Roof"])
    assert (right - left) / (bottom - top) == pytest.approx(24.6 / 2.1, rel=0.01)
    left, top, right, bottom = box_of(by_name(floor)["Floor"])
    assert right - left == pytest.approx(bottom - top, abs=0.3)
    assert (right - left) / 22.0 == pytest.approx(scale, rel=0.01)


def test_the_annular_plates_lie_around_the_floor() -> None:
    _, group = draw_asset(a_tank()).groups
    floor, ring = (Polygon(by_name(group)[name].outline[0]) for name in ("Floor", "Annular plates"))
    assert ring.contains(floor)
    assert ring.centroid.distance(floor.centroid) < 0.2


@pytest.mark.parametrize(("face", "share"), [("inside", 0.25), ("outside", 0.75)])
def test_a_flaw_at_90_degrees_is_a_quarter_across_as_one_sees_the_shell(face: str, share: float) -> None:
    strake = Strake(number=1, height=2.4, diameter=24.0, face=face)
    place = strake.read_place("90 deg, 0.60 m up")
    (group,) = draw_asset([a_part("Strake 1", strake, flaws=[place])]).groups
    (piece,) = group.pieces
    left, top, right, bottom = box_of(piece)
    ((x, y),) = piece.dots
    assert (x - left) / (right - left) == pytest.approx(share, abs=0.01)
    assert (y - top) / (bottom - top) == pytest.approx(0.75, abs=0.02)


def test_a_flaw_on_a_roof_is_as_far_below_its_top_as_its_slant_says() -> None:
    roof = Cone(diameter=24.0, height=5.0, viewed="below")
    slant = math.hypot(12.0, 5.0)
    place = roof.read_place(f"90 deg, slant {slant / 2:.2f} m")
    (group,) = draw_asset([a_part("Roof", roof, flaws=[place])]).groups
    (piece,) = group.pieces
    left, top, right, bottom = box_of(piece)
    ((x, y),) = piece.dots
    assert (y - top) / (bottom - top) == pytest.approx(0.5, abs=0.02)
    assert x == pytest.approx(left + (right - left) * (0.5 - 0.25 * 0.5), abs=0.5)  # half the radius, a quarter across


@pytest.mark.parametrize(("viewed", "place", "up"), [("below", "Roof", True), ("above", "Hopper", False)])
def test_a_cone_over_the_head_is_a_roof_and_one_under_the_feet_a_bottom(viewed: str, place: str, up: bool) -> None:
    parts = [*a_tank()[:5], a_part(place, Cone(diameter=24.0, height=3.0, viewed=viewed))]
    (group,) = draw_asset(parts).groups
    cone, shell = box_of(by_name(group)[place]), box_of(by_name(group)["Strake 1" if not up else "Strake 5"])
    assert (cone[3] <= shell[1] + 0.2) if up else (cone[1] >= shell[3] - 0.2)


def test_two_tanks_are_drawn_one_after_the_other_each_with_its_own_floor() -> None:
    small = [
        a_part("Small 1", Strake(number=1, height=2.0, diameter=9.0)),
        a_part("Small floor", Disk(diameter=9.0)),
    ]
    groups = draw_asset([*a_tank(), *small]).groups
    assert [set(by_name(group)) for group in groups] == [
        {"Small 1"},
        {"Small floor"},
        {*(f"Strake {number}" for number in range(1, 6)), "Roof"},
        {"Floor", "Annular plates"},
    ]


def test_spans_of_one_deck_lie_on_one_grid_and_share_their_edge() -> None:
    grid = {"letters": (0.0, 6.0, 12.0, 18.0, 24.0), "numbers": (0.0, 4.0, 8.0)}
    first = Deck(**grid, corners=(Corner(0, 0), Corner(12, 0), Corner(14, 8), Corner(2, 8)))
    second = Deck(**grid, corners=(Corner(12, 0), Corner(22, 0), Corner(24, 8), Corner(14, 8)))
    (group,) = draw_asset([a_part("Span 1", first), a_part("Span 2", second)]).groups
    one, other = (Polygon(piece.outline[0]) for piece in group.pieces)
    assert one.distance(other) < 0.2
    assert one.intersection(other).area < 0.02 * one.area
    assert [text.text for text in group.lettering if text.anchor != "end"] == ["A", "B", "C", "D", "E"]


def test_decks_that_would_cover_each_other_stand_apart() -> None:
    deck = Deck(letters=(0, 6, 12), numbers=(0, 4))
    assert len(draw_asset([a_part("Carriageway", deck), a_part("Walkway", deck)]).groups) == 2


def test_panels_stand_side_by_side_at_one_scale() -> None:
    parts = [a_part("Large", Panel(width=3, height=1.5)), a_part("Small", Panel(width=1.5, height=1.5))]
    (group,) = draw_asset(parts).groups
    large, small = (box_of(by_name(group)[name]) for name in ("Large", "Small"))
    assert (large[2] - large[0]) / (small[2] - small[0]) == pytest.approx(2.0, rel=0.01)
    assert large[2] < small[0]


def test_a_zone_not_begun_has_neither_ground_nor_sign() -> None:
    sphere = Sphere(stated=40.0)
    (group,) = draw_asset([Part("1", "Ball", sphere, "none", "Ball: not begun")]).groups
    (piece,) = group.pieces
    assert (piece.tested, piece.doubtful, piece.chip, piece.sign) == ((), (), None, "")


def test_flaws_that_would_blot_are_one_dot() -> None:
    strake = Strake(number=1, height=2.4, diameter=24.0)
    flaws = [(10.0 + 0.001 * n, 1.0) for n in range(500)]
    (group,) = draw_asset([a_part("Strake 1", strake, flaws=flaws)]).groups
    assert 1 <= len(group.pieces[0].dots) <= 3


@pytest.mark.parametrize(("room", "said"), [(100.0, "Section 14"), (40.0, "14"), (10.0, "")])
def test_a_name_without_room_gives_way_to_its_number(room: float, said: str) -> None:
    assert shortened("Section 14", room) == said


def test_a_name_cut_short_fits_its_room() -> None:
    short = shortened("North abutment walkway", 80.0)
    assert short.endswith("…")
    assert text_width(short, 12.0) <= 80.0


def painted(parts: list[Part], box: Box) -> tuple[bytes, float]:
    held = io.BytesIO()
    canvas = Canvas(held, pagesize=(595, 842), invariant=1)
    used = paint_asset(canvas, draw_asset(parts), box)
    canvas.showPage()
    canvas.save()
    return held.getvalue(), used


@pytest.mark.parametrize(
    "parts", [spools(220), a_tank(), [a_part(n, s) for n, s in SHEETS.items()]], ids=["line", "tank", "all"]
)
def test_the_painted_asset_stays_in_its_box(parts: list[Part]) -> None:
    box = Box(42.0, 780.0, 511.0, 600.0)
    document, used = painted(parts, box)
    assert 100 < used <= 600
    page = pdfium.PdfDocument(document)[0]
    bounds = [item.get_bounds() for item in page.get_objects(filter=(pdfium.raw.FPDF_PAGEOBJ_PATH,))]
    assert min(left for left, *_ in bounds) >= 41
    assert max(right for _, _, right, _ in bounds) <= 554
    assert max(top for *_, top in bounds) <= 781
    assert min(bottom for _, bottom, _, _ in bounds) >= 780 - used - 1


def test_the_same_asset_gives_the_same_bytes() -> None:
    box = Box(42.0, 780.0, 511.0, 600.0)
    assert painted(a_tank(), box)[0] == painted(a_tank(), box)[0]


def test_the_painted_asset_names_its_zones_and_what_its_colours_mean() -> None:
    document, _ = painted(a_tank(), Box(42.0, 780.0, 511.0, 600.0))
    said = pdfium.PdfDocument(document)[0].get_textpage().get_text_bounded()
    for words in ("Strake 3", "Annular plates", "waits, held or lost", "the crew's turn"):
        assert words in said
