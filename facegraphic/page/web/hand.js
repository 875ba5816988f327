// The panel below the face: which legend is in hand, how far it is nudged, and figures to type.

import { byId, element, offset } from "./dom.js";
import { named } from "./legends.js";
import { nudgeOf, nudgeTo } from "./moving.js";
import { faceOf, now, set, watch } from "./store.js";

const area = byId("hand");
let fields = null;

const current = () => {
  const { job, tab, held } = now();
  return held && faceOf(job, tab)?.legends.find((legend) => legend.key === held);
};

function hint() {
  const { job, tab, coat, readOnly } = now();
  const movable = faceOf(job, tab)?.legends.some((legend) => legend.key !== null);
  if (readOnly) return "Read only: this page shows the box and changes nothing.";
  if (!job || tab === "sheets") return "";
  if (coat !== null) return "Legends can be moved on the finished face.";
  if (!movable) return "No legend of this face can be moved.";
  return "Take hold of a legend by pointer or Enter. Then drag it, or use the arrow keys: 0.1 mm, with Shift 1 mm.";
}

function figure(label, axis) {
  const input = element("input", {
    type: "number",
    step: "0.1",
    inputmode: "decimal",
    id: `nudge-${label.toLowerCase()}`,
    "aria-label": `${label}, mm`,
    oninput: () => typed(axis, input),
    onkeydown: (event) => event.key === "Escape" && leave(),
  });
  return {
    input,
    line: element(
      "label",
      { class: "figure" },
      element("span", { text: label }),
      input,
      element("span", { class: "unit", text: "mm" }),
    ),
  };
}

function typed(axis, input) {
  const legend = current();
  const value = input.valueAsNumber;
  if (!legend || Number.isNaN(value) || Math.abs(value) > 200) return;
  const nudge = [...nudgeOf(now().tab, legend)];
  nudge[axis] = value;
  nudgeTo(now().tab, legend, nudge);
}

function leave() {
  const key = now().held;
  set({ held: null });
  document.querySelector(`.legend[data-key="${CSS.escape(key)}"]`)?.focus();
}

function panel() {
  const right = figure("Right", 0),
    up = figure("Up", 1);
  const name = element("p", { class: "held-name" });
  const home = element("button", {
    type: "button",
    text: "Back to its place",
    onclick: () => {
      const legend = current();
      if (legend) nudgeTo(now().tab, legend, [0, 0]);
    },
  });
  const done = element("button", { type: "button", text: "Let go", onclick: leave });
  return { right, up, name, home, all: [name, element("div", { class: "figures" }, right.line, up.line, home, done)] };
}

function draw() {
  const legend = current();
  const { readOnly, tab } = now();
  const told = byId("hand-hint");
  told.textContent = hint();
  told.classList.toggle("unseen", Boolean(legend) && !readOnly);
  if (!legend) {
    fields = null;
    area.replaceChildren(told);
    return;
  }
  const nudge = nudgeOf(tab, legend);
  if (readOnly) {
    area.replaceChildren(element("p", { class: "held-name", text: `${named(legend)}: ${offset(nudge)}` }), told);
    return;
  }
  if (!fields) {
    fields = panel();
    area.replaceChildren(told, ...fields.all);
  }
  fields.name.textContent = named(legend);
  fields.home.disabled = nudge[0] === 0 && nudge[1] === 0;
  for (const [field, value] of [
    [fields.right, nudge[0]],
    [fields.up, nudge[1]],
  ]) {
    // What is being typed is left alone while it says the same.
    if (document.activeElement !== field.input || Math.abs(field.input.valueAsNumber - value) > 0.005) {
      if (!(document.activeElement === field.input && Number.isNaN(field.input.valueAsNumber)))
        field.input.value = String(value);
    }
  }
}

export function mountHand() {
  area.append(element("p", { id: "hand-hint", class: "small" }));
  watch(["held", "wanted", "job", "tab", "coat", "readOnly"], draw);
}
