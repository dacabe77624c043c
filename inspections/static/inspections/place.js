// Fills the place of a flaw in three ways: a tap on the sheet, steps from a landmark with a clock dial, or typing.
// The words come from the server, which alone knows how places are spoken on this asset; the box stays the one truth.

const box = document.querySelector("[name=place]");
const steps = document.getElementById("place-steps");
const sheet = document.getElementById("place-sheet");
const surface = JSON.parse(document.getElementById("place-surface").textContent);
let asked = 0;

async function fill(x, y) {
  const mine = ++asked;
  const inside = Math.min(Math.max(x, surface.low), surface.high);
  const answer = await fetch(`${surface.words}?x=${inside}&y=${y}`, { headers: { Accept: "application/json" } });
  if (!answer.ok || mine !== asked) return;
  box.value = (await answer.json()).said;
  box.dispatchEvent(new Event("input", { bubbles: true }));
}

if (steps && box) {
  steps.hidden = false;
  const mark = document.getElementById("step-mark");
  const clock = document.getElementById("step-clock");
  let distance = 0;
  let hours = 0;
  const show = () => {
    document.getElementById("step-distance").textContent = `${distance.toFixed(2)} m`;
    const minutes = Math.round(((hours % 12) + 12) * 60) % 720;
    clock.textContent = `${Math.floor(minutes / 60) || 12}:${String(minutes % 60).padStart(2, "0")}`;
    fill(Number(mark.value) + distance, ((((hours % 12) + 12) % 12) / 12) * surface.period);
  };
  steps.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.step) distance = Math.round((distance + Number(button.dataset.step)) * 100) / 100;
    if (button.dataset.clock) hours = Number(button.dataset.clock);
    if (button.dataset.turn) hours += Number(button.dataset.turn);
    show();
  });
  mark.addEventListener("change", show);
}

sheet?.addEventListener("place", (event) => fill(event.detail.x, event.detail.y));
