// Making the files: begun by a button, told as it goes, ended with links.

import { byId, element, keep, say } from "./dom.js";
import { flush } from "./moving.js";
import { complain, quiet } from "./notices.js";
import { refresh } from "./following.js";
import { jobPath, post } from "./server.js";
import { now, set, watch } from "./store.js";

async function begin() {
  await flush();
  quiet();
  set({ making: { file: null, done: 0, total: 0 } });
  say("Making the files");
  try {
    await post(jobPath(now().name, "make"));
  } catch (problem) {
    set({ making: null });
    complain(problem);
  }
}

async function step(way) {
  await flush();
  quiet();
  try {
    const { version } = await post(jobPath(now().name, way));
    set({ wanted: {} });
    await refresh(version);
    say(way === "undo" ? "Undone" : "Done again");
  } catch (problem) {
    complain(problem);
  }
}

function progress({ making }) {
  const area = byId("making");
  area.hidden = !making;
  if (!making) {
    area.replaceChildren();
    return;
  }
  if (!area.querySelector("progress"))
    area.replaceChildren(element("progress", { "aria-label": "Files made" }), element("p"));
  const [bar, text] = area.children;
  if (making.total) {
    bar.max = making.total;
    bar.value = making.done;
  }
  text.textContent = making.file
    ? `Making ${making.file}, ${Math.min(making.done + 1, making.total)} of ${making.total}`
    : "Making the files";
}

/** A slip that says what was made, and leads there. */
function told({ made: { folder, count } }) {
  const text = `Made ${count} files in ${folder}.`;
  say(text);
  const area = byId("making");
  const away = () => {
    area.hidden = true;
    area.replaceChildren();
  };
  area.hidden = false;
  area.replaceChildren(
    element("p", { text }),
    element(
      "div",
      { class: "slip-acts" },
      element("button", {
        type: "button",
        text: "Go to the files",
        onclick: () => {
          away();
          byId("files-title").focus();
        },
      }),
      element("button", { type: "button", text: "Dismiss", "aria-label": "Dismiss this message", onclick: away }),
    ),
  );
}

/** Files of one name, each format a link. */
function grouped(outputs) {
  const groups = new Map();
  for (const output of outputs) {
    const dot = output.file.lastIndexOf(".");
    const stem = dot > 0 ? output.file.slice(0, dot) : output.file;
    if (!groups.has(stem)) groups.set(stem, []);
    groups.get(stem).push({ ...output, format: dot > 0 ? output.file.slice(dot + 1) : "file" });
  }
  return [...groups].map(([stem, files]) => ({ stem, files }));
}

function files({ job, name }) {
  const outputs = job?.outputs ?? [];
  byId("files").hidden = outputs.length === 0;
  keep(
    byId("files-list"),
    grouped(outputs),
    (group) => group.stem,
    () => element("li"),
    (item, group) => {
      item.replaceChildren(
        element("span", { class: "stem", text: group.stem }),
        ...group.files.map((file) =>
          element("a", {
            href: jobPath(name, file.href),
            download: file.file,
            "aria-label": file.file,
            text: file.format,
          }),
        ),
      );
    },
  );
}

function buttons({ job, readOnly, making, link }) {
  for (const button of document.querySelectorAll("[data-edits]")) button.hidden = readOnly || !job;
  const up = link === "up";
  byId("undo").disabled = !job?.can_undo || !up;
  byId("redo").disabled = !job?.can_redo || !up;
  byId("make").disabled = !job || Boolean(making) || Boolean(job.error) || !up;
}

function keys(event) {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  if (event.target.closest("input[type=text], input[type=number]")) return;
  const key = event.key.toLowerCase();
  const way = key === "z" ? (event.shiftKey ? "redo" : "undo") : key === "y" ? "redo" : null;
  if (!way || byId(way).hidden) return;
  event.preventDefault();
  step(way);
}

export function mountMaking() {
  byId("make").addEventListener("click", begin);
  byId("undo").addEventListener("click", () => step("undo"));
  byId("redo").addEventListener("click", () => step("redo"));
  window.addEventListener("keydown", keys);
  watch(["making"], progress);
  watch(["made"], (state) => state.made && told(state));
  watch(["job", "name"], files);
  watch(["job", "readOnly", "making", "link"], buttons);
}
