// Which face is on the stage, or the sheets; and for painted boxes the step through the coats.

import { byId, element, keep } from "./dom.js";
import { now, set, sideName, watch } from "./store.js";

const tabs = byId("tabs");

function go(event) {
  const all = [...tabs.children];
  const here = all.indexOf(document.activeElement);
  const next = { ArrowRight: here + 1, ArrowLeft: here - 1, Home: 0, End: all.length - 1 }[event.key];
  if (next === undefined || here < 0) return;
  event.preventDefault();
  const tab = all[(next + all.length) % all.length];
  set({ tab: tab.dataset.key, held: null });
  tab.focus();
}

function draw({ job, tab }) {
  const names = [...(job?.faces ?? []).map((face) => face.side), ...(job ? ["sheets"] : [])];
  const sheets = job?.sheets.length ?? 0;
  keep(
    tabs,
    names,
    (name) => name,
    (name) =>
      element("button", {
        type: "button",
        role: "tab",
        id: `tab-${name}`,
        "aria-controls": name === "sheets" ? "sheets-panel" : "stage-panel",
        onclick: () => set({ tab: name, held: null }),
      }),
    (button, name) => {
      button.textContent = name !== "sheets" ? sideName(name) : sheets === 1 ? "Sheet" : `Sheets (${sheets})`;
      button.setAttribute("aria-selected", String(name === tab));
      button.tabIndex = name === tab ? 0 : -1;
    },
  );
  byId("stage-panel").hidden = tab === "sheets";
  byId("sheets-panel").hidden = tab !== "sheets";
  byId("stage-panel").setAttribute("aria-labelledby", `tab-${tab}`);
  byId("ticks").hidden = tab === "sheets";
}

function coats({ job, coat }) {
  const area = byId("coats");
  const count = job?.coats ?? 0;
  area.hidden = count === 0;
  if (!count) return;
  if (!area.firstChild) {
    const range = element("input", {
      type: "range",
      id: "coat",
      min: "0",
      step: "1",
      oninput: () => {
        const step = Number(range.value);
        set({ coat: step > now().job.coats ? null : step, held: null });
      },
    });
    area.append(element("label", { for: "coat", text: "Coats" }), range, element("span", { class: "coat-told" }));
  }
  const [, range, told] = area.children;
  const step = coat ?? count + 1;
  const text = coat === null ? "finished" : coat === 0 ? "bare box" : `after coat ${coat} of ${count}`;
  range.max = String(count + 1);
  range.value = String(step);
  range.setAttribute("aria-valuetext", text);
  told.textContent = text;
}

export function mountTabs() {
  tabs.addEventListener("keydown", go);
  for (const name of ["covers", "large"]) {
    byId(name).addEventListener("change", (event) => set({ [name]: event.target.checked }));
  }
  watch(["job", "tab"], draw);
  watch(["job", "coat"], coats);
}
