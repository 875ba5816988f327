// The face, flat: its picture, rulers, what lies over it. A new picture and the legends that go with it come together.

import { byId, drawn, element, mm } from "./dom.js";
import { guides } from "./guides.js";
import { Legends } from "./legends.js";
import { facePath, picture } from "./pictures.js";
import { across, follow, upright } from "./rulers.js";
import { faceOf, now, set, sideName, wantedKey, watch } from "./store.js";

const RULED = { left: 38, top: 28 }; // px for the rulers
const LARGEST = 16; // px to the mm
const BESIDE = 14; // px kept free on the other sides

const stage = byId("stage");
const plate = element("div", { class: "plate" });
const canvas = element("canvas", { role: "img", "aria-label": "Face" });
const over = drawn("svg", { class: "over", "aria-hidden": "true" });
const marks = element("div", { class: "marks" });
const wait = element("p", { class: "wait", text: "Drawing the face" });
const where = element("p", { class: "where", "aria-hidden": "true" });
const legends = new Legends();

let shown = null; // {name, side, coat, path, face, image, version, turn}
let asked = 0;
let rulers = null;
let place = null;

/** How face mm lie on the plate, in px. */
function placing(face, scale) {
  const [w, h] = face.size;
  return {
    scale,
    size: face.size,
    width: w * scale,
    height: h * scale,
    x: (mmRight) => (mmRight + w / 2) * scale,
    y: (mmUp) => (h / 2 - mmUp) * scale,
  };
}

function fitted(face) {
  const [w, h] = face.size;
  const room = parseFloat(getComputedStyle(stage).maxHeight) || 600;
  const wide = stage.clientWidth - RULED.left - BESIDE;
  const scale = Math.min(wide / w, (room - RULED.top - BESIDE) / h, LARGEST);
  return placing(face, Math.max(scale, 1) * (now().large ? 2 : 1));
}

function paint() {
  const dense = window.devicePixelRatio || 1;
  canvas.width = Math.round(place.width * dense);
  canvas.height = Math.round(place.height * dense);
  const pen = canvas.getContext("2d");
  const [w, h] = shown.face.size;
  pen.setTransform(canvas.width / w, 0, 0, canvas.height / h, canvas.width / 2, canvas.height / 2);
  pen.imageSmoothingQuality = "high";
  pen.save();
  pen.clip(new Path2D(shown.face.outline));
  pen.drawImage(shown.image, -w / 2, -h / 2, w, h);
  pen.restore();
  const after = shown.coat === null ? "finished" : `paint after coat ${shown.coat}`;
  canvas.setAttribute("aria-label", `${sideName(shown.side)} face, ${after}`);
}

/** The lines that the legend in hand stands in, once it has left its place. */
function standing() {
  const { held, wanted } = now();
  const legend = held && shown.face.legends.find((one) => one.key === held);
  const wish = legend && wanted[wantedKey(shown.side, held)];
  if (!wish) return [];
  const at = [legend.x + wish.nudge[0] - legend.nudge[0], legend.y + wish.nudge[1] - legend.nudge[1]];
  return guides(shown.face, legend, at);
}

function paintOver() {
  const { covers } = now();
  const [w, h] = shown.face.size;
  over.setAttribute("viewBox", `${-w / 2} ${-h / 2} ${w} ${h}`);
  const rings = covers ? shown.face.holes : [];
  over.replaceChildren(
    ...standing(),
    ...rings.flatMap((hole) => [
      drawn("circle", { class: "cover", cx: hole.x, cy: -hole.y, r: Math.max(hole.cover, hole.d) / 2 }),
      drawn("circle", { class: "hole", cx: hole.x, cy: -hole.y, r: hole.d / 2 }),
    ]),
  );
}

function paintMark() {
  const { finding } = now();
  marks.replaceChildren();
  if (!finding || finding.side !== shown.side) return;
  const kind = `mark ${finding.severity} ${finding.at ? "spot" : "whole"}`;
  const mark = element("div", { class: kind, role: "img", "aria-label": `Here: ${finding.message}` });
  if (finding.at) {
    mark.style.left = `${place.x(finding.at[0])}px`;
    mark.style.top = `${place.y(finding.at[1])}px`;
  }
  marks.append(mark);
}

/** Brings the place of a finding into sight, where the face is off the window or larger than the stage. */
function seen() {
  const mark = marks.firstElementChild;
  if (!mark) return;
  const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  mark.scrollIntoView({ block: "nearest", inline: "nearest", behavior: still ? "auto" : "smooth" });
}

function layOut() {
  if (!shown) return;
  place = fitted(shown.face);
  plate.style.width = `${place.width}px`;
  plate.style.height = `${place.height}px`;
  for (const old of rulers ?? []) old.remove();
  rulers = [across(place, RULED.top), upright(place, RULED.left)];
  plate.append(...rulers);
  paint();
  paintOver();
  paintMark();
  legends.show(shown, place);
  plate.hidden = false;
  wait.hidden = true;
}

/** What was asked of a legend is done once a state as new as the answer is on the stage. */
function settle() {
  const { wanted, name } = now();
  const left = Object.entries(wanted).filter(([key, wish]) => {
    const legend = shown.face.legends.find((one) => wantedKey(shown.side, one.key) === key);
    if (!legend || wish.name !== name) return wish.version === null;
    return wish.version === null || wish.version > shown.version;
  });
  if (left.length !== Object.keys(wanted).length) set({ wanted: Object.fromEntries(left) });
}

async function bring() {
  const { job, tab, coat, name } = now();
  const face = faceOf(job, tab);
  if (!face) return;
  const turn = ++asked;
  const path = facePath(name, face, coat);
  let image = shown?.path === path ? shown.image : null;
  if (!image) {
    if (shown?.name !== name) {
      wait.textContent = "Drawing the face";
      wait.hidden = false;
      plate.hidden = true;
    }
    try {
      image = await picture(path);
    } catch {
      if (turn === asked && !shown) wait.textContent = "The picture of this face could not be fetched.";
      return;
    }
  }
  // A newer picture may have been quicker.
  if (turn < (shown?.turn ?? 0) || now().name !== name) return;
  shown = { name, side: face.side, coat, path, face, image, version: job.version, turn };
  settle();
  layOut();
}

const tenths = (value) => mm(Math.round(value * 10) / 10);

function trace(event) {
  if (!place || event.pointerType === "touch") return;
  const box = plate.getBoundingClientRect();
  const at = { x: event.clientX - box.left, y: event.clientY - box.top };
  const inside = at.x >= 0 && at.y >= 0 && at.x <= box.width && at.y <= box.height;
  follow(rulers, inside ? at : null);
  where.textContent = inside
    ? `x ${tenths(at.x / place.scale - place.size[0] / 2)}   y ${tenths(place.size[1] / 2 - at.y / place.scale)} mm`
    : "";
}

/** Puts the face's area together; called once. */
export function mountFace() {
  plate.hidden = true;
  plate.append(canvas, over, legends.root, marks);
  stage.append(wait, plate, where);
  stage.addEventListener("pointermove", trace);
  stage.addEventListener("pointerleave", trace);
  stage.addEventListener("click", (event) => {
    if (!event.target.closest(".legend")) set({ held: null });
  });
  new ResizeObserver(layOut).observe(stage);
  window.addEventListener("resize", layOut);
  watch(["job", "tab", "coat", "name"], bring);
  watch(["finding"], () => {
    if (!shown) return;
    paintMark();
    seen();
  });
  watch(["large"], ({ large }) => {
    stage.classList.toggle("large", large);
    layOut();
    stage.scrollTo((stage.scrollWidth - stage.clientWidth) / 2, (stage.scrollHeight - stage.clientHeight) / 2);
  });
  watch(["covers", "held", "wanted"], () => shown && paintOver());
  watch(["held", "wanted", "readOnly"], () => shown && legends.show(shown, place));
  watch(["job"], ({ job }) => stage.classList.toggle("stale", Boolean(job?.error)));
}
