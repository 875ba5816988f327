// Sheets as they will be printed, and what they use of the film.

import { byId, drawn, element, keep } from "./dom.js";
import { picture } from "./pictures.js";
import { jobPath } from "./server.js";
import { now, sideName, watch } from "./store.js";

const area = byId("sheets-panel");
const list = element("ol", { class: "sheet-list" });

const cm2 = (mm2) => `${(mm2 / 100).toFixed(mm2 < 99950 ? 1 : 0)} cm²`;

/** The facts of a sheet, a line each: [what, said]. */
function facts(sheet) {
  const [w, h] = sheet.size;
  const sides = sheet.pieces.map((piece) => sideName(piece.side)).join(", ");
  const said = [
    ["Paper", `${sheet.paper}, ${w} × ${h} mm`],
    ["On it", sides],
    ["Film used", `${cm2(sheet.used_mm2)}, ${Math.round((100 * sheet.used_mm2) / (w * h))} % of the sheet`],
  ];
  if (sheet.prints > 1) said.push(["To print", `${sheet.prints} times`]);
  return said;
}

/** What is used up when it is printed, over the picture. */
function usedUp(sheet) {
  const [w, h] = sheet.size;
  const boxes = sheet.used_after ?? [];
  return boxes.map(([x, y, width, height]) =>
    drawn("rect", {
      x: `${(100 * x) / w}%`,
      y: `${(100 * y) / h}%`,
      width: `${(100 * width) / w}%`,
      height: `${(100 * height) / h}%`,
    }),
  );
}

function tell(item, sheet) {
  const title = sheet.file.replace(/\.[a-z]+$/, "");
  item.querySelector("h3").textContent = title.charAt(0).toUpperCase() + title.slice(1).replaceAll("-", " ");
  item
    .querySelector("dl")
    .replaceChildren(
      ...facts(sheet).flatMap(([what, said]) => [element("dt", { text: what }), element("dd", { text: said })]),
    );
  const boxes = sheet.used_after ?? [];
  item.querySelector(".go-on").hidden = boxes.length === 0;
  item.querySelector("code").textContent = `used = ${JSON.stringify(boxes).replaceAll(",", ", ")}`;
  item.querySelector("svg").replaceChildren(...usedUp(sheet));
}

async function update(item, sheet) {
  tell(item, sheet);
  const image = item.querySelector("img");
  const path = jobPath(now().name, sheet.picture);
  image.alt = `${item.querySelector("h3").textContent} as it will be printed`;
  if (image.dataset.path === path) return;
  image.dataset.path = path;
  const decoded = await picture(path).catch(() => null);
  if (!decoded || image.dataset.path !== path) return;
  decoded.alt = image.alt;
  decoded.dataset.path = path;
  image.replaceWith(decoded);
}

function create() {
  return element(
    "li",
    {},
    element("div", { class: "paper" }, element("img", { alt: "" }), drawn("svg", { "aria-hidden": "true" })),
    element(
      "div",
      { class: "paper-told" },
      element("h3"),
      element("dl"),
      element(
        "div",
        { class: "go-on" },
        element("p", { class: "small", text: "To go on with this sheet later, write below [sheet]:" }),
        element("code"),
      ),
    ),
  );
}

function draw({ job, tab }) {
  if (tab !== "sheets") return;
  const sheets = job?.sheets ?? [];
  if (sheets.length) {
    if (!list.isConnected) area.replaceChildren(list);
  } else
    area.replaceChildren(
      element("p", { class: "small", text: job?.findings_version ? "There is no sheet." : "Laying out the sheets" }),
    );
  keep(list, sheets, (sheet) => sheet.file, create, update);
}

export function mountSheets() {
  watch(["job", "tab"], draw);
}
