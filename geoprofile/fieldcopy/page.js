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
const LONGEST = 1600, QUALITY = 0.82; // pixels of the longer side and quality of a photo that is kept
function changed(zone) {
  zone.classList.add("changed");
  show();
}
// Made smaller, so that a zone with many photos still fits into a message; also drops what the
// camera wrote beside the picture, such as whose device it is.
function smaller(file) {
  return new Promise((resolve, reject) => {
    const image = new Image(), reader = new FileReader();
    image.onload = () => {
      const share = Math.min(1, LONGEST / Math.max(image.naturalWidth, image.naturalHeight));
      const sheet = document.createElement("canvas");
      sheet.width = Math.max(1, Math.round(image.naturalWidth * share));
      sheet.height = Math.max(1, Math.round(image.naturalHeight * share));
      const pen = sheet.getContext("2d");
      pen.fillStyle = "white"; // a picture may have holes, which JPEG has not
      pen.fillRect(0, 0, sheet.width, sheet.height);
      pen.drawImage(image, 0, 0, sheet.width, sheet.height);
      const text = sheet.toDataURL("image/jpeg", QUALITY);
      text.startsWith("data:image/jpeg") ? resolve(text) : reject();
    };
    image.onerror = reader.onerror = reject;
    reader.onload = () => { image.src = reader.result; };
    reader.readAsDataURL(file);
  });
}
function timeOf(file) {
  const when = new Date(file.lastModified || Date.now());
  return when.toISOString().replace(/\.\d+Z$/, "Z");
}
async function add(zone, block, file) {
  const waiting = Number(zone.dataset.waiting || 0);
  zone.dataset.waiting = waiting + 1;
  changed(zone);
  try {
    const text = await smaller(file);
    const card = document.createElement("figure");
    const picture = document.createElement("img");
    picture.src = text;
    const label = document.createElement("label"), what = document.createElement("input");
    label.append("What it shows", what);
    const away = document.createElement("button");
    away.type = "button";
    away.textContent = "Remove this photo";
    away.addEventListener("click", () => { card.remove(); changed(zone); });
    card.append(picture, label, away);
    card.dataset.time = timeOf(file);
    block.append(card);
  } catch {
    const said = document.createElement("p");
    said.className = "refused";
    said.textContent = `${file.name} is no picture that this browser can read: it was not added. ` +
      "Take it again as JPEG.";
    block.append(said);
  }
  zone.dataset.waiting = Number(zone.dataset.waiting) - 1;
}
function photosOf(zone) {
  return [...zone.querySelectorAll("figure")].map(card => ({
    ...JSON.parse(card.parentElement.dataset.of), taken_at: card.dataset.time,
    what: card.querySelector("input").value.trim(),
    picture: card.querySelector("img").src.split(",")[1] }));
}
function save(zone) {
  if (Number(zone.dataset.waiting)) {
    status.textContent = "A photo is still being read: save again in a moment.";
    return;
  }
  const rows = rowsOf(zone);
  if (rows === null) { status.textContent = "Correct the boxes with a red border first."; return; }
  const told = { copy: document.body.dataset.copy, zone: zone.dataset.zone,
    saved_at: new Date().toISOString(), rows, photos: photosOf(zone) };
  const link = document.createElement("a");
  const text = new Blob([JSON.stringify(told, null, 1)], { type: "application/json" });
  link.href = URL.createObjectURL(text);
  setTimeout(() => URL.revokeObjectURL(link.href), 60000); // when it has long been written
  const when = told.saved_at.replace(/[:.]/g, "");
  link.download = `field_${told.copy}_${zone.dataset.zone.replace(/[^\w-]/g, "_")}_${when}.json`;
  link.click();
  zone.classList.remove("changed");
  show();
}
for (const zone of zones) {
  zone.addEventListener("input", event => {
    if (event.target.name) event.target.dataset.touched = "yes";
    if (event.target.type !== "file") changed(zone);
  });
  const block = zone.querySelector(".photos");
  for (const pick of block.querySelectorAll("input[type=file]")) {
    pick.addEventListener("change", async () => {
      const files = [...pick.files];
      pick.value = ""; // so that the same photo can be chosen again
      for (const file of files) await add(zone, block, file);
    });
  }
  zone.querySelector("button.save").addEventListener("click", () => save(zone));
}
window.addEventListener("beforeunload", event => {
  if (zones.some(z => z.classList.contains("changed"))) event.preventDefault();
});
