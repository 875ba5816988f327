// Following the file: the server says that something has changed, and the state is read anew.

import { complain } from "./notices.js";
import { jobPath, listen, read } from "./server.js";
import { now, set } from "./store.js";

let reading = null;
let more = false;

/** Reads the job's state, unless it is as new as `version` already; calls that come meanwhile share one reading. */
export function refresh(version = 0) {
  if (version && (now().job?.version ?? -1) >= version) return Promise.resolve();
  if (reading) {
    more = true;
    return reading;
  }
  reading = (async () => {
    do {
      more = false;
      await bring();
    } while (more);
  })().finally(() => {
    reading = null;
  });
  return reading;
}

async function bring() {
  const { name } = now();
  if (!name) return;
  let job;
  try {
    job = await read(jobPath(name));
  } catch (problem) {
    complain(problem);
    return;
  }
  if (now().name !== name) {
    more = true;
    return;
  }
  const { finding, tab, coat } = now();
  const sides = job.faces.map((face) => face.side);
  set({
    job,
    finding: finding && (job.findings.find((one) => alike(one, finding)) ?? null),
    tab: tab === "sheets" || sides.includes(tab) ? tab : (sides[0] ?? null),
    coat: coat !== null && coat <= job.coats ? coat : null,
  });
  document.title = `${job.title || job.name} · facegraphic`;
}

const alike = (a, b) =>
  a.code === b.code && a.side === b.side && a.message === b.message && String(a.at) === String(b.at);

/** Shows another job of the folder. */
export function open(name) {
  if (name === now().name) return Promise.resolve();
  set({ name, job: null, tab: null, coat: null, held: null, wanted: {}, finding: null, making: null, made: null });
  history.replaceState(null, "", `#${encodeURIComponent(name)}`);
  return refresh();
}

/** Reads which jobs there are; stays with the one shown while it is there. */
export async function readJobs() {
  let found;
  try {
    found = await read("jobs");
  } catch (problem) {
    complain(problem);
    return;
  }
  set({ jobs: found.jobs, readOnly: found.read_only });
  const names = found.jobs.map((job) => job.name);
  if (names.includes(now().name)) return;
  const asked = decodeURIComponent(location.hash.slice(1));
  const first = names.includes(asked) ? asked : names[0];
  if (first) await open(first);
}

function told(event, about) {
  const mine = about.job === undefined || about.job === now().name;
  const known = now().jobs.find((job) => job.name === about.job);
  if (event === "jobs" || event === "error" || (event === "changed" && known && !known.ok)) readJobs();
  if (!mine) return;
  if (event === "changed") refresh(about.version);
  else if (event === "findings" || event === "error") refresh();
  else if (event === "making") set({ making: about });
  else if (event === "made") made(about);
  else if (event === "failed") failed(about);
}

async function made(about) {
  await refresh();
  set({ making: null, made: { folder: about.folder, count: now().job?.outputs.length ?? 0 } });
}

function failed({ problems }) {
  set({ making: null });
  const [first] = problems;
  complain({ message: `Nothing was made: ${first.message}`, remedy: first.remedy });
}

/** A line that stands anew knows nothing of what was told meanwhile: all is read again. */
function linked(up) {
  set({ link: up ? "up" : "lost" });
  if (!up) return;
  set({ making: null }); // the end of it may have been missed; if it goes on, that is told
  readJobs().then(() => refresh());
}

export function follow() {
  listen(told, linked);
  window.addEventListener("hashchange", () => {
    const name = decodeURIComponent(location.hash.slice(1));
    if (now().jobs.some((job) => job.name === name)) open(name);
  });
}
