"""The sheet in a browser: the same list as on paper, places and flaws under a finger, zoom, colours, strict policy."""

from __future__ import annotations

import functools
import http.server
import json
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from mapping import symbols
from mapping.drawing import Sheet, draw_zone, row_lengths
from mapping.paint import GUTTER
from mapping.positions import Chainage
from mapping.rows import Row
from mapping.scene import Symbol, Text
from mapping.surfaces import from_json
from mapping.view import view_of
from mapping.wire import legend, wire
from tests.mapping.made_up_section import a_pipe, a_sheet, ground_of, random_flaws
from tests.mapping.made_up_sheets import SHEETS, a_sheet_of, ground_on
from tests.mapping.test_film_map import a_film_map

STATIC = Path(symbols.__file__).parent / "static/mapping"
POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' data:"
HEAD = 28  # px above a row on the screen
FACES = {"outside": a_sheet(), "inside": a_sheet(face="inside")}
PLANS = {"disk": a_sheet_of(SHEETS["disk"]), "below": a_sheet_of(SHEETS["disk from below, in feet"])}
KINDS = {name: f"kind-{number}" for number, name in enumerate(SHEETS)}
VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "views.json").read_text(encoding="utf-8"))["cases"]


def dense_sheet() -> Sheet:
    pipe = a_pipe(end=2000.0)
    return draw_zone(pipe, ground_of(pipe), flaws=random_flaws(pipe, 50_000))


class _Quiet(http.server.SimpleHTTPRequestHandler):
    def end_headers(self) -> None:
        self.send_header("Content-Security-Policy", POLICY)
        super().end_headers()

    def log_message(self, *_: object) -> None:
        pass


def _page(sheet: str, key: str = "") -> str:
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>Section 5</title>'
        '<meta name="viewport" content="width=device-width,initial-scale=1"><link rel="icon" href="data:,">'
        '<link rel="stylesheet" href="sheet.css"><script type="module" src="sheet.js"></script>'
        f'{sheet}<ul class="sheet-key">{key}</ul></html>'
    )


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("site")
    for file in STATIC.iterdir():
        shutil.copy(file, folder)
    for name, file in KINDS.items():
        (folder / f"{file}.json").write_text(json.dumps(wire(a_sheet_of(SHEETS[name]))))
    for number, case in enumerate(VECTORS):
        surface = from_json(case["kind"], case["surface"], case["face"], Chainage())
        (folder / f"vector-{number}.json").write_text(json.dumps(wire(draw_zone(surface, ground_on(surface)))))
    for name, sheet in (FACES | PLANS | {"dense": dense_sheet(), "film": a_film_map()}).items():
        (folder / f"{name}.json").write_text(json.dumps(wire(sheet)))
        key = "".join(f"<li>{entry.svg}{entry.words}</li>" for entry in legend(sheet))
        element = f'<div class="sheet" data-sheet="{name}.json" data-label="Section 5, unrolled"></div>'
        (folder / f"{name}.html").write_text(_page(element, key))
    (folder / "gone.html").write_text(_page('<div class="sheet" data-sheet="gone.json"></div>'))
    script = f'<script type="application/json" id="zone">{json.dumps(wire(FACES["outside"]))}</script>'
    (folder / "inline.html").write_text(_page(f'{script}<div class="sheet" data-sheet="#zone"></div>'))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(_Quiet, directory=str(folder)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page of 1280 x 900 px that fails the test when the console tells of an error."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, color_scheme="light")
    opened = context.new_page()
    errors: list[str] = []
    opened.on("console", lambda message: errors.append(message.text) if message.type == "error" else None)
    opened.on("pageerror", lambda error: errors.append(str(error)))
    yield opened
    context.close()
    assert not errors


def open_sheet(page: Page, address: str) -> None:
    """Open a page, wait for the first picture, and listen to what the sheet tells."""
    page.goto(address)
    wait_for_picture(page)
    page.evaluate(
        """() => { window.told = [];
        for (const name of ["place", "flaw"])
          document.addEventListener(name, (event) => told.push([name, event.detail])); }"""
    )


def until(page: Page, condition: str, argument: Any = None) -> None:
    """Wait frame by frame; the page's policy forbids the evaluation that Playwright's own waiting needs."""
    page.evaluate(
        f"""async (given) => {{
        for (let frame = 0; !({condition}); frame++) {{
          if (frame === 900) throw new Error("never came true");
          await new Promise(requestAnimationFrame);
        }} }}""",
        argument,
    )


def first_words(page: Page) -> str:
    """The line that says how long the rows are."""
    return page.locator(".sheet-words").first.inner_text()


def wait_for_picture(page: Page) -> None:
    until(page, "performance.getEntriesByName('sheet-frame').length > 0")


def listed(row: Row) -> list[list[Any]]:
    """A row's symbols, then its texts, as the browser gives them."""
    marks = [[item.style, item.u, item.v, item.name] for item in row.items if isinstance(item, Symbol)]
    return marks + [
        [item.style, item.u, item.v, item.text, item.dx, item.dy, item.anchor]
        for item in row.items
        if isinstance(item, Text)
    ]


LAYOUT = """async ([name, level, width]) => {
  const { readWire } = await import("./model.js");
  const { layoutRow } = await import("./labels.js");
  const model = readWire(await (await fetch(name + ".json")).json());
  return model.wire.levels[level].starts.map((_, number) => {
    const { symbols, texts } = layoutRow(model, model.wire.levels[level], number, width);
    return [...symbols.map((s) => [s.style, s.u, s.v, s.name]),
            ...texts.map((t) => [t.style, t.u, t.v, t.text, t.dx, t.dy, t.anchor])];
  });
}"""


@pytest.mark.parametrize("face", list(FACES))
@pytest.mark.parametrize(("level", "width"), [(0, 1000.0), (1, 1000.0), (2, 281.0), (3, 700.0), (5, 1000.0)])
def test_the_browser_lays_out_the_same_list_as_paper(
    page: Page, base: str, face: str, level: int, width: float
) -> None:
    open_sheet(page, f"{base}{face}.html")
    scene = FACES[face].scene
    length = row_lengths(scene.view)[level]
    expected = [listed(row) for row in a_sheet(face=face, row_length=length, row_width=width).rows]
    assert_alike(page.evaluate(LAYOUT, [face, level, width]), expected)


@pytest.mark.parametrize(("level", "width"), [(0, 1000.0), (2, 330.0)])
def test_the_browser_lays_out_a_thickness_map_as_paper_does(page: Page, base: str, level: int, width: float) -> None:
    open_sheet(page, f"{base}film.html")
    length = row_lengths(a_film_map().scene.view)[level]
    expected = [listed(row) for row in a_film_map(row_length=length, row_width=width).rows]
    assert_alike(page.evaluate(LAYOUT, ["film", level, width]), expected)


def assert_alike(shown: list[list[list[Any]]], expected: list[list[list[Any]]]) -> None:
    assert len(shown) == len(expected)
    for seen, wanted in zip(shown, expected, strict=True):
        order = [[text for text in item if isinstance(text, str)] for item in wanted]
        assert [[text for text in item if isinstance(text, str)] for item in seen] == order
        for one, other in zip(seen, wanted, strict=True):
            numbers = [[part for part in item if not isinstance(part, str)] for item in (one, other)]
            assert numbers[0] == pytest.approx(numbers[1], abs=1e-6)


@pytest.mark.parametrize("width", [330.0, 1000.0])
def test_the_browser_lays_out_every_kind_of_surface_as_paper_does(page: Page, base: str, width: float) -> None:
    open_sheet(page, f"{base}outside.html")
    for name, file in KINDS.items():
        surface = SHEETS[name]
        for level, length in list(enumerate(row_lengths(view_of(surface))))[:3]:
            expected = [listed(row) for row in a_sheet_of(surface, row_length=length, row_width=width).rows]
            assert_alike(page.evaluate(LAYOUT, [file, level, width]), expected)


def test_the_browser_sees_every_vector_as_worked_out_by_hand(page: Page, base: str) -> None:
    open_sheet(page, f"{base}outside.html")
    places = [
        [*from_json(case["kind"], case["surface"], case["face"], Chainage()).read_place(case["said"])]
        for case in VECTORS
    ]
    seen = page.evaluate(
        """async (places) => {
        const { readWire } = await import("./model.js");
        return Promise.all(places.map(async ([x, y], number) => {
          const model = readWire(await (await fetch(`vector-${number}.json`)).json());
          const [u, v] = model.seen(x, y);
          return [u, v, ...model.plane(u, v)];
        })); }""",
        places,
    )
    for case, (x, y), (u, v, back_x, back_y) in zip(VECTORS, places, seen, strict=True):
        assert (u, v) == pytest.approx((case["u"], case["v"]), abs=0.0015), case["name"]
        assert (back_x, back_y) == pytest.approx((x, y), abs=0.0015), case["name"]


def test_a_dense_zone_is_counted_as_on_paper(page: Page, base: str) -> None:
    open_sheet(page, f"{base}dense.html")
    sheet = dense_sheet()
    level = row_lengths(sheet.scene.view).index(sheet.row_length)
    shown = page.evaluate(LAYOUT, ["dense", level, 1000.0])
    counts = [[item[3] for item in row if item[0] == "count"] for row in shown]
    assert counts == [[item[3] for item in listed(row) if item[0] == "count"] for row in sheet.rows]
    alone = sum(item[0] in symbols.STATUSES for row in shown for item in row)
    assert sum(int(count) for row in counts for count in row) + alone == 50_000


def row_width(page: Page) -> float:
    return float(page.evaluate("document.querySelector('.sheet-scroll').clientWidth - 46 - 12"))


def press(page: Page, u: float, v: float) -> list[list[Any]]:
    """Press the place (u, v) of the first row of 48 m; what the sheet tells."""
    scale = row_width(page) / 48.0
    page.locator(".sheet-canvas").click(position={"x": GUTTER + u * scale, "y": HEAD + v * scale})
    return list(page.evaluate("told.splice(0)"))


@pytest.mark.parametrize(("face", "clock"), [("outside", "3:00:00"), ("inside", "9:00:00")])
def test_a_tap_gives_the_place_on_the_surface(page: Page, base: str, face: str, clock: str) -> None:
    open_sheet(page, f"{base}{face}.html")
    pipe = a_pipe(face=face)
    told = press(page, 30.0, pipe.period / 4)
    place = next(detail for name, detail in told if name == "place")
    wanted = pipe.read_place(f"1+030.00 @ {clock}")
    assert float(pipe.distance(place["x"], place["y"], *wanted)) < 1.0 * 48.0 / row_width(page)


def lone_flaw(sheet: Sheet) -> Symbol:
    """A flaw of the first row with no other within two fingers."""
    row = sheet.rows[0]
    flaws = [item for item in row.items if isinstance(item, Symbol) and item.name]
    return next(
        flaw
        for flaw in flaws
        if 3 < flaw.u < 45 and all(other is flaw or abs(other.u - flaw.u) > 2.5 for other in flaws)
    )


def test_a_tap_within_a_finger_of_a_flaw_selects_it(page: Page, base: str) -> None:
    open_sheet(page, f"{base}outside.html")
    flaw = lone_flaw(a_sheet(row_width=row_width(page)))
    told = press(page, flaw.u + 0.6, flaw.v)
    assert ["flaw", {"id": flaw.name}] in told


def test_a_tap_further_than_a_finger_from_a_flaw_selects_none(page: Page, base: str) -> None:
    open_sheet(page, f"{base}outside.html")
    flaw = lone_flaw(a_sheet(row_width=row_width(page)))
    assert [name for name, _ in press(page, flaw.u + 1.2, flaw.v)] == ["place"]


def test_a_tapped_place_shows_a_crosshair(page: Page, base: str) -> None:
    open_sheet(page, f"{base}outside.html")
    pixel = (
        """([x, y]) => [...document.querySelector(".sheet-canvas").getContext("2d").getImageData(x, y, 1, 1).data]"""
    )
    above = [round(GUTTER + 30 * row_width(page) / 48.0), HEAD - 2]
    before = page.evaluate(pixel, above)
    press(page, 30.0, 2.0)
    until(page, f"String(({pixel})(given[0])) !== String(given[1])", [above, before])


@pytest.mark.parametrize("how", ["button", "key"])
def test_zooming_in_shortens_the_rows_and_keeps_the_tapped_place_in_sight(page: Page, base: str, how: str) -> None:
    open_sheet(page, f"{base}outside.html")
    press(page, 40.0, 2.0)
    if how == "button":
        page.get_by_role("button", name="Zoom in: shorter rows").click()
    else:
        page.locator(".sheet-scroll").press("+")
    assert first_words(page).startswith("Rows of 20 m, true scale.")
    top, seen = page.evaluate(
        "(({ scrollTop, clientHeight }) => [scrollTop, clientHeight])(document.querySelector('.sheet-scroll'))"
    )
    pitch = row_width(page) / 20.0 * a_pipe().period + 54
    assert top < 2 * pitch + HEAD + 2.0 * row_width(page) / 20.0 < top + seen


def test_zooming_ends_with_the_shortest_and_the_longest_row(page: Page, base: str) -> None:
    open_sheet(page, f"{base}outside.html")
    for name, last in (("Zoom in: shorter rows", "Rows of 2 m"), ("Zoom out: longer rows", "One row of 96 m")):
        button = page.get_by_role("button", name=name)
        while button.is_enabled():
            button.click()
        assert first_words(page).startswith(last)


def test_a_refreshed_sheet_shows_the_new_flaw(page: Page, base: str) -> None:
    open_sheet(page, f"{base}outside.html")
    page.evaluate(
        """async () => {
        const wire = await (await fetch("outside.json")).json();
        for (const [key, value] of Object.entries({ x: 1009.5, y: 3.0, status: 0, tag: "C1", id: "new" }))
          wire.flaws[key].push(value);
        document.querySelector(".sheet").sheet.refresh(wire); }"""
    )
    page.evaluate("document.querySelector('.sheet').sheet.select('new')")
    assert ["flaw", {"id": "new"}] in press(page, 9.5, 3.0)


def test_the_picture_follows_the_dark_scheme(page: Page, base: str) -> None:
    open_sheet(page, f"{base}outside.html")
    corner = (
        "[...document.querySelector('.sheet-canvas').getContext('2d').getImageData(0, 0, 1, 1).data].slice(0, 3).join()"
    )
    assert page.evaluate(corner) == "255,255,255"
    page.emulate_media(color_scheme="dark")
    until(page, f"{corner} === '26,33,40'")


def test_a_sheet_may_come_from_the_page_itself(page: Page, base: str) -> None:
    open_sheet(page, f"{base}inline.html")
    assert first_words(page).startswith("Rows of 48 m")


def test_a_sheet_that_cannot_be_loaded_says_so(browser: Browser, base: str) -> None:
    with browser.new_context() as context:
        page = context.new_page()
        page.goto(f"{base}gone.html")
        said = page.get_by_role("alert").text_content()
    assert said is not None
    assert said.startswith("The drawing could not be loaded. The tables on this page show the same")


def test_a_hidden_sheet_is_drawn_when_it_is_first_seen(page: Page, base: str) -> None:
    page.goto(f"{base}inline.html")
    wait_for_picture(page)
    page.evaluate(
        """async () => {
        const details = document.createElement("details"), sheet = document.createElement("div");
        sheet.className = "sheet"; sheet.id = "later"; details.append(sheet); document.body.prepend(details);
        const { mountSheet } = await import("./sheet.js");
        mountSheet(sheet, JSON.parse(document.querySelector("#zone").textContent));
        details.open = true; }"""
    )
    until(page, "document.querySelector('#later .sheet-words').textContent.startsWith('Rows of 48 m')")


def test_the_sheet_has_names_and_targets_for_everybody(page: Page, base: str) -> None:
    open_sheet(page, f"{base}outside.html")
    assert page.get_by_role("img", name="Section 5, unrolled").count() == 1
    assert page.get_by_role("img", name="Overview, stretched").count() == 1
    for button in page.get_by_role("button").all():
        size = button.bounding_box()
        assert size is not None
        assert min(size["width"], size["height"]) >= 48


def test_nothing_is_wider_than_a_phone(page: Page, base: str) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    open_sheet(page, f"{base}outside.html")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert first_words(page).startswith("Rows of 20 m")


def press_plan(page: Page, x: float, y: float) -> list[list[Any]]:
    """Press the plane point (x, y) of the disk's plan, as the window shows it; what the sheet tells."""
    at = page.evaluate(
        """([x, y]) => { const element = document.querySelector(".sheet"), scroller = element.querySelector(".sheet-scroll");
        element.sheet.show(x, y);
        const [px, py] = element.sheet.where(x, y);
        return [px - scroller.scrollLeft, py - scroller.scrollTop]; }""",
        [x, y],
    )
    page.locator(".sheet-canvas").click(position={"x": at[0], "y": at[1]})
    return list(page.evaluate("told.splice(0)"))


@pytest.mark.parametrize("zooms", [0, 3])
@pytest.mark.parametrize("name", ["disk", "below"])
def test_a_press_on_a_plan_gives_the_place_on_the_surface(page: Page, base: str, name: str, zooms: int) -> None:
    open_sheet(page, f"{base}{name}.html")
    for _ in range(zooms):
        page.get_by_role("button", name="Zoom in: larger").click()
    told = press_plan(page, 3.0, -5.0)
    place = next(detail for name, detail in told if name == "place")
    assert (place["x"], place["y"]) == pytest.approx((3.0, -5.0), abs=0.15)


def test_a_press_beside_a_plan_says_that_it_is_off_the_zone(page: Page, base: str) -> None:
    open_sheet(page, f"{base}disk.html")
    assert press_plan(page, 11.5, 11.5) == []
    assert first_words(page) == "That is off the zone. Press inside its edge."


def test_a_press_just_beside_the_edge_of_a_plan_is_taken_at_its_edge(page: Page, base: str) -> None:
    open_sheet(page, f"{base}disk.html")
    ((_, place),) = [one for one in press_plan(page, 12.2, 0.0) if one[0] == "place"]
    assert 11.0 < place["x"] <= 12.0


def test_an_enlarged_plan_scrolls_both_ways_and_shows_its_place_in_an_overview(page: Page, base: str) -> None:
    open_sheet(page, f"{base}disk.html")
    assert page.locator(".sheet-overview").is_hidden()
    for _ in range(2):
        page.get_by_role("button", name="Zoom in: larger").click()
    assert page.locator(".sheet-overview").is_visible()
    wide, high = page.evaluate(
        "(({ scrollWidth, clientWidth, scrollHeight, clientHeight }) => [scrollWidth - clientWidth, scrollHeight - clientHeight])(document.querySelector('.sheet-scroll'))"
    )
    assert wide > 0
    assert high > 0


def test_keys_go_from_flaw_to_flaw_and_enter_opens_the_one_chosen(page: Page, base: str) -> None:
    open_sheet(page, f"{base}outside.html")
    scroller = page.locator(".sheet-scroll")
    first, second = FACES["outside"].scene.flaws[:2]
    scroller.press(".")
    assert first_words(page).startswith(f"{first.tag}, ")
    scroller.press(".")
    assert first_words(page).endswith(". 2 / 60")
    scroller.press("Enter")
    assert ["flaw", {"id": second.id}] in page.evaluate("told.splice(0)")


def test_a_plan_is_no_wider_than_a_phone(page: Page, base: str) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    open_sheet(page, f"{base}disk.html")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
