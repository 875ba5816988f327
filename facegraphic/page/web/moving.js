// Moving a legend: by pointer, by arrow keys, by figures. It is written to the file once, when the hand rests.

import { offset, say } from "./dom.js";
import { refresh } from "./following.js";
import { complain } from "./notices.js";
import { jobPath, post } from "./server.js";
import { faceOf, now, set, wantedKey } from "./store.js";

const REST = 500; // ms without a key until a nudge is written
const STIR = 4; // px before a press becomes a drag

const tenth = (value) => Math.round(value * 10) / 10 + 0;
const hundredth = (value) => Math.round(value * 100) / 100 + 0;

let resting = null; // {timer, name, side, legend, nudge} while keys or figures wait to be written
let line = Promise.resolve(); // writes go one after the other

/** The nudge that a legend has or is to have. */
export const nudgeOf = (side, legend) => now().wanted[wantedKey(side, legend.key)]?.nudge ?? legend.nudge;

function want(side, key, nudge, version = null) {
  const { wanted, name } = now();
  set({ wanted: { ...wanted, [wantedKey(side, key)]: { nudge, version, name } } });
}

function forget(side, key) {
  const { [wantedKey(side, key)]: gone, ...wanted } = now().wanted;
  if (gone) set({ wanted });
}

const same = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]) < 0.005;

/** Writes what a legend is to have to the file of the job `name`, whichever is shown by then. */
function write({ name, side, legend, nudge }) {
  const key = wantedKey(side, legend.key);
  const stillWanted = () => now().name === name && now().wanted[key]?.nudge === nudge;
  line = line.then(async () => {
    const shown = now().name === name && faceOf(now().job, side)?.legends.find((one) => one.key === legend.key);
    if (same(nudge, (shown || legend).nudge)) {
      if (stillWanted()) forget(side, legend.key);
      return;
    }
    try {
      const { version } = await post(jobPath(name, "nudge"), { side, key: legend.key, nudge });
      if (stillWanted()) want(side, legend.key, nudge, version);
      say(`${legend.text}: ${offset(nudge)}`);
      if (now().name === name) await refresh(version);
    } catch (problem) {
      if (now().name === name) forget(side, legend.key);
      complain(problem);
    }
  });
  return line;
}

/** Writes at once what still waits; resolves when all is written. */
export function flush() {
  if (resting) {
    window.clearTimeout(resting.timer);
    const rested = resting;
    resting = null;
    write(rested);
  }
  return line;
}

// Whoever leaves the page, or looks away from it, has done with what is in hand.
window.addEventListener("pagehide", flush);
document.addEventListener("visibilitychange", () => document.hidden && flush());

/** Sets a legend's nudge; it is written when nothing more comes for a while. */
export function nudgeTo(side, legend, nudge) {
  const { name } = now();
  const going = resting && resting.name === name && resting.side === side && resting.legend.key === legend.key;
  if (going) window.clearTimeout(resting.timer);
  else flush();
  const wish = { name, side, legend, nudge: nudge.map(hundredth) };
  want(side, legend.key, wish.nudge);
  resting = { ...wish, timer: window.setTimeout(flush, REST) };
}

export function nudgeBy(side, legend, by) {
  const from = nudgeOf(side, legend);
  nudgeTo(side, legend, [from[0] + by[0], from[1] + by[1]]);
}

/** Escape: takes back what is not yet written, else lets go of the legend. */
export function letGo() {
  if (resting) {
    window.clearTimeout(resting.timer);
    forget(resting.side, resting.legend.key);
    resting = null;
    say("Taken back");
  } else {
    set({ held: null });
  }
}

/** Drags legends; a finger must have chosen one first, so that scrolling past moves nothing. */
export class Dragging {
  constructor(legends) {
    this.legends = legends;
    this.drag = null;
    this.ended = 0;
    window.addEventListener(
      "keydown",
      (event) => {
        if (event.key === "Escape" && this.drag) {
          event.preventDefault();
          event.stopPropagation();
          this.cancel();
        }
      },
      true,
    );
  }

  attach(made, key) {
    made.addEventListener("pointerdown", (event) => this.start(event, made, key));
    made.addEventListener("pointermove", (event) => this.move(event));
    made.addEventListener("pointerup", () => this.end());
    made.addEventListener("pointercancel", () => this.cancel());
    made.addEventListener("lostpointercapture", () => this.cancel());
  }

  /** Whether a drag has just ended, whose click is not meant as one. */
  justDragged() {
    return performance.now() - this.ended < 80;
  }

  start(event, made, key) {
    const { held, readOnly } = now();
    if (readOnly || event.button !== 0 || this.drag) return;
    if (event.pointerType === "touch" && held !== key) return;
    flush();
    const legend = this.legends.legend(key);
    const { side } = this.legends.shown;
    made.setPointerCapture(event.pointerId);
    this.drag = {
      made,
      name: now().name,
      side,
      legend,
      from: nudgeOf(side, legend),
      id: event.pointerId,
      x: event.clientX,
      y: event.clientY,
      stirred: false,
    };
  }

  move(event) {
    const drag = this.drag;
    if (!drag || event.pointerId !== drag.id) return;
    const right = event.clientX - drag.x,
      down = event.clientY - drag.y;
    if (!drag.stirred && Math.hypot(right, down) < STIR) return;
    if (!drag.stirred) {
      drag.stirred = true;
      drag.made.classList.add("dragged");
      set({ held: drag.legend.key });
    }
    const { scale, size } = this.legends.place;
    want(drag.side, drag.legend.key, [
      tenth(drag.from[0] + within(right / scale, drag.legend.x, size[0])),
      tenth(drag.from[1] + within(-down / scale, drag.legend.y, size[1])),
    ]);
  }

  end() {
    const drag = this.drop();
    if (!drag?.stirred) return;
    const { name, side, legend } = drag;
    write({ name, side, legend, nudge: nudgeOf(side, legend) });
  }

  cancel() {
    const drag = this.drop();
    if (!drag?.stirred) return;
    forget(drag.side, drag.legend.key);
    say("Taken back");
  }

  drop() {
    const drag = this.drag;
    this.drag = null;
    if (!drag) return null;
    drag.made.classList.remove("dragged");
    if (drag.stirred) this.ended = performance.now();
    if (drag.made.hasPointerCapture(drag.id)) drag.made.releasePointerCapture(drag.id);
    return drag;
  }
}

/** A way along an axis that keeps a legend's middle on the face. */
function within(way, from, size) {
  return Math.min(Math.max(way, -size / 2 - from), size / 2 - from);
}
