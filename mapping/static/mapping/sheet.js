// Paints a zone on a canvas: rows at true scale under a stretched overview, or one plan. Scrolling is the browser's own;
// big buttons zoom; a tap gives a place and, within a finger, a flaw; keys go from flaw to flaw. Looks, words and rules
// come with the wire (wire.py).
//
//   <div class="sheet" data-sheet="URL or #id of a JSON script" data-label="words for those who cannot see it"></div>
//
// data-failed holds the words for a drawing that cannot be loaded.
// Events, bubbling: "place" {x, y} in plane metres, "flaw" {id}, "sheet-ready" once mounted.
// element.sheet: refresh(wire), show(x, y), select(id), where(x, y).

import { Brush, rectangle } from "./brush.js";
import { layoutRow } from "./labels.js";
import { fittingLevel, levelWithRows, readWire } from "./model.js";

const GUTTER = 46;
const HEAD = 28;
const FOOT = 26;
const FINGER = 24;

function make(tag, className, properties = {}) {
  return Object.assign(document.createElement(tag), { className, ...properties });
}

export function mountSheet(element, wire) {
  const words = make("p", "sheet-words", { ariaLive: "polite" });
  const out = make("button", "sheet-zoom", { type: "button", textContent: "\u2212", ariaLabel: wire.words.out });
  const into = make("button", "sheet-zoom", { type: "button", textContent: "+", ariaLabel: wire.words.into });
  const bar = make("div", "sheet-bar");
  const strip = make("canvas", "sheet-overview", { role: "img" });
  const stripWords = make("p", "sheet-words sheet-small");
  const scroller = make("div", "sheet-scroll", { tabIndex: 0, role: "region", ariaLabel: wire.words.keys });
  const roll = make("div", "sheet-roll");
  const canvas = make("canvas", "sheet-canvas", { role: "img" });
  bar.append(words, out, into);
  roll.append(canvas);
  scroller.append(roll);
  element.replaceChildren(bar, strip, stripWords, scroller);

  const probe = make("canvas", "").getContext("2d");
  let model, brush, level, rows, stripPicture, waiting = false;
  let chosen = null; // what zooming keeps in sight: {u, v} of the crosshair
  let selected = null;
  let levelNumber = null;
  let zoomed = false; // by a person: then a new width keeps the row length
  const plan = wire.view.plan;
  if (plan) scroller.classList.add("sheet-plan");
  const width = () => Math.max(120, scroller.clientWidth - GUTTER - model.view.right);
  // A plan at its smallest fits the window both ways; at every zoom it is one row as wide as that makes it.
  const planRoom = () => Math.max(240, window.innerHeight * 0.8 - HEAD - FOOT);
  const scale = () =>
    plan ? level.zoom * Math.min(width() / model.view.length, planRoom() / model.view.height) : width() / level.length;
  const rowWidth = () => level.length * scale();
  const rowHeight = () => model.view.height * scale();
  const pitch = () => HEAD + rowHeight() + FOOT;
  const left = () => GUTTER + (plan ? Math.max(0, (width() - rowWidth()) / 2) : 0);
  const longest = () => (plan ? 0 : levelWithRows(model.wire, width(), model.layout.thinnest));
  const row = (number) => rows[number] ?? (rows[number] = layoutRow(model, level, number, rowWidth()));
  // Pixels per metre of the picture above, both ways.
  const small = () => {
    const { length, height } = model.view;
    if (!plan) return [width() / length, model.layout.overviewHeight / height];
    const fits = Math.min(width() / length, model.layout.planOverview / height);
    return [fits, fits];
  };
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
    roll.style.width = plan ? `${Math.ceil(Math.max(scroller.clientWidth, GUTTER + rowWidth() + model.view.right))}px` : "";
    fit(canvas, scroller.clientWidth, scroller.clientHeight);
    const [sx, sy] = small();
    fit(strip, scroller.clientWidth, model.view.height * sy + (model.us.length && !plan ? model.layout.barHeight + 8 : 6));
    stripWords.textContent = model.wire.overview;
    strip.hidden = stripWords.hidden = levelNumber === 0;
    stripPicture = make("canvas", "");
    stripPicture.width = strip.width;
    stripPicture.height = strip.height;
    const ctx = stripPicture.getContext("2d");
    ctx.setTransform(brush.ratio, 0, 0, brush.ratio, GUTTER * brush.ratio, 3 * brush.ratio);
    brush.overview(ctx, model, sx, sy);
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
      ctx.translate(Math.round(left() - scroller.scrollLeft), Math.round(number * pitch() + HEAD - scroller.scrollTop));
      brush.row(ctx, model, row(number));
      overlay(ctx, row(number), number);
      ctx.restore();
    }
    const top = strip.getContext("2d");
    top.setTransform(1, 0, 0, 1, 0, 0);
    top.clearRect(0, 0, strip.width, strip.height);
    top.drawImage(stripPicture, 0, 0);
    top.setTransform(brush.ratio, 0, 0, brush.ratio, GUTTER * brush.ratio, 0);
    const [sx, sy] = small();
    if (plan) {
      const [u, v] = [(scroller.scrollLeft - left()) / scale(), (scroller.scrollTop - HEAD) / scale()];
      const [wide, high] = [scroller.clientWidth / scale(), scroller.clientHeight / scale()];
      brush.stroke(top, { colour: "steel", width: 3 }, rectangle(u * sx, 3 + v * sy, wide * sx, high * sy));
    } else if (first > 0 || past < level.starts.length) {
      const [from, to] = [first * level.length, Math.min(past * level.length, model.view.length)];
      brush.stroke(top, { colour: "steel", width: 3 }, rectangle(from * sx, 1.5, (to - from) * sx, model.layout.overviewHeight + 3));
    }
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
    scroller.scrollLeft = left() + u * scale() - scroller.clientWidth / 2;
    ask();
  }

  function zoom(by) {
    const middle = scroller.scrollTop + scroller.clientHeight / 2;
    const number = Math.min(Math.floor(middle / pitch()), level.starts.length - 1);
    const v = Math.max(0, Math.min(model.view.height, ((middle - number * pitch() - HEAD) / rowHeight()) * model.view.height));
    const across = plan ? (scroller.scrollLeft + scroller.clientWidth / 2 - left()) / scale() : (number + 0.5) * level.length;
    const kept = chosen ?? { u: Math.max(0, Math.min(across, model.view.length)), v };
    levelNumber += by;
    zoomed = true;
    layOut();
    bringUp(kept.u, kept.v);
  }

  // The place pressed, or where the way from there to the middle first meets the zone, within a finger; null beyond.
  function onto(u, v) {
    const { length, height } = model.view;
    const off = FINGER / scale();
    if (u < -off || v < -off || u > length + off || v > height + off) return null;
    const [way, rise] = [length / 2 - u, height / 2 - v];
    const steps = Math.min(1, off / (Math.hypot(way, rise) || 1));
    for (const share of [0, 0.25, 0.5, 0.75, 1]) {
      const place = { u: u + way * share * steps, v: v + rise * share * steps };
      if (!model.view.outline.length)
        return { u: Math.max(0, Math.min(length, u)), v: Math.max(0, Math.min(height, v)) };
      if (probe.isPointInPath(model.outline, place.u, place.v, "evenodd")) return place;
    }
    return null;
  }

  function tap(event) {
    const y = event.offsetY + scroller.scrollTop;
    const number = Math.floor(y / pitch());
    if (number >= level.starts.length) return;
    const shown = row(number);
    const [px, py] = [event.offsetX + scroller.scrollLeft - left(), y - number * pitch() - HEAD];
    if (px < -FINGER || px > shown.width + FINGER || py < -FINGER || py > shown.height + FINGER) return;
    const place = onto(shown.start + px / shown.scale, py / shown.scale);
    words.textContent = place ? level.words : model.wire.words.off;
    if (!place) return;
    const distance = (s) => Math.hypot((s.u - shown.start) * shown.scale - px, s.v * shown.scale - py);
    const near = shown.symbols.filter((s) => s.name && distance(s) <= FINGER).sort((a, b) => distance(a) - distance(b));
    chosen = place;
    selected = near.length ? near[0].name : null;
    const [x, across] = model.plane(place.u, place.v);
    tell("place", { x: Number(x.toFixed(3)), y: Number(across.toFixed(3)) });
    if (near.length) tell("flaw", { id: selected });
    ask();
  }

  // The next flaw along the sheet, or the one before.
  function step(by) {
    const count = model.ids.length;
    if (!count) return;
    const found = model.ids.indexOf(selected);
    const next = found < 0 ? (by > 0 ? 0 : count - 1) : (found + by + count) % count;
    handle.select(model.ids[next]);
    words.textContent = `${model.tags[next]}, ${model.wire.statusWords[model.ranks[next]]}. ${next + 1} / ${count}`;
  }

  const tell = (name, detail) => element.dispatchEvent(new CustomEvent(name, { detail, bubbles: true }));
  const handle = {
    refresh(next) {
      model = readWire(next);
      canvas.ariaLabel = element.dataset.label ?? model.wire.levels[0].words;
      strip.ariaLabel = model.wire.overview;
      layOut();
    },
    // Pixels from the scrolled picture's top left corner.
    where(x, y) {
      const [u, v] = model.seen(x, y);
      const number = rowOf(u);
      return [left() + (u - number * level.length) * scale(), number * pitch() + HEAD + v * scale()];
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
    const [sx, sy] = small();
    const held = (value, most) => Math.max(0, Math.min(most, value));
    bringUp(held((event.offsetX - GUTTER) / sx, model.view.length), plan ? held((event.offsetY - 3) / sy, model.view.height) : model.view.height / 2);
  });
  scroller.addEventListener("scroll", ask, { passive: true });
  scroller.addEventListener("keydown", (event) => {
    const by = { "+": 1, "=": 1, "-": -1 }[event.key];
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (by && !(by < 0 ? out : into).disabled) zoom(by);
    if (event.key === "." || event.key === ",") step(event.key === "." ? 1 : -1);
    if (event.key === "Enter" && selected !== null) tell("flaw", { id: selected });
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
    const why = element.dataset.failed ?? "The drawing could not be loaded. The tables on this page show the same; reload to try again.";
    console.warn(error);
    element.replaceChildren(make("p", "sheet-words", { role: "alert", textContent: why }));
    return null;
  }
}

document.querySelectorAll("div.sheet[data-sheet]").forEach(mountFrom);
