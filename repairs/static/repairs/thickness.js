// A press on a mark of the thickness map goes to its row in the list; a press beside a row shows its place on the map.
const sheet = document.querySelector("div.sheet[data-sheet]");

sheet?.addEventListener("flaw", (event) => {
  const row = document.getElementById(`spot-${event.detail?.id}`);
  row?.closest("details")?.setAttribute("open", "");
  row?.scrollIntoView({ block: "center" });
  row?.focus();
});

function offer() {
  for (const button of document.querySelectorAll("button[data-show]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const { show, x, y } = button.dataset;
      if (show === "spot") sheet.sheet.select(button.value);
      else sheet.sheet.show(Number(x), Number(y));
      sheet.scrollIntoView({ block: "nearest" });
    });
  }
}
if (sheet?.sheet) offer();
else sheet?.addEventListener("sheet-ready", offer, { once: true });
