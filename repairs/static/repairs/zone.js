// A press on a mark of the sheet opens its flaw.
document.querySelector("div.sheet[data-sheet]")?.addEventListener("flaw", (event) => {
  if (event.detail?.id) location.assign(`/flaws/${event.detail.id}/`);
});
