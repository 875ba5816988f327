// Paint, ink, process and paper: written to the file when chosen.

import { byId, element } from "./dom.js";
import { refresh } from "./following.js";
import { flush } from "./moving.js";
import { complain, quiet } from "./notices.js";
import { jobPath, post } from "./server.js";
import { now, watch } from "./store.js";

const area = byId("choices");
let controls = [];
let written = null; // key of what was just sent, which is then shown as it has become, even while it has the focus

async function write(key, value) {
  await flush();
  const { name, job } = now();
  if (job && job.settings[key] !== value) {
    try {
      const { version } = await post(jobPath(name, "set"), { [key]: value });
      quiet();
      await refresh(version);
    } catch (problem) {
      complain(problem);
    }
  }
  written = key;
  draw(now());
  written = null;
}

/** "#rrggbb" from what somebody types: with or without #, three digits or six, or a name; null if it is no colour. */
export function colour(text) {
  const typed = text.trim().toLowerCase();
  const digits = /^#?([0-9a-f]{3}|[0-9a-f]{6})$/.exec(typed)?.[1];
  if (!digits) return /^[a-z]{3,}$/.test(typed) && CSS.supports("color", typed) ? typed : null;
  return `#${digits.length === 3 ? digits.replace(/./g, "$&$&") : digits}`;
}

function colourChoice(key, title) {
  const hint = element("span", {
    class: "wrong",
    id: `${key}-wrong`,
    hidden: true,
    text: "A colour is six digits, as in #173f4a, or its CSS name.",
  });
  const well = element("input", {
    type: "color",
    "aria-label": `${title}, colour`,
    onchange: () => write(key, well.value),
  });
  const digits = element("input", {
    type: "text",
    class: "digits",
    "aria-label": `${title}, as digits`,
    spellcheck: "false",
    autocomplete: "off",
    maxlength: "24",
    "aria-describedby": hint.id,
    onchange: () => {
      const value = colour(digits.value);
      wrong(!value);
      if (value) write(key, value);
    },
    oninput: () => colour(digits.value) && wrong(false),
  });
  const wrong = (is) => {
    hint.hidden = !is;
    digits.setAttribute("aria-invalid", String(is));
  };
  const show = (value) => {
    well.disabled = digits.disabled = value === null;
    well.value = /^#[0-9a-f]{6}$/i.test(value ?? "") ? value : "#000000";
    if (document.activeElement !== digits || digits.dataset.was !== value || written === key)
      digits.value = value ?? "none";
    digits.dataset.was = value ?? "";
    wrong(false);
  };
  return {
    key,
    show,
    root: element("fieldset", { class: "choice" }, element("legend", { text: title }), well, digits, hint),
  };
}

function listChoice(key, title) {
  const list = element("select", { id: `choice-${key}`, onchange: () => write(key, list.value) });
  const show = (value, names) => {
    const choices = names.map((one) => (typeof one === "string" ? { name: one, title: one } : one));
    const known = choices.some((one) => one.name === value);
    const all = known ? choices : [{ name: value ?? "", title: value ?? "its own size" }, ...choices];
    const wanted = JSON.stringify(all);
    if (list.dataset.all !== wanted) {
      list.replaceChildren(...all.map((one) => element("option", { value: one.name, text: one.title })));
      list.dataset.all = wanted;
    }
    list.value = value ?? "";
  };
  return {
    key,
    show,
    root: element(
      "div",
      { class: `choice list${key === "paper" ? " short" : ""}` },
      element("label", { for: list.id, text: title }),
      list,
    ),
  };
}

/** In read-only mode the same is told in words, and nothing can be chosen. */
function words(key, title) {
  const patch = key === "paint" || key === "ink" ? element("span", { class: "patch", "aria-hidden": "true" }) : null;
  const value = element("span");
  const show = (chosen, choices) => {
    value.textContent = choices?.find((one) => one.name === chosen)?.title ?? chosen ?? "none";
    if (patch && chosen) patch.style.backgroundColor = chosen;
  };
  const kind = patch ? "choice" : `choice list${key === "paper" ? " short" : ""}`;
  return {
    key,
    show,
    root: element(
      "div",
      { class: kind },
      element("span", { class: "label", text: title }),
      element("span", { class: "told-choice" }, patch, value),
    ),
  };
}

const TITLES = { paint: "Paint", ink: "Ink", process: "Process", paper: "Paper" };

function build({ readOnly }) {
  const make = (key) =>
    readOnly
      ? words(key, TITLES[key])
      : key === "paint" || key === "ink"
        ? colourChoice(key, TITLES[key])
        : listChoice(key, TITLES[key]);
  controls = Object.keys(TITLES).map(make);
  area.replaceChildren(...controls.map((control) => control.root));
}

function draw({ job }) {
  area.hidden = !job?.settings;
  if (!job?.settings) return;
  for (const { key, show } of controls) show(job.settings[key] ?? null, job.choices?.[key] ?? []);
}

export function mountChoices() {
  build(now());
  area.hidden = true;
  watch(["readOnly"], (state) => {
    build(state);
    draw(state);
  });
  watch(["job"], draw);
}
