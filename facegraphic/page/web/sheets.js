// Sheets as they will be printed, and what they use of the film.

import { byId, element, keep } from "./dom.js";
import { picture } from "./pictures.js";
import { jobPath } from "./server.js";
import { now, watch } from "./store.js";

const area = byId("sheets-panel");
const list = element("ol", { class: "sheet-list" });

function told(sheet) {
  const parts = [];
  if (sheet.paper) parts.push(sheet.paper);
  const count = Array.isArray(sheet.pieces) ? sheet.pieces.length : sheet.pieces;
  if (count) parts.push(count === 1 ? "1 piece" : `${count} pieces`);
  if (sheet.prints > 1) parts.push(`printed ${sheet.prints} times`);
  return parts.join(" · ");
}

function use(sheet) {
  const film = `${(sheet.used_mm2 / 100).toFixed(1)} cm² of film used`;
  const whole = sheet.sheet_mm2 ?? (sheet.size ? sheet.size[0] * sheet.size[1] : null);
  return whole ? `${film}, ${Math.round((100 * sheet.used_mm2) / whole)} % of the sheet` : film;
}

async function update(item, sheet) {
  const [image, name, about, film] = item.querySelectorAll("img, h3, .about, .film");
  const path = jobPath(now().name, sheet.picture);
  name.textContent = sheet.file.replace(/\.[a-z]+$/, "");
  about.textContent = told(sheet);
  film.textContent = use(sheet);
  image.alt = `${name.textContent} as it will be printed: ${about.textContent}`;
  if (image.dataset.path === path) return;
  image.dataset.path = path;
  const decoded = await picture(path).catch(() => null);
  if (!decoded || image.dataset.path !== path) return;
  decoded.alt = image.alt;
  decoded.dataset.path = path;
  image.replaceWith(decoded);
}

function create() {
  return element("li", {}, element("figure", {}, element("img", { alt: "" }),
    element("figcaption", {}, element("h3"), element("p", { class: "about" }), element("p", { class: "film small" }))));
}

function draw({ job, tab }) {
  if (tab !== "sheets") return;
  const sheets = job?.sheets ?? [];
  if (sheets.length) {
    if (!list.isConnected) area.replaceChildren(list);
  } else area.replaceChildren(element("p", { class: "small", text: "There is no sheet." }));
  keep(list, sheets, (sheet) => sheet.file, create, update);
}

export function mountSheets() {
  watch(["job", "tab"], draw);
}
