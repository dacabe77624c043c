// Puts the items of a drawn zone on a canvas with the colours of the moment. Looks come with the wire (wire.py).

import { layoutBars, placeAlong } from "./labels.js";

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

  ground(ctx, model, start, end, sx, sy) {
    const matrix = new DOMMatrix([sx, 0, 0, sy, -start * sx, 0]);
    const near = ({ middle: [u, , half] }) => u - half <= end && u + half >= start;
    ctx.fillStyle = this.colours.card;
    ctx.fillRect(0, 0, (end - start) * sx, model.view.height * sy);
    for (const { style, shapes } of model.ground) this.shapes(ctx, style, shapes.filter(near), matrix);
    this.shapes(ctx, "excluded", model.excluded.filter(near), matrix);
    return (style) => this.shapes(ctx, style, model.patches.filter((p) => p.style === style && near(p)), matrix);
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
    ctx.save();
    ctx.beginPath();
    ctx.rect(0, 0, width, height);
    ctx.clip();
    const outlines = this.ground(ctx, model, start, end, scale, scale);
    for (const [v] of model.side.slice(1, -1)) this.line(ctx, "grid", 0, v * scale, width, v * scale);
    for (const { style, u, v } of model.landmarks)
      if (v === null && u >= start && u <= end) this.line(ctx, style, (u - start) * scale, 0, (u - start) * scale, height);
    ["patch-settled", "patch"].forEach(outlines);
    ctx.restore();
    this.stroke(ctx, this.styles.lines.edge, rectangle(0.5, 0.5, Math.round(width) - 1, Math.round(height) - 1));
    for (const { style, u, v } of row.symbols) this.symbol(ctx, style, (u - start) * scale, v * scale);
    for (const text of row.texts) this.text(ctx, text, (text.u - start) * scale + text.dx, text.v * scale + text.dy);
  }

  overview(ctx, model, width) {
    const { view, layout } = model;
    const [sx, sy] = [width / view.length, layout.overviewHeight / view.height];
    this.ground(ctx, model, 0, view.length, sx, sy);
    const welds = model.landmarks.filter(({ style, v }) => style === "weld" && v === null).map(({ u }) => [u * sx, ""]);
    for (const [px] of placeAlong(welds, width, 1, 4)) this.line(ctx, "weld", px, 0, px, layout.overviewHeight);
    this.stroke(ctx, this.styles.lines.edge, rectangle(0.5, 0.5, Math.round(width) - 1, layout.overviewHeight - 1));
    for (const [style, u, from, to] of layoutBars(model, width)) {
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
