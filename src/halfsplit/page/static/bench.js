// What attributes cannot say: files dropped anywhere on the sheet, a server that is gone, lines of the unit editor.
"use strict";

const drop = () => document.getElementById("drop");

for (const kind of ["dragover", "drop"]) {
  addEventListener(kind, (event) => {
    if (drop() && event.dataTransfer && event.dataTransfer.types.includes("Files")) event.preventDefault();
  });
}
addEventListener("drop", (event) => {
  const files = event.dataTransfer && event.dataTransfer.files;
  if (!drop() || !files || !files.length) return;
  document.getElementById("files").files = files;
  drop().requestSubmit();
});
document.addEventListener("change", (event) => {
  if (event.target.id === "files" && event.target.files.length) drop().requestSubmit();
});

// The page says when its server does not answer, and goes on by itself when it is back.
let silent = false;
const say = (text) => {
  const place = document.getElementById("trouble");
  if (place) place.textContent = text;
};
document.addEventListener("htmx:error", (event) => {
  const context = event.detail && event.detail.ctx;
  if (context && context.response && context.response.raw) return;
  silent = true;
  say("The bench server does not answer. What you entered is held; start it again with halfsplit bench.");
});
document.addEventListener("htmx:after:request", () => {
  if (!silent) return;
  silent = false;
  say("");
});

// A press on "line 12" goes to that line of the unit file.
document.addEventListener("click", (event) => {
  const link = event.target.closest(".toline");
  const text = document.getElementById("text");
  if (!link || !text) return;
  event.preventDefault();
  const lines = text.value.split("\n");
  const start = lines.slice(0, link.dataset.line - 1).join("\n").length + (link.dataset.line > 1 ? 1 : 0);
  text.focus();
  text.setSelectionRange(start, start + (lines[link.dataset.line - 1] || "").length);
  const high = parseFloat(getComputedStyle(text).lineHeight);
  scrollTo({ top: text.getBoundingClientRect().top + scrollY + high * (link.dataset.line - 1) - innerHeight / 3 });
});
// The numbers beside the text are as many as its lines, at once.
document.addEventListener("input", (event) => {
  if (event.target.id !== "text") return;
  const count = event.target.value.split("\n").length;
  const lines = document.getElementById("unit_lines");
  const known = lines.textContent.split("\n");
  event.target.rows = count + 1;
  lines.textContent = Array.from({ length: count }, (_, n) => known[n]?.trim() ? known[n] : ` ${n + 1}`).join("\n");
});

// Files that were taken in are no longer chosen.
document.addEventListener("htmx:after:request", (event) => {
  if (event.target.id === "drop") event.target.reset();
});
