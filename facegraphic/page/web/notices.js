// Slips at the foot of the window, which move nothing else: a lost line, what was refused, faults in the file.

import { byId, element, keep, say } from "./dom.js";
import { now, watch } from "./store.js";

/** Tells what went wrong with something that was asked for, until it is dismissed or the next thing works. */
export function complain(problem) {
  if (problem instanceof TypeError) return; // out of reach: the lost line is told already
  byId("refused").replaceChildren(
    element(
      "div",
      { class: "slip bad" },
      element(
        "p",
        {},
        element("strong", { text: sentence(problem.message) }),
        problem.remedy ? ` ${sentence(problem.remedy)}` : "",
      ),
      element("button", { type: "button", text: "Dismiss", "aria-label": "Dismiss this message", onclick: quiet }),
    ),
  );
}

export const quiet = () => byId("refused").replaceChildren();

/** A message as a sentence: they come in small letters, as lists on a terminal have them; a file keeps its name. */
export function sentence(text) {
  const upper = /^\S+\.\w+(?=[\s:])/.test(text) ? text : text.charAt(0).toUpperCase() + text.slice(1);
  return /[.!?…]$/.test(upper) ? upper : `${upper}.`;
}

function lost({ link }, before) {
  const gone = link === "lost";
  byId("lost").replaceChildren(
    ...(gone
      ? [
          element(
            "div",
            { class: "slip bad" },
            element(
              "p",
              {},
              element("strong", { text: "The line to facegraphic is lost." }),
              " Trying again. If it was stopped, start facegraphic show once more and open the address that it prints.",
            ),
          ),
        ]
      : []),
  );
  if (before.link === "lost" && link === "up") say("The line to facegraphic stands again");
}

function place(fault, file) {
  const parts = [fault.file || file];
  if (fault.line) parts.push(`line ${fault.line}`);
  if (fault.key) parts.push(fault.key);
  return parts;
}

function faults({ job }, { job: before }) {
  const area = byId("faults");
  const all = job?.error ?? [];
  area.hidden = all.length === 0;
  if (all.length === 0) {
    if (before?.error?.length && before.name === job?.name) say("The file is in order again");
    area.replaceChildren();
    return;
  }
  const count = all.length === 1 ? "a fault" : `${all.length} faults`;
  const head = `${job.file} has ${count}.`;
  if (!area.firstChild) {
    area.append(
      element(
        "details",
        { open: true },
        element("summary", {}, element("h2")),
        element("p", { class: "small" }),
        element("ol", { class: "fault-list" }),
      ),
    );
  }
  const [title, note, list] = area.querySelectorAll("h2, p.small, ol");
  title.textContent = head;
  note.textContent = job.faces.length
    ? "What you see is how it last was in order."
    : "There is nothing to show before it is mended.";
  keep(
    list,
    all.map((fault, index) => ({ ...fault, index })),
    (fault) => fault.index,
    () => element("li"),
    (item, fault) => {
      item.replaceChildren(
        element(
          "p",
          { class: "fault-place" },
          ...place(fault, job.file).map((part) => element("span", { text: part })),
        ),
        element(
          "p",
          {},
          element("strong", { text: sentence(fault.message) }),
          fault.remedy ? ` ${sentence(fault.remedy)}` : "",
        ),
      );
    },
  );
  const told = JSON.stringify(all);
  if (told !== JSON.stringify(before?.error ?? null)) say(`${head} ${sentence(all[0].message)}`);
}

function following({ link, readOnly, job }) {
  const line = byId("follow");
  line.className = `follow ${link === "lost" ? "bad" : job?.error ? "stale" : link}`;
  const seeing = readOnly ? "Read only" : "Following the file";
  byId("follow-text").textContent =
    link === "lost" ? "Line lost" : link === "opening" ? "Opening" : job?.error ? "Last good picture" : seeing;
  line.title = readOnly ? "This page shows the box and changes nothing." : "";
}

export function mountNotices() {
  watch(["link"], lost);
  watch(["job"], faults);
  watch(["link", "readOnly", "job"], following);
  following(now());
}
