"use strict";
// Entries become a file per zone; nothing is kept in the browser.
const KINDS = { real: /^-?\d+([.,]\d+)?([eE]-?\d+)?$/, integer: /^-?\d+$/,
  date: /^\d{4}-\d\d-\d\d$/, datetime: /^\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?Z$/ };
const zones = [...document.querySelectorAll("section[data-zone]")];
const status = document.getElementById("unsaved");

function show() {
  const open = zones.filter(z => z.classList.contains("changed")).map(z => z.dataset.zone);
  status.textContent = open.length ? "Not saved yet: " + open.join(", ") : "";
}
function read(box) {
  const text = box.value.trim();
  const kind = box.dataset.kind;
  const isRight = text === "" || !KINDS[kind] || KINDS[kind].test(text);
  box.classList.toggle("wrong", !isRight);
  if (!isRight) return undefined;
  if (text === "") return null;
  if (kind === "real" || kind === "integer") return Number(text.replace(",", "."));
  if (kind === "boolean") return text === "true";
  return text;
}
function rowsOf(zone) {
  const rows = {};
  let isRight = true;
  for (const block of zone.querySelectorAll("fieldset")) {
    const row = JSON.parse(block.dataset.fixed);
    const boxes = [...block.querySelectorAll("[name]")];
    // an untouched box says nothing, so that it cannot undo what others have changed
    for (const box of boxes) {
      const value = read(box);
      if (value === undefined) { isRight = false; box.focus(); }
      else if (box.dataset.touched || block.dataset.new) row[box.name] = value;
    }
    if (block.dataset.new && !boxes.some(b => b.value.trim() !== "")) continue;
    (rows[block.dataset.table] ??= []).push(row);
  }
  return isRight ? rows : null;
}
function save(zone) {
  const rows = rowsOf(zone);
  if (rows === null) { status.textContent = "Correct the boxes with a red border first."; return; }
  const told = { copy: document.body.dataset.copy, zone: zone.dataset.zone,
    saved_at: new Date().toISOString(), rows };
  const link = document.createElement("a");
  link.href = "data:application/json;charset=utf-8," + encodeURIComponent(JSON.stringify(told, null, 1));
  const when = told.saved_at.replace(/[:.]/g, "");
  link.download = `field_${told.copy}_${zone.dataset.zone.replace(/[^\w-]/g, "_")}_${when}.json`;
  link.click();
  zone.classList.remove("changed");
  show();
}
for (const zone of zones) {
  zone.addEventListener("input", event => {
    event.target.dataset.touched = "yes";
    zone.classList.add("changed");
    show();
  });
  zone.querySelector("button").addEventListener("click", () => save(zone));
}
window.addEventListener("beforeunload", event => {
  if (zones.some(z => z.classList.contains("changed"))) event.preventDefault();
});
