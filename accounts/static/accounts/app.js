// Small help for every page: answers a press at once, never sends one twice, keeps what is typed until the server has it,
// and counts down to the next check. Every page works without it.

import { say } from "./words.js";

const person = document.body.dataset.person ?? "";
const live = document.getElementById("messages");
const UNKEPT = new Set(["password", "file", "hidden"]);

/** Say something politely, in the region screen readers listen to. */
export function tell(words, kind = "") {
  const line = document.createElement("p");
  line.className = `message ${kind}`;
  line.textContent = words;
  live.replaceChildren(line);
}

// Presses: the button answers within the frame; a second press of the same form is dropped until the page is shown again.
document.addEventListener("submit", (event) => {
  const form = event.target;
  // By attribute: a field named "method" or "action" would hide the form's own property.
  if (form.getAttribute("method") !== "post") return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  const button = event.submitter ?? form.querySelector("button");
  if (button && !button.classList.contains("plain")) {
    button.dataset.words = button.textContent;
    button.textContent = say("Saving…");
    button.setAttribute("aria-busy", "true");
  }
  if (form.dataset.tell) tell(form.dataset.tell);
});
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) {
    delete form.dataset.sent;
    for (const button of form.querySelectorAll("[aria-busy]")) {
      button.textContent = button.dataset.words;
      button.removeAttribute("aria-busy");
    }
  }
});

// Typed text: kept by person and path until the server answers the press with another page.
const key = (form) => `typed ${person} ${location.pathname} ${new URL(form.getAttribute("action"), location.href).pathname}`;
const SENT = `sent ${person}`;

function fields(form) {
  return [...form.elements].filter((field) => field.name && !UNKEPT.has(field.type) && field.type !== "submit");
}

function keep(form) {
  const typed = fields(form).map((field) =>
    [field.name, field.value, field.type === "checkbox" || field.type === "radio" ? field.checked : null]);
  const id = form.elements.namedItem("id")?.value;
  sessionStorage.setItem(key(form), JSON.stringify({ id, typed }));
}

function restore(form, kept) {
  let changed = false;
  for (const field of fields(form)) {
    const ticks = field.type === "checkbox" || field.type === "radio";
    const was = kept.typed.find(([name, value]) => name === field.name && (!ticks || value === field.value));
    if (!was) continue;
    if (ticks ? field.checked !== was[2] : field.value !== was[1]) changed = true;
    if (ticks) field.checked = was[2];
    else field.value = was[1];
  }
  // The same id again: if the press did arrive before the line broke, sending it again does nothing twice.
  const id = form.elements.namedItem("id");
  if (changed && kept.id && id) id.value = kept.id;
  return changed;
}

if (person) {
  const sent = JSON.parse(sessionStorage.getItem(SENT) ?? "null");
  // A page of ours without an error summary after a press means that the press was taken.
  if (sent && !document.querySelector(".told") && document.querySelector("#messages .success")) {
    sessionStorage.removeItem(sent);
  }
  sessionStorage.removeItem(SENT);
  for (const form of document.querySelectorAll("form[data-keep]")) {
    const kept = JSON.parse(sessionStorage.getItem(key(form)) ?? "null");
    // The answer to this very press stands on the page: what was typed is back to be mended, and needs no word.
    const answered = sent === key(form) && document.querySelector("[data-answered]");
    if (kept && !form.querySelector(".told, .note") && restore(form, kept) && !answered) {
      const note = document.createElement("p");
      note.className = "note";
      note.setAttribute("role", "status");
      note.textContent = `${say("What you typed here before is back; it was not sent yet.")} `;
      const clear = document.createElement("button");
      clear.type = "button";
      clear.textContent = say("Start afresh");
      clear.addEventListener("click", () => {
        sessionStorage.removeItem(key(form));
        location.reload();
      });
      note.append(clear);
      form.prepend(note);
    }
    form.addEventListener("input", () => keep(form));
    form.addEventListener("submit", () => {
      keep(form);
      sessionStorage.setItem(SENT, JSON.stringify(key(form)));
    });
    // "Record it" below a table that was looked at takes what was typed above.
    document.querySelector("form[data-settles]")?.addEventListener("submit", () => {
      sessionStorage.setItem(SENT, JSON.stringify(key(form)));
    });
  }
}

document.querySelector("[data-focus]")?.focus();

// Countdowns: <span data-tick="2031-05-14T16:40:00Z" data-over="check is due now">check in 12 min</span>
function tick() {
  for (const each of document.querySelectorAll("[data-tick]")) {
    const minutes = Math.ceil((Date.parse(each.dataset.tick) - Date.now()) / 60000);
    const words = each.dataset.words ?? say("in {}");
    const span = minutes >= 120 ? `${Math.floor(minutes / 60)} h ${minutes % 60} min` : `${minutes} min`;
    const text = minutes > 0 ? words.replace("{}", span) : (each.dataset.over ?? say("now"));
    if (each.textContent !== text) each.textContent = text;
    each.classList.toggle("over", minutes <= 0);
  }
}
tick();
setInterval(tick, 10000);

// One open menu closes when something else is pressed, and by Escape.
const menu = document.querySelector("details.menu");
document.addEventListener("click", (event) => {
  if (menu?.open && !menu.contains(event.target)) menu.open = false;
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && menu?.open) {
    menu.open = false;
    menu.querySelector("summary").focus();
  }
});
