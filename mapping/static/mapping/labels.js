// Places labels on one row so that none covers a symbol or another label or leaves the row; and cuts a zone into rows.
// Follows labels.py and drawing.py to the letter (a test compares their lists). Lengths are CSS pixels.

const COLUMN = 64;

export function textWidth(text, size) {
  return size * [...text].reduce((sum, letter) => sum + (letter.codePointAt(0) >= 0x1100 ? 1.1 : 0.66), 0);
}

class LabelField {
  constructor(width, height) {
    Object.assign(this, { width, height, taken: new Map(), lines: new Map() });
  }

  register(where, box) {
    for (let c = Math.floor(box[0] / COLUMN); c <= Math.floor(box[2] / COLUMN); c++) {
      if (!where.has(c)) where.set(c, []);
      where.get(c).push(box);
    }
  }

  hits(where, box) {
    for (let c = Math.floor(box[0] / COLUMN); c <= Math.floor(box[2] / COLUMN); c++) {
      for (const o of where.get(c) ?? []) if (box[0] < o[2] && box[2] > o[0] && box[1] < o[3] && box[3] > o[1]) return true;
    }
    return false;
  }

  block(px, py, halfWidth, halfHeight) {
    this.register(this.taken, [px - halfWidth, py - halfHeight, px + halfWidth, py + halfHeight]);
  }

  blockText(px, py, text, size, dx, dy, anchor) {
    const width = textWidth(text, size);
    const left = px + dx - { start: 0, middle: width / 2, end: width }[anchor];
    this.register(this.taken, [left, py + dy - size * 0.8, left + width, py + dy + size * 0.25]);
  }

  avoidLine(px) {
    this.register(this.lines, [px - 2, 0, px + 2, this.height]);
  }

  place(text, size, px, py, halfWidth, halfHeight) {
    return this.firstFree(text, size, px, py, [
      [halfWidth + 2, size * 0.33, "start"],
      [-halfWidth - 2, size * 0.33, "end"],
      [0, -halfHeight - 3, "middle"],
      [0, halfHeight + size * 0.9, "middle"],
    ]);
  }

  placeInside(text, size, px, py) {
    return this.firstFree(text, size, px, py, [[0, size * 0.33, "middle"]]);
  }

  firstFree(text, size, px, py, candidates) {
    const width = textWidth(text, size);
    let crossing = null;
    for (const placed of candidates) {
      const left = px + placed[0] - { start: 0, middle: width / 2, end: width }[placed[2]];
      const box = [left, py + placed[1] - size * 0.8, left + width, py + placed[1] + size * 0.25];
      if (box[0] < 0 || box[1] < 0 || box[2] > this.width || box[3] > this.height || this.hits(this.taken, box)) continue;
      if (!this.hits(this.lines, box)) {
        this.register(this.taken, box);
        return placed;
      }
      crossing ??= { placed, box };
    }
    if (crossing) this.register(this.taken, crossing.box);
    return crossing?.placed ?? null;
  }
}

export function placeAlong(wanted, width, size, gap = 8) {
  const taken = [];
  const kept = [];
  for (const [px, text] of wanted) {
    const long = textWidth(text, size);
    let [left, dx, anchor] = [px - long / 2, 0, "middle"];
    if (left < 0) [left, dx, anchor] = [0, -px, "start"];
    else if (left + long > width) [left, dx, anchor] = [width - long, width - px, "end"];
    if (long > width || taken.some(([from, to]) => left < to + gap && left + long + gap > from)) continue;
    taken.push([left, left + long]);
    kept.push([px, text, dx, anchor]);
  }
  return kept;
}

function firstAtLeast(sorted, value) {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (sorted[middle] < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

// Symbols and texts of the row of a model (see readWire in sheet.js) that starts `number` rows from the left end.
export function layoutRow(model, level, number, width) {
  const { view, layout, texts: letters } = model;
  const start = number * level.length;
  const end = Math.min(start + level.length, view.length);
  const scale = width / level.length;
  const last = end >= view.length;
  const field = new LabelField((end - start) * scale, view.height * scale);
  const marks = model.landmarks.filter(({ u }) => (start <= u && u < end) || (last && end <= u && u <= end + 1e-6));
  const row = { start, end, scale, symbols: [], texts: [], width: field.width, height: field.height };
  const write = (style, u, v, text, dx, dy, anchor) => row.texts.push({ style, u, v, text, dx, dy, anchor });
  alongTheTop(model, level, number, row, write);
  const beside = [];
  for (const [v, text] of model.side)
    if (beside.every(([other]) => Math.abs(v - other) * scale >= layout.sideRoom - 1e-6)) beside.push([v, text]);
  for (const [v, text] of beside.sort((a, b) => a[0] - b[0])) write("side", start, v, text, -7, 4, "end");
  for (const [u, v, text, dx, dy, anchor] of view.names) {
    if (!((start <= u && u < end) || (last && end <= u && u <= end + 1e-6))) continue;
    field.blockText((u - start) * scale, v * scale, text, letters.axis.size, dx, dy, anchor);
    write("axis", u, v, text, dx, dy, anchor);
  }
  const lines = marks.filter(({ v }) => v === null);
  for (const [px, text, dx, anchor] of placeAlong(lines.map((m) => [(m.u - start) * scale, m.name]), field.width, letters.landmark.size))
    write("landmark", start + px / scale, view.height, text, dx, 13, anchor);
  lines.forEach((m) => field.avoidLine((m.u - start) * scale));
  marked(model, marks.filter(({ v }) => v !== null), row, field, write, last);
  return row;
}

function alongTheTop(model, level, number, row, write) {
  const { ticks } = model;
  const { start, end, scale } = row;
  const room = ticks.u.length > 1 ? (ticks.u[1] - ticks.u[0]) * scale : Infinity;
  const { strides } = model.view;
  const stride = strides.find((nice) => nice * room >= model.layout.tickRoom) ?? strides.at(-1);
  const size = model.texts.axis.size;
  let wanted = [[0, level.starts[number]]];
  if (end >= model.view.length) wanted.push([row.width, model.end]);
  wanted = wanted.filter(([, text]) => text);
  wanted = wanted.slice(0, placeAlong(wanted, row.width, size).length);
  const exact = new Map(wanted);
  for (let i = firstAtLeast(ticks.u, start); i < ticks.u.length && ticks.u[i] <= end; i++) {
    if (ticks.steps[i] % stride) continue;
    row.symbols.push({ style: "tick", u: ticks.u[i], v: 0, name: "" });
    wanted.push([(ticks.u[i] - start) * scale, ticks.text[i]]);
  }
  for (const [px, text, dx, anchor] of placeAlong(wanted, row.width, size))
    write(exact.get(px) === text ? "start" : "axis", start + px / scale, 0, text, dx, -8, anchor);
}

function crowdedCells(model, row, last) {
  const { us, vs, ranks, layout } = model;
  const [columns, lines] = [row.width, row.height].map((size, k) => Math.max(1, Math.floor(size / layout.cell[k])));
  const [wide, high] = [row.width / columns, row.height / lines];
  const found = new Map();
  for (let i = firstAtLeast(us, row.start); i < us.length && (last ? us[i] <= row.end : us[i] < row.end); i++) {
    const column = Math.min(Math.floor(((us[i] - row.start) * row.scale) / wide), columns - 1);
    const line = Math.min(Math.floor((vs[i] * row.scale) / high), lines - 1);
    const key = line * columns + column;
    if (found.has(key)) found.get(key).members.push(i);
    else found.set(key, { key, px: (column + 0.5) * wide, py: (line + 0.5) * high, members: [i] });
  }
  const groups = [...found.values()].sort((a, b) => a.key - b.key);
  const cells = groups.filter(({ members }) => members.length > layout.perCell);
  const [reachX, reachY] = layout.chipHalf.map((half) => half + layout.reach);
  const lone = groups.filter(({ members }) => members.length <= layout.perCell).flatMap(({ members }) => members);
  const alone = lone.sort((a, b) => ranks[a] - ranks[b] || a - b).filter((i) => {
    const [px, py] = [(us[i] - row.start) * row.scale, vs[i] * row.scale];
    const near = cells.find((cell) => Math.abs(px - cell.px) < reachX && Math.abs(py - cell.py) < reachY);
    near?.members.push(i);
    return !near;
  });
  return { alone, cells };
}

function marked(model, points, row, field, write, last) {
  const { layout, us, vs, texts: letters } = model;
  const { start, scale } = row;
  const halfOf = (i) => (model.ids[i] in model.wire.doubted ? layout.doubtedHalf : layout.symbolHalf);
  for (const { u, v, point, style } of points) {
    if (!point) continue;
    field.block((u - start) * scale, v * scale, layout.landmarkHalf, layout.landmarkHalf);
    row.symbols.push({ style, u, v, name: "" });
  }
  const { alone, cells } = crowdedCells(model, row, last);
  const counts = [];
  for (const { px, py, members } of cells) {
    field.block(px, py, ...layout.chipHalf);
    const [u, v] = [start + px / scale, py / scale];
    const worst = members.reduce((low, i) => Math.min(low, model.ranks[i]), Infinity);
    row.symbols.push({ style: "cell", u, v, name: "" }, { style: `small-${model.statuses[worst]}`, u, v, name: "" });
    const n = members.length;
    counts.push(["count", u, v, n < 1000 ? `${n}` : `${Math.floor(n / 1000)}k`, 6, 4, "middle"]);
  }
  for (const i of alone.toReversed()) {
    field.block((us[i] - start) * scale, vs[i] * scale, halfOf(i), halfOf(i));
    row.symbols.push({ style: model.statuses[model.ranks[i]], u: us[i], v: vs[i], name: model.ids[i] });
    for (const style of model.wire.doubts)
      if (model.wire.doubted[model.ids[i]]?.includes(style)) row.symbols.push({ style, u: us[i], v: vs[i], name: "" });
  }
  counts.forEach((count) => write(...count));
  const wanted = points.filter((m) => m.name).map((m) => ["landmark", m.name, m.u, m.v, layout.landmarkHalf, layout.landmarkHalf]);
  for (const i of alone.slice(0, layout.labelledMost)) wanted.push(["tag", model.tags[i], us[i], vs[i], halfOf(i), halfOf(i)]);
  for (const { number, middle: [u, v, halfU, halfV] } of model.patches)
    if (number && start <= u && u < row.end) wanted.push(["patch", number, u, v, halfU * scale, halfV * scale]);
  for (const [style, text, u, v, halfWidth, halfHeight] of wanted) {
    const placed = field.place(text, letters[style].size, (u - start) * scale, v * scale, halfWidth, halfHeight);
    if (placed) write(style, u, v, text, ...placed);
  }
  for (const { reason, middle: [u, v] } of model.excluded) {
    if (!(start <= u && u < row.end)) continue;
    const placed = field.placeInside(reason, letters.reason.size, (u - start) * scale, v * scale);
    if (placed) write("reason", u, v, reason, ...placed);
  }
}

// Lines of the overview's counting bars: [style, u, from v, to v], standing under the strip.
export function layoutBars(model, width) {
  const { view, layout, us, ranks, wire } = model;
  const bins = Math.max(1, Math.floor(width / layout.bar));
  const [every, unsettled] = [new Uint32Array(bins), new Uint32Array(bins)];
  for (let i = 0; i < us.length; i++) {
    const bin = Math.min(Math.floor((us[i] / view.length) * bins), bins - 1);
    every[bin] += 1;
    if (ranks[i] < wire.unsettled) unsettled[bin] += 1;
  }
  const mark = view.height / layout.overviewHeight;
  const base = view.height + (layout.barHeight + 4) * mark;
  const tall = (layout.barHeight * mark) / every.reduce((most, n) => Math.max(most, n), 1);
  const bars = [];
  every.forEach((n, bin) => {
    const [u, low] = [((bin + 0.5) * view.length) / bins, unsettled[bin]];
    if (low) bars.push(["bar-unsettled", u, base, base - low * tall]);
    if (n > low) bars.push(["bar-settled", u, base - low * tall, base - n * tall]);
  });
  return bars;
}

// The upright lines of welds and seams in the overview: [style, px], those too near to the one before left out.
export function layoutWelds(model, sx) {
  let before = -Infinity;
  return model.landmarks
    .filter(({ style, v }) => v === null && (style === "weld" || style === "seam"))
    .map(({ style, u }) => [style, u * sx])
    .filter(([, px]) => px - before >= 4 && ((before = px), true));
}
