// All talk with the server. Addresses are relative: the page lives below a token that nothing here needs to know.

/** What the server would not do, in its own words. */
export class Refused extends Error {
  constructor(status, said) {
    super(said.message || `The server answered ${status}.`);
    this.status = status;
    this.remedy = said.remedy || "";
  }
}

async function answer(response) {
  const said = await response.json().catch(() => ({}));
  if (!response.ok) throw new Refused(response.status, said);
  return said;
}

/** JSON from a path below the token; throws Refused, or TypeError when the server is out of reach. */
export const read = async (path) => answer(await fetch(path, { cache: "no-store" }));

/** Posts JSON, and gives back the answer. What is sent while the page is left arrives too. */
export async function post(path, body = {}) {
  const headers = { "Content-Type": "application/json" };
  return answer(await fetch(path, { method: "POST", headers, body: JSON.stringify(body), keepalive: true }));
}

export const jobPath = (job, rest = "") => `job/${encodeURIComponent(job)}${rest && `/${rest}`}`;

const EVENTS = ["changed", "findings", "error", "making", "made", "failed", "jobs"];
const AGAIN = 1500; // ms until a stream that the browser gave up is opened anew

/**
 * Listens to the server's events; `told(event, data)` hears them, `linked(up)` whether the line stands.
 * A browser tries again by itself where the line broke, but not where the server answered with an error.
 * A page that nobody sees hangs up: a browser has six lines to a server, and a stream keeps one of them.
 */
export function listen(told, linked) {
  let source = null;
  let waiting = null;
  const open = () => {
    source = new EventSource("events");
    source.addEventListener("open", () => linked(true));
    source.addEventListener("error", (event) => {
      // A server's own "error" event carries data; a broken line carries none.
      if (event.data !== undefined) return;
      linked(false);
      if (source.readyState === EventSource.CLOSED) waiting = window.setTimeout(open, AGAIN);
    });
    for (const name of EVENTS) {
      source.addEventListener(name, (event) => {
        if (event.data !== undefined) told(name, JSON.parse(event.data || "{}"));
      });
    }
  };
  const hangUp = () => {
    window.clearTimeout(waiting);
    source?.close();
    source = null;
  };
  const heed = () => {
    if (document.hidden) hangUp();
    else if (!source) open();
  };
  document.addEventListener("visibilitychange", heed);
  window.addEventListener("pagehide", hangUp);
  window.addEventListener("pageshow", heed);
  heed();
}
