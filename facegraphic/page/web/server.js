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
export const read = async (path, signal) => answer(await fetch(path, { signal, cache: "no-store" }));

/** Posts JSON, and gives back the answer. */
export async function post(path, body = {}) {
  const headers = { "Content-Type": "application/json" };
  return answer(await fetch(path, { method: "POST", headers, body: JSON.stringify(body) }));
}

/** A picture, decoded: drawing it takes no time, so that one picture takes another's place without a blink. */
export async function picture(path, signal) {
  const response = await fetch(path, { signal });
  if (!response.ok) throw new Refused(response.status, await response.json().catch(() => ({})));
  return createImageBitmap(await response.blob());
}

export const jobPath = (job, rest = "") => `job/${encodeURIComponent(job)}${rest && `/${rest}`}`;

const EVENTS = ["changed", "findings", "error", "making", "made", "failed", "jobs"];
const AGAIN = 1500; // ms until a stream that the browser gave up is opened anew

/**
 * Listens to the server's events; `told(event, data)` hears them, `linked(up)` whether the line stands.
 * A browser tries again by itself where the line broke, but not where the server answered with an error.
 */
export function listen(told, linked) {
  let source = null;
  const open = () => {
    source = new EventSource("events");
    source.addEventListener("open", () => linked(true));
    source.addEventListener("error", (event) => {
      // A server's own "error" event carries data; a broken line carries none.
      if (event.data !== undefined) return;
      linked(false);
      if (source.readyState === EventSource.CLOSED) window.setTimeout(open, AGAIN);
    });
    for (const name of EVENTS) {
      source.addEventListener(name, (event) => {
        if (event.data !== undefined) told(name, JSON.parse(event.data || "{}"));
      });
    }
  };
  open();
  window.addEventListener("pagehide", () => source.close());
}
