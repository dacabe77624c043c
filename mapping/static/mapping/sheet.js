// Paints an unrolled zone on a canvas: rows at true scale under a stretched overview. Scrolling is the browser's own;
// big buttons zoom; a tap gives a place and, within a finger, a flaw. Looks and rules come with the wire (wire.py).
//
//   <div class="sheet" data-sheet="URL or #id of a JSON script" data-label="words for those who cannot see it"></div>
//
// Events, bubbling: "place" {x, y} in plane metres, "flaw" {id}, "sheet-ready" once mounted.
// element.sheet: refresh(wire), show(x, y), select(id).

import { Brush, rectangle } from "./brush.js";
import { layoutRow } from "./labels.js";

const GUTTER = 46;
const RIGHT = 12;
const HEAD = 28;
const FOOT = 26;
const FINGER = 24;

export function readWire(wire) {
  const { view } = wire;
  const seen = (x, y) => {
    const v = (view.stepY * (y - view.y0)) % view.height;
    return [view.stepX * (x - view.x0), v < 0 ? v + view.height : v];
  };
  const { flaws, landmarks, excluded, patches } = wire;
  const places = flaws.x.map((x, i) => seen(x, flaws.y[i]));
  const order = places.map((_, i) => i).sort((a, b) => places[a][0] - places[b][0] || places[a][1] - places[b][1]);
  const shape = (rings) => readShape(rings, view);
  return {
    wire, view, seen, layout: wire.layout, texts: wire.styles.texts, side: wire.side, ticks: wire.ticks, end: wire.end,
    statuses: wire.statuses,
    us: Float64Array.from(order, (i) => places[i][0]),
    vs: Float64Array.from(order, (i) => places[i][1]),
    ranks: Uint8Array.from(order, (i) => flaws.status[i]),
    tags: order.map((i) => flaws.tag[i]),
    ids: order.map((i) => flaws.id[i]),
    ground: Object.entries(wire.ground).map(([style, polygons]) => ({ style, shapes: polygons.map(shape) })),
    excluded: excluded.rings.map((rings, i) => ({ ...shape(rings), reason: excluded.reason[i] })),
    patches: patches.rings.map((rings, i) => ({ ...shape(rings), number: patches.number[i], style: patches.style[i] })),
    landmarks: landmarks.x.map((x, i) => ({
      u: seen(x, 0)[0], v: landmarks.y[i] === null ? null : seen(x, landmarks.y[i])[1],
      name: landmarks.name[i], style: landmarks.style[i],
    })),
  };
}

function readShape(rings, view) {
  const path = new Path2D();
  const low = [Infinity, Infinity];
  const high = [-Infinity, -Infinity];
  for (const ring of rings) {
    for (let i = 0; i < ring.length; i += 2) {
      path[i ? "lineTo" : "moveTo"](view.stepX * (ring[i] - view.x0), view.stepY * (ring[i + 1] - view.y0));
      for (const k of [0, 1]) [low[k], high[k]] = [Math.min(low[k], ring[i + k]), Math.max(high[k], ring[i + k])];
    }
    path.closePath();
  }
  const u = view.stepX * ((low[0] + high[0]) / 2 - view.x0);
  const v = view.stepY * ((low[1] + high[1]) / 2 - view.y0);
  return { path, middle: [u, v, (high[0] - low[0]) / 2, (high[1] - low[1]) / 2] };
}

// The first level, from the whole zone on, whose rows are at least this high.
function levelWithRows(wire, width, high) {
  const found = wire.levels.findIndex(({ length }) => (width / length) * wire.view.height >= high);
  return found < 0 ? wire.levels.length - 1 : found;
}

export function fittingLevel(wire, width) {
  const few = wire.levels.findLastIndex(({ length }) => wire.view.length / length <= wire.layout.mostRows);
  const [readable, thick] = [wire.layout.readable, wire.layout.thinnest].map((high) => levelWithRows(wire, width, high));
  return Math.max(thick, Math.min(readable, few));
}

function make(tag, className, properties = {}) {
  return Object.assign(document.createElement(tag), { className, ...properties });
}

export function mountSheet(element, wire) {
  const words = make("p", "sheet-words", { ariaLive: "polite" });
  const out = make("button", "sheet-zoom", { type: "button", textContent: "\u2212", ariaLabel: "Zoom out: longer rows" });
  const into = make("button", "sheet-zoom", { type: "button", textContent: "+", ariaLabel: "Zoom in: shorter rows" });
  const bar = make("div", "sheet-bar");
  const strip = make("canvas", "sheet-overview", { role: "img" });
  const stripWords = make("p", "sheet-words sheet-small");
  const scroller = make("div", "sheet-scroll", { tabIndex: 0, role: "region", ariaLabel: "Sheet; arrow keys move, plus and minus zoom" });
  const roll = make("div", "sheet-roll");
  const canvas = make("canvas", "sheet-canvas", { role: "img" });
  bar.append(words, out, into);
  roll.append(canvas);
  scroller.append(roll);
  element.replaceChildren(bar, strip, stripWords, scroller);

  let model, brush, level, rows, stripPicture, waiting = false;
  let chosen = null; // what zooming keeps in sight: {u, v} of the crosshair
  let selected = null;
  let levelNumber = null;
  let zoomed = false; // by a person: then a new width keeps the row length
  const width = () => Math.max(120, scroller.clientWidth - GUTTER - RIGHT);
  const rowHeight = () => (model.view.height * width()) / level.length;
  const pitch = () => HEAD + rowHeight() + FOOT;
  const longest = () => levelWithRows(model.wire, width(), model.layout.thinnest);
  const row = (number) => rows[number] ?? (rows[number] = layoutRow(model, level, number, width()));
  const rowOf = (u) => Math.min(Math.floor(u / level.length), level.starts.length - 1);

  function fit(target, wide, high) {
    const ratio = brush.ratio;
    target.width = Math.round(wide * ratio);
    target.height = Math.round(high * ratio);
    target.style.width = `${wide}px`;
    target.style.height = `${high}px`;
  }

  function layOut() {
    if (!scroller.clientWidth) return; // hidden: laid out when it is first seen
    brush = new Brush(element, model.wire.styles);
    levelNumber ??= fittingLevel(model.wire, width());
    levelNumber = Math.max(longest(), Math.min(levelNumber, model.wire.levels.length - 1));
    level = model.wire.levels[levelNumber];
    rows = [];
    words.textContent = level.words;
    out.disabled = levelNumber === longest();
    into.disabled = levelNumber === model.wire.levels.length - 1;
    roll.style.height = `${Math.ceil(level.starts.length * pitch())}px`;
    fit(canvas, scroller.clientWidth, scroller.clientHeight);
    fit(strip, scroller.clientWidth, model.layout.overviewHeight + (model.us.length ? model.layout.barHeight + 8 : 6));
    stripWords.textContent = model.wire.overview;
    strip.hidden = stripWords.hidden = levelNumber === 0;
    stripPicture = make("canvas", "");
    stripPicture.width = strip.width;
    stripPicture.height = strip.height;
    const ctx = stripPicture.getContext("2d");
    ctx.setTransform(brush.ratio, 0, 0, brush.ratio, GUTTER * brush.ratio, 3 * brush.ratio);
    brush.overview(ctx, model, width());
    ask();
  }

  function ask() {
    if (!waiting && brush) requestAnimationFrame(paint);
    waiting = Boolean(brush);
  }

  function paint() {
    waiting = false;
    const begun = performance.now();
    const ctx = canvas.getContext("2d");
    ctx.setTransform(brush.ratio, 0, 0, brush.ratio, 0, 0);
    ctx.fillStyle = brush.colours.card;
    ctx.fillRect(0, 0, scroller.clientWidth, scroller.clientHeight);
    const first = Math.max(0, Math.floor(scroller.scrollTop / pitch()));
    const past = Math.min(level.starts.length, Math.ceil((scroller.scrollTop + scroller.clientHeight) / pitch()));
    for (let number = first; number < past; number++) {
      ctx.save();
      ctx.translate(GUTTER, Math.round(number * pitch() + HEAD - scroller.scrollTop));
      brush.row(ctx, model, row(number));
      overlay(ctx, row(number), number);
      ctx.restore();
    }
    const top = strip.getContext("2d");
    top.setTransform(1, 0, 0, 1, 0, 0);
    top.clearRect(0, 0, strip.width, strip.height);
    top.drawImage(stripPicture, 0, 0);
    top.setTransform(brush.ratio, 0, 0, brush.ratio, GUTTER * brush.ratio, 0);
    const sx = width() / model.view.length;
    const [from, to] = [first * level.length, Math.min(past * level.length, model.view.length)];
    if (first > 0 || past < level.starts.length)
      brush.stroke(top, { colour: "steel", width: 3 }, rectangle(from * sx, 1.5, (to - from) * sx, model.layout.overviewHeight + 3));
    performance.clearMeasures("sheet-frame");
    performance.measure("sheet-frame", { start: begun, end: performance.now() });
  }

  function overlay(ctx, shown, number) {
    const found = selected === null ? -1 : model.ids.indexOf(selected);
    if (found >= 0 && rowOf(model.us[found]) === number) {
      ctx.beginPath();
      ctx.arc((model.us[found] - shown.start) * shown.scale, model.vs[found] * shown.scale, 13, 0, 7);
      brush.stroke(ctx, { colour: "steel", width: 3 });
    }
    if (chosen === null || rowOf(chosen.u) !== number) return;
    const [x, y] = [(chosen.u - shown.start) * shown.scale, chosen.v * shown.scale];
    const [right, low] = [shown.width, shown.height];
    const arms = `M${x} ${y - 26}V${y - 7}M${x} ${y + 7}V${y + 26}M${x - 26} ${y}H${x - 7}M${x + 7} ${y}H${x + 26}`;
    const onAxes = `M${x} -8V0M${x} ${low}V${low + 8}M-8 ${y}H0M${right} ${y}H${right + 8}`;
    const cross = new Path2D(arms + onAxes);
    brush.stroke(ctx, { colour: "card", width: 3.5 }, cross);
    brush.stroke(ctx, { colour: "steel", width: 2 }, cross);
  }

  function bringUp(u, v) {
    if (!brush) return;
    const middle = rowOf(u) * pitch() + HEAD + (v / model.view.height) * rowHeight();
    scroller.scrollTop = middle - scroller.clientHeight / 2;
    ask();
  }

  function zoom(by) {
    const middle = scroller.scrollTop + scroller.clientHeight / 2;
    const number = Math.min(Math.floor(middle / pitch()), level.starts.length - 1);
    const v = Math.max(0, Math.min(model.view.height, ((middle - number * pitch() - HEAD) / rowHeight()) * model.view.height));
    const kept = chosen ?? { u: Math.min((number + 0.5) * level.length, model.view.length), v };
    levelNumber += by;
    zoomed = true;
    layOut();
    bringUp(kept.u, kept.v);
  }

  function tap(event) {
    const y = event.offsetY + scroller.scrollTop;
    const number = Math.floor(y / pitch());
    if (number >= level.starts.length) return;
    const shown = row(number);
    const [px, py] = [event.offsetX - GUTTER, y - number * pitch() - HEAD];
    if (px < -FINGER || px > shown.width + FINGER || py < -FINGER || py > shown.height + FINGER) return;
    const u = shown.start + Math.max(0, Math.min(shown.width, px)) / shown.scale;
    const v = Math.max(0, Math.min(shown.height, py)) / shown.scale;
    const distance = (s) => Math.hypot((s.u - shown.start) * shown.scale - px, s.v * shown.scale - py);
    const near = shown.symbols.filter((s) => s.name && distance(s) <= FINGER).sort((a, b) => distance(a) - distance(b));
    chosen = { u, v };
    selected = near.length ? near[0].name : null;
    const { view } = model;
    const [x, around] = [view.x0 + view.stepX * u, (view.y0 + view.stepY * v + view.height) % view.height];
    tell("place", { x: Number(x.toFixed(3)), y: Number(around.toFixed(3)) });
    if (near.length) tell("flaw", { id: selected });
    ask();
  }

  const tell = (name, detail) => element.dispatchEvent(new CustomEvent(name, { detail, bubbles: true }));
  const handle = {
    refresh(next) {
      model = readWire(next);
      canvas.ariaLabel = element.dataset.label ?? model.wire.levels[0].words;
      strip.ariaLabel = model.wire.overview;
      layOut();
    },
    show(x, y) {
      const [u, v] = model.seen(x, y);
      chosen = { u, v };
      bringUp(u, v);
    },
    select(id) {
      const found = model.ids.indexOf(id);
      selected = found < 0 ? null : id;
      if (found >= 0) bringUp(model.us[found], model.vs[found]);
      else ask();
    },
  };
  out.addEventListener("click", () => zoom(-1));
  into.addEventListener("click", () => zoom(1));
  canvas.addEventListener("click", tap);
  strip.addEventListener("click", (event) => {
    const u = ((event.offsetX - GUTTER) / width()) * model.view.length;
    bringUp(Math.max(0, Math.min(model.view.length, u)), model.view.height / 2);
  });
  scroller.addEventListener("scroll", ask, { passive: true });
  scroller.addEventListener("keydown", (event) => {
    const by = { "+": 1, "=": 1, "-": -1 }[event.key];
    if (by && !event.ctrlKey && !event.metaKey) zoom(by);
  });
  for (const query of ["(prefers-color-scheme: dark)", "(prefers-contrast: more)", "(forced-colors: active)"])
    matchMedia(query).addEventListener("change", layOut);
  handle.refresh(wire);
  let [wide, high] = [scroller.clientWidth, scroller.clientHeight];
  new ResizeObserver(() => {
    if (scroller.clientWidth === wide && scroller.clientHeight === high) return;
    [wide, high] = [scroller.clientWidth, scroller.clientHeight];
    if (!zoomed) levelNumber = null;
    layOut();
  }).observe(scroller);
  element.sheet = handle;
  tell("sheet-ready", {});
  return handle;
}

async function mountFrom(element) {
  const from = element.dataset.sheet;
  try {
    if (from.startsWith("#")) return mountSheet(element, JSON.parse(document.querySelector(from).textContent));
    const answer = await fetch(from, { headers: { Accept: "application/json" }, credentials: "same-origin" });
    if (!answer.ok || answer.redirected) throw new Error(`the server answered ${answer.status}`);
    return mountSheet(element, await answer.json());
  } catch (error) {
    const why = `The drawing could not be loaded (${error.message}). The tables on this page show the same; reload to try again.`;
    element.replaceChildren(make("p", "sheet-words", { role: "alert", textContent: why }));
    return null;
  }
}

document.querySelectorAll("div.sheet[data-sheet]").forEach(mountFrom);
