// A press on a mark of the sheet opens its flaw; a press beside a row of a table shows its place on the sheet.
const sheet = document.querySelector("div.sheet[data-sheet]");

sheet?.addEventListener("flaw", (event) => {
  if (event.detail?.id) location.assign(`/flaws/${event.detail.id}/`);
});

function offer() {
  for (const button of document.querySelectorAll("button[data-show]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const { show, x, y } = button.dataset;
      if (show === "flaw") sheet.sheet.select(button.value);
      else sheet.sheet.show(Number(x), Number(y));
      sheet.scrollIntoView({ block: "nearest" });
    });
  }
}
if (sheet?.sheet) offer();
else sheet?.addEventListener("sheet-ready", offer, { once: true });
