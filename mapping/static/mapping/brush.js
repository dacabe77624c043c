// Puts the items of a drawn zone on a canvas with the colours of the moment. Looks come with the wire (wire.py).

import { layoutBars, layoutWelds } from "./labels.js";

const ROLES = ["paper", "card", "ink", "soft", "line", "steel", "tint", "open", "work", "wait", "done", "held"];

// Draws with the colours of the moment; keeps pictures of symbols and hatches until they change.
export class Brush {
  constructor(element, styles) {
    const css = getComputedStyle(element);
    this.colours = Object.fromEntries(ROLES.map((role) => [role, css.getPropertyValue(`--sheet-${role}`).trim()]));
    this.font = css.fontFamily;
    this.styles = styles;
    this.ratio = window.devicePixelRatio || 1;
    this.kept = new Map();
  }

  picture(name, width, height, paint) {
    if (!this.kept.has(name)) {
      const canvas = document.createElement("canvas");
      canvas.width = Math.round(width * this.ratio);
      canvas.height = Math.round(height * this.ratio);
      const ctx = canvas.getContext("2d");
      ctx.scale(canvas.width / width, canvas.height / height);
      paint(ctx);
      this.kept.set(name, canvas);
    }
    return this.kept.get(name);
  }

  stroke(ctx, { colour, width, dash }, path) {
    ctx.strokeStyle = this.colours[colour];
    ctx.lineWidth = width;
    ctx.setLineDash(dash ?? []);
    if (path) ctx.stroke(path);
    else ctx.stroke();
  }

  symbol(ctx, style, x, y) {
    const picture = this.picture(style, 40, 28, (own) => {
      own.translate(20, 14);
      for (const part of this.styles.symbols[style]) {
        const path = new Path2D(part.path);
        own.fillStyle = this.colours[part.fill];
        if (part.fill) own.fill(path);
        if (part.stroke) this.stroke(own, { colour: part.stroke, width: part.width, dash: part.dash }, path);
      }
    });
    const sharp = (value) => Math.round(value * this.ratio) / this.ratio;
    ctx.drawImage(picture, sharp(x - 20), sharp(y - 14), 40, 28);
  }

  hatch(ctx, style) {
    const { kind, stroke, step } = this.styles.hatches[style];
    const tile = this.picture(`hatch ${style}`, step, step, (own) => {
      own.beginPath();
      if (kind === "level") own.rect(0, step / 2 - stroke.width / 2, step, stroke.width);
      if (kind === "dots") own.arc(step / 2, step / 2, stroke.width / 2, 0, 7);
      own.fillStyle = this.colours[stroke.colour];
      own.fill();
      own.beginPath();
      for (const shift of kind === "slanted" ? [-step, 0, step] : []) {
        own.moveTo(shift - 1, step + 1);
        own.lineTo(shift + step + 1, -1);
      }
      this.stroke(own, stroke);
    });
    const pattern = ctx.createPattern(tile, "repeat");
    pattern.setTransform(new DOMMatrix().scale(step / tile.width, step / tile.height));
    return pattern;
  }

  shapes(ctx, style, shapes, matrix) {
    if (!shapes.length) return;
    const whole = new Path2D();
    for (const { path } of shapes) whole.addPath(path, matrix);
    const look = this.styles.areas[style] ?? this.styles.hatches[style];
    if (look.fill) {
      ctx.fillStyle = this.colours[look.fill];
      ctx.fill(whole, "evenodd");
    }
    if (look.kind) {
      ctx.fillStyle = this.hatch(ctx, style);
      ctx.fill(whole, "evenodd");
    }
    if (look.edge) this.stroke(ctx, look.edge, whole);
  }

  text(ctx, { style, text, anchor }, x, y) {
    const { size, colour, bold, rim } = this.styles.texts[style];
    ctx.font = `${bold ? "600 " : ""}${size}px ${this.font}`;
    ctx.textAlign = { start: "left", middle: "center", end: "right" }[anchor];
    ctx.lineJoin = "round";
    this.stroke(ctx, { colour: "card", width: 3 }, new Path2D());
    if (rim) ctx.strokeText(text, x, y);
    ctx.fillStyle = this.colours[colour];
    ctx.fillText(text, x, y);
  }

  // Ground, and what draws patches of a style above it; `matrix` brings metres as seen to pixels.
  ground(ctx, model, start, end, sx, sy, matrix) {
    const near = ({ middle: [u, , half] }) => u - half <= end && u + half >= start;
    ctx.fillStyle = this.colours.card;
    ctx.fillRect(0, 0, (end - start) * sx, model.view.height * sy);
    for (const { style, shapes } of model.ground) this.shapes(ctx, style, shapes.filter(near), matrix);
    this.shapes(ctx, "excluded", model.excluded.filter(near), matrix);
    return (style) => this.shapes(ctx, style, model.patches.filter((p) => p.style === style && near(p)), matrix);
  }

  // Lines of a kind as seen, each [u, v, u, v, ...]: straight ones along an axis stay sharp.
  lines(ctx, style, lines, start, sx, sy) {
    for (const points of lines) {
      const at = (i) => [(points[i] - start) * sx, points[i + 1] * sy];
      if (points.length === 4) this.line(ctx, style, ...at(0), ...at(2));
      else {
        ctx.beginPath();
        for (let i = 0; i < points.length; i += 2) ctx[i ? "lineTo" : "moveTo"](...at(i));
        this.stroke(ctx, this.styles.lines[style]);
      }
    }
  }

  edge(ctx, model, start, end, sx, sy) {
    const { outline, height } = model.view;
    if (outline.length) this.lines(ctx, "edge", outline, start, sx, sy);
    else this.stroke(ctx, this.styles.lines.edge, rectangle(0.5, 0.5, Math.round((end - start) * sx) - 1, Math.round(height * sy) - 1));
  }

  line(ctx, style, x0, y0, x1, y1) {
    const half = (a, b) => (a === b ? Math.round(a) + 0.5 : a);
    ctx.beginPath();
    ctx.moveTo(half(x0, x1), half(y0, y1));
    ctx.lineTo(half(x1, x0), half(y1, y0));
    this.stroke(ctx, this.styles.lines[style]);
  }

  row(ctx, model, row) {
    const { start, end, scale, width, height } = row;
    const matrix = new DOMMatrix([scale, 0, 0, scale, -start * scale, 0]);
    ctx.save();
    ctx.beginPath();
    ctx.rect(-1, -1, width + 2, height + 2);
    ctx.clip();
    const outlines = this.ground(ctx, model, start, end, scale, scale, matrix);
    this.lines(ctx, "grid", model.view.grid, start, scale, scale);
    this.edge(ctx, model, start, end, scale, scale);
    for (const { style, u, v } of model.landmarks)
      if (v === null && u >= start && u <= end) this.line(ctx, style, (u - start) * scale, 0, (u - start) * scale, height);
    for (const { style, points } of model.strokes) this.lines(ctx, style, [points], start, scale, scale);
    ["swept-again", "patch-settled", "patch"].forEach(outlines);
    ctx.restore();
    for (const { style, u, v } of row.symbols) this.symbol(ctx, style, (u - start) * scale, v * scale);
    for (const text of row.texts) this.text(ctx, text, (text.u - start) * scale + text.dx, text.v * scale + text.dy);
  }

  // The whole zone in small: stretched to a strip with counting bars, or a plan at true scale.
  overview(ctx, model, sx, sy) {
    const { length, height, plan } = model.view;
    this.ground(ctx, model, 0, length, sx, sy, new DOMMatrix([sx, 0, 0, sy, 0, 0]));
    for (const [style, px] of layoutWelds(model, sx)) this.line(ctx, style, px, 0, px, height * sy);
    this.edge(ctx, model, 0, length, sx, sy);
    for (const [style, u, from, to] of plan ? [] : layoutBars(model, length * sx)) {
      ctx.beginPath();
      ctx.moveTo(u * sx, from * sy);
      ctx.lineTo(u * sx, to * sy);
      this.stroke(ctx, this.styles.lines[style]);
    }
  }
}

export function rectangle(x, y, width, height) {
  const path = new Path2D();
  path.rect(x, y, width, height);
  return path;
}
