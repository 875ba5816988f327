// Whose box it is, and the other jobs of the folder.

import { byId, element, keep } from "./dom.js";
import { open } from "./following.js";
import { now, watch } from "./store.js";

const menu = byId("jobs");

function choose(name) {
  menu.open = false;
  menu.querySelector("summary").focus();
  open(name);
}

function list({ jobs, name }) {
  menu.hidden = jobs.length < 2;
  byId("jobs-count").textContent = `${jobs.length} jobs`;
  keep(
    byId("jobs-list"),
    jobs,
    (job) => job.name,
    (job) =>
      element(
        "li",
        {},
        element(
          "button",
          { type: "button", onclick: () => choose(job.name) },
          element("span", { class: "job-title" }),
          element("span", { class: "job-name" }),
          element("span", { class: "job-state" }),
        ),
      ),
    (item, job) => {
      const [title, file, state] = item.firstChild.children;
      title.textContent = job.title || job.name;
      file.textContent = `${job.name}.toml`;
      state.textContent = job.ok ? "" : "has faults";
      if (job.name === name) item.firstChild.setAttribute("aria-current", "true");
      else item.firstChild.removeAttribute("aria-current");
    },
  );
}

function heading({ job, name, jobs, link }) {
  const known = jobs.find((one) => one.name === name);
  byId("title").textContent = job?.title || known?.title || name || "facegraphic";
  byId("file").textContent = job?.file ?? (link === "up" && !jobs.length ? "There is no job in this folder." : "");
}

export function mountJobs() {
  watch(["jobs", "name"], list);
  watch(["job", "name", "jobs", "link"], heading);
  menu.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && menu.open) {
      menu.open = false;
      menu.querySelector("summary").focus();
    }
  });
  document.addEventListener("pointerdown", (event) => {
    if (menu.open && !menu.contains(event.target)) menu.open = false;
  });
  heading(now());
}
