// Fills the place of a flaw in three ways: a tap on the sheet, steps along the surface's two axes, or typing.
// The words come from the server, which alone knows how places are spoken on this surface; the box stays the one truth.

const box = document.querySelector("[name=place]");
const steps = document.getElementById("place-steps");
const sheet = document.getElementById("place-sheet");
const stepping = JSON.parse(document.getElementById("place-stepping").textContent);
let asked = 0;

async function fill(query) {
  const mine = ++asked;
  const answer = await fetch(`${stepping.words}?${new URLSearchParams(query)}`, { headers: { Accept: "application/json" } });
  const told = await answer.json();
  if (mine !== asked) return;
  const said = document.getElementById("place-told");
  if (said) said.textContent = told.problem ?? "";
  if (!answer.ok) return;
  box.value = told.said;
  box.dispatchEvent(new Event("input", { bubbles: true }));
}

class Axis {
  constructor(part, { unit, scale, dial }) {
    Object.assign(this, { part, unit, scale, dial, away: 0, mark: part.querySelector("select"), reading: part.querySelector("b") });
  }

  press({ step, hour, turn }) {
    if (step) this.away = Math.round((this.away + Number(step)) * 100) / 100;
    if (hour) this.away = Number(hour);
    if (turn) this.away += Number(turn);
    this.show();
  }

  get value() {
    if (this.dial) return ((this.away % 12) + 12) % 12;
    return Number(this.mark.value) + this.away * this.scale;
  }

  show() {
    if (!this.dial) {
      this.reading.textContent = `${this.away.toFixed(2)} ${this.unit}`.replace("-", "−");
      return;
    }
    const minutes = Math.round(this.value * 60) % 720;
    this.reading.textContent = `${Math.floor(minutes / 60) || 12}:${String(minutes % 60).padStart(2, "0")}`;
  }
}

if (steps && box) {
  steps.hidden = false;
  const axes = [...steps.querySelectorAll("[data-axis]")].map((part, index) => new Axis(part, stepping.axes[index]));
  const ask = () => fill({ first: axes[0].value, second: axes[1].value });
  for (const axis of axes) {
    axis.show();
    axis.part.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (!button) return;
      axis.press(button.dataset);
      ask();
    });
    axis.mark?.addEventListener("change", ask);
  }
}

sheet?.addEventListener("place", (event) => fill({ x: event.detail.x, y: event.detail.y }));
