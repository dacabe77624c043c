// Answers while somebody types: waits for a pause, drops the question before, and puts the server's answer in place.
// No figure is worked out here. Without this script the same form is sent by its button.

const PAUSE = 350; // ms
const form = document.querySelector("form[data-worksheet]");
const peek = form.querySelector(".peek"); // on a phone the sentence stays in sight under the form
const place = document.getElementById("answer");
let asking = null;
let timer = 0;
let notBefore = 0;

function say(words) {
  const line = document.createElement("p");
  line.className = "verdict";
  line.setAttribute("role", "status");
  line.textContent = words;
  place.replaceChildren(line);
}

/** Errors stand beside their fields, in the words of the answer; what is put right loses its own. */
function showErrors() {
  for (const old of form.querySelectorAll(".error")) old.remove();
  for (const field of form.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    describe(field, (ids) => ids.filter((id) => !id.endsWith("_error")));
  }
  for (const error of place.querySelectorAll("[data-errors] [data-row]")) {
    const field = document.getElementById(error.dataset.row);
    if (!field) continue;
    const shown = error.cloneNode(true);
    shown.id = `${field.id}_error`;
    delete shown.dataset.row;
    field.closest(".row").append(shown);
    if (field.matches("input, select, textarea")) field.setAttribute("aria-invalid", "true");
    describe(field, (ids) => [...ids, shown.id]);
  }
}

function describe(field, change) {
  const ids = change((field.getAttribute("aria-describedby") ?? "").split(" ").filter(Boolean));
  if (ids.length) field.setAttribute("aria-describedby", ids.join(" "));
  else field.removeAttribute("aria-describedby");
}

async function ask() {
  asking?.abort();
  const mine = asking = new AbortController();
  place.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(form.getAttribute("action"), {
      method: "POST", body: new FormData(form), headers: { "X-Part": "answer" }, signal: mine.signal,
    });
    const text = await answer.text();
    if (answer.status === 200 || answer.status === 422) {
      // Our own page's fragment, every text in it escaped by the server.
      place.replaceChildren(document.createRange().createContextualFragment(text));
      showErrors();
      peek.textContent = place.querySelector(".verdict, .told b").textContent;
    } else {
      if (answer.status === 429) {
        notBefore = Date.now() + 1000 * Number(answer.headers.get("Retry-After") ?? 1);
        later();
      }
      say(answer.headers.get("Content-Type")?.startsWith("text/plain") ? text : form.dataset.broken);
    }
  } catch (problem) {
    if (problem.name !== "AbortError") say(form.dataset.broken);
  } finally {
    if (asking === mine) place.removeAttribute("aria-busy");
  }
}

function later() {
  clearTimeout(timer);
  timer = setTimeout(ask, Math.max(PAUSE, notBefore - Date.now()));
}

form.addEventListener("input", () => {
  form.querySelector("[data-example]")?.remove();
  later();
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  event.stopPropagation();
  clearTimeout(timer);
  ask();
});
