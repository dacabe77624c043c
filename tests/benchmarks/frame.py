"""Frames of a sheet with fifty thousand flaws on a phone, beside a canvas that draws the same symbols one by one."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from urllib.parse import urlsplit

import shapely
from playwright.sync_api import Page, Route, sync_playwright

from mapping import symbols
from mapping.coverage import Ground
from mapping.drawing import draw_zone
from mapping.surfaces.pipe import Pipe
from mapping.wire import wire
from tests.benchmarks.measuring import Line, Skipped
from tests.browser import WIDTHS
from tests.conftest import CHROMIUM_FLAGS
from tests.mapping.made_up_section import random_flaws

FLAWS, METRES = 50_000, 400.0  # as long as a phone shows at once, so that both draw every flaw
THROTTLE = 4  # times slower than this machine, as the browser's own tools slow a page down to a phone
FRAMES = 7
STATIC = Path(symbols.__file__).parent / "static" / "mapping"
ADDRESS = "http://sheet.example/"
PAGE = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Frames</title>
<meta name="viewport" content="width=device-width,initial-scale=1"><link rel="icon" href="data:,">
<link rel="stylesheet" href="sheet.css"><script type="module" src="sheet.js"></script>
<div class="sheet" data-sheet="dense.json" data-label="Dense"></div></html>"""
READY = "() => performance.getEntriesByName('sheet-frame').length > 0"

# Each turn: one frame of the sheet, by its own measure; then one of the peer's, on a canvas of the same size: every
# symbol filled and stroked at its place in the whole zone.
TURNS = """async ([turns, again]) => {
  const { readWire } = await import("./model.js");
  const { Brush } = await import("./brush.js");
  const model = readWire(await (await fetch("dense.json")).json());
  const element = document.querySelector(".sheet");
  const shown = element.querySelector(".sheet-canvas");
  const { colours, ratio } = new Brush(element, model.wire.styles);
  const plain = document.createElement("canvas");
  [plain.width, plain.height] = [shown.width, shown.height];
  document.body.append(plain);
  const parts = model.statuses.map((status) =>
    model.wire.styles.symbols[status].map((part) => ({ ...part, path: new Path2D(part.path) })));
  const [sx, sy] = [plain.width / ratio / model.view.length, plain.height / ratio / model.view.height];
  const frames = async (count) => { while (count--) await new Promise(requestAnimationFrame); };
  const peer = () => {
    const begun = performance.now();
    const ctx = plain.getContext("2d");
    ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
    ctx.clearRect(0, 0, plain.width, plain.height);
    for (let i = 0; i < model.us.length; i++) {
      ctx.save();
      ctx.translate(model.us[i] * sx, model.vs[i] * sy);
      for (const { path, fill, stroke, width, dash } of parts[model.ranks[i]]) {
        ctx.fillStyle = colours[fill];
        if (fill) ctx.fill(path);
        ctx.strokeStyle = colours[stroke];
        ctx.lineWidth = width;
        ctx.setLineDash(dash ?? []);
        if (stroke) ctx.stroke(path);
      }
      ctx.restore();
    }
    return performance.now() - begun;
  };
  const taken = { ours: [], peer: [] };
  for (let turn = 0; turn < turns; turn++) {
    if (again) element.sheet.select("");
    else element.sheet.refresh(model.wire);
    await frames(3);
    taken.ours.push(performance.getEntriesByName("sheet-frame").at(-1).duration);
    taken.peer.push(peer());
    await frames(3);
  }
  return taken;
}"""


def measure() -> Iterator[Line | Skipped]:
    chromium = shutil.which("chromium")
    if chromium is None:
        yield Skipped(f"frames, {FLAWS} flaws on a phone", "chromium is not on the path")
        return
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=CHROMIUM_FLAGS)
        try:
            width, height = WIDTHS["phone"]
            page = browser.new_page(viewport={"width": width, "height": height}, device_scale_factor=2)
            _serve(page)
            page.goto(ADDRESS)
            page.wait_for_function(READY)
            page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": THROTTLE})
            yield _line("first frame", page, again=False)
            yield _line("next frames", page, again=True)
        finally:
            browser.close()


def _line(how: str, page: Page, *, again: bool) -> Line:
    """Rows laid out anew (a sheet just opened, zoomed or changed), or those at hand painted again."""
    taken = page.evaluate(TURNS, [FRAMES, again])
    return Line(f"{how}, {FLAWS} flaws on a phone / drawn plainly", "ms", median(taken["ours"]), median(taken["peer"]))


def _serve(page: Page) -> None:
    """The sheet's own files and one dense zone, without a server."""
    pipe = Pipe(start=1000.0, end=1000.0 + METRES, circumference=3.83)
    nothing = shapely.Polygon()
    ground = Ground(pipe.outline, nothing, nothing, nothing, nothing)
    dense = json.dumps(wire(draw_zone(pipe, ground, flaws=random_flaws(pipe, FLAWS))))

    def answer(route: Route) -> None:
        name = urlsplit(route.request.url).path.strip("/")
        if name == "dense.json":
            route.fulfill(body=dense, content_type="application/json")
        elif name:
            route.fulfill(path=STATIC / name)
        else:
            route.fulfill(body=PAGE, content_type="text/html")

    page.route(f"{ADDRESS}**", answer)
