// What the painter works with, read from the wire (wire.py): everything as seen, u to the right and v down in metres.

export function readWire(wire) {
  const { view } = wire;
  const wrapped = (value, period) => (value % period < 0 ? (value % period) + period : value % period);
  const held = (value, most) => Math.min(Math.max(value, 0), most);
  const seen = (x, y) => {
    const [u, v] = [view.stepX * (x - view.x0), view.stepY * (y - view.y0)];
    return [view.wrap === "x" ? wrapped(u, view.length) : u, view.wrap === "y" ? wrapped(v, view.height) : v];
  };
  const plane = (u, v) => {
    const [x, y] = [view.x0 + view.stepX * u, view.y0 + view.stepY * v];
    return [view.wrap === "x" ? wrapped(x, view.length) : x, view.wrap === "y" ? wrapped(y, view.height) : y];
  };
  const { flaws, landmarks, excluded, patches, strokes } = wire;
  const places = flaws.x.map((x, i) => seen(x, flaws.y[i])).map(([u, v]) => [held(u, view.length), held(v, view.height)]);
  const order = places.map((_, i) => i).sort((a, b) => places[a][0] - places[b][0] || places[a][1] - places[b][1]);
  const shape = (rings) => readShape(rings, view);
  const outline = new Path2D();
  for (const ring of view.outline) {
    for (let i = 0; i < ring.length; i += 2) outline[i ? "lineTo" : "moveTo"](ring[i], ring[i + 1]);
    outline.closePath();
  }
  if (!view.outline.length) outline.rect(0, 0, view.length, view.height);
  return {
    wire, view, seen, plane, outline, layout: wire.layout, texts: wire.styles.texts, side: wire.side, ticks: wire.ticks,
    end: wire.end, statuses: wire.statuses,
    us: Float64Array.from(order, (i) => places[i][0]),
    vs: Float64Array.from(order, (i) => places[i][1]),
    ranks: Uint8Array.from(order, (i) => flaws.status[i]),
    tags: order.map((i) => flaws.tag[i]),
    ids: order.map((i) => flaws.id[i]),
    ground: Object.entries(wire.ground).map(([style, polygons]) => ({ style, shapes: polygons.map(shape) })),
    excluded: excluded.rings.map((rings, i) => ({ ...shape(rings), reason: excluded.reason[i] })),
    patches: patches.rings.map((rings, i) => ({ ...shape(rings), number: patches.number[i], style: patches.style[i] })),
    strokes: strokes.points.map((points, i) => ({ points, style: strokes.style[i] })),
    landmarks: landmarks.x.map((x, i) => {
      const [u, v] = seen(x, landmarks.y[i] ?? 0);
      return { u, v: landmarks.y[i] === null ? null : v, name: landmarks.name[i], style: landmarks.style[i], point: landmarks.point[i] };
    }),
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
export function levelWithRows(wire, width, high) {
  const found = wire.levels.findIndex(({ length }) => (width / length) * wire.view.height >= high);
  return found < 0 ? wire.levels.length - 1 : found;
}

export function fittingLevel(wire, width) {
  if (wire.view.plan) return 0;
  const few = wire.levels.findLastIndex(({ length }) => wire.view.length / length <= wire.layout.mostRows);
  const [readable, thick] = [wire.layout.readable, wire.layout.thinnest].map((high) => levelWithRows(wire, width, high));
  return Math.max(thick, Math.min(readable, few));
}
