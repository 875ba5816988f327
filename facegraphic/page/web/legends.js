// Legends as things to take hold of: one stop for the Tab key, arrows from one to the next, Enter takes hold.

import { element, keep, offset } from "./dom.js";
import { Dragging, nudgeBy, letGo } from "./moving.js";
import { now, set, wantedKey } from "./store.js";

const SMALLEST = 24; // px, for fingers
const AROUND = 0.35; // mm of ground taken along with a legend's own picture
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

const reading = (a, b) => (Math.abs(a.y - b.y) > 1.5 ? b.y - a.y : a.x - b.x);

/** A legend's words for people: what it is and whose. */
export function named(legend) {
  const text = legend.text.replaceAll("\n", " ");
  return legend.hole ? `${text}, ${legend.role} of ${legend.hole}` : `${text}, ${legend.role}`;
}

export class Legends {
  constructor() {
    this.root = element("div", {
      class: "legends",
      role: "group",
      "aria-label": "Legends",
      "aria-describedby": "hand-hint",
    });
    this.root.addEventListener("keydown", (event) => this.onKey(event));
    this.root.addEventListener("focusout", (event) => this.onLeave(event));
    this.pressed = false;
    for (const kind of ["pointerdown", "pointerup", "pointercancel"]) {
      window.addEventListener(kind, () => (this.pressed = kind === "pointerdown"), true);
    }
    this.dragging = new Dragging(this);
    this.shown = null;
    this.place = null;
    this.at = null; // key of the legend that Tab comes to
  }

  /** Brings the buttons in line with what is on the stage. */
  show(shown, place) {
    this.shown = shown;
    this.place = place;
    const movable = shown.coat === null ? shown.face.legends.filter((legend) => legend.key !== null) : [];
    this.order = [...movable].sort(reading);
    if (!this.order.some((legend) => legend.key === this.at)) this.at = this.order[0]?.key ?? null;
    this.root.hidden = this.order.length === 0;
    keep(
      this.root,
      this.order,
      (legend) => legend.key,
      (legend) => this.create(legend),
      (one, legend) => this.update(one, legend),
    );
  }

  create(legend) {
    const made = element(
      "button",
      { type: "button", class: "legend" },
      element("span", { class: "home" }),
      element("canvas", { "aria-hidden": "true" }),
      element("span", { class: "edge" }),
    );
    made.addEventListener("click", (event) => this.onClick(event, legend.key));
    made.addEventListener("focus", () => this.come(legend.key));
    this.dragging.attach(made, legend.key);
    return made;
  }

  update(made, legend) {
    const { held, wanted, readOnly } = now();
    const { scale } = this.place;
    const wish = wanted[wantedKey(this.shown.side, legend.key)];
    const nudge = wish?.nudge ?? legend.nudge;
    const moved = [nudge[0] - legend.nudge[0], nudge[1] - legend.nudge[1]];
    const off = Math.hypot(...moved) > 1e-6;
    const width = Math.max(legend.w * scale + 8, SMALLEST),
      height = Math.max(legend.h * scale + 8, SMALLEST);
    made.style.left = `${this.place.x(legend.x + moved[0])}px`;
    made.style.top = `${this.place.y(legend.y + moved[1])}px`;
    made.style.width = `${width}px`;
    made.style.height = `${height}px`;
    made.classList.toggle("off", off);
    made.classList.toggle("fixed", readOnly);
    made.setAttribute("aria-pressed", String(held === legend.key));
    made.setAttribute("aria-label", `${named(legend)}, ${offset(nudge)}`);
    made.tabIndex = legend.key === this.at ? 0 : -1;
    this.lift(made, legend, off ? moved : null);
  }

  /** While a legend is away from where the picture has it, its own piece of the picture goes with it. */
  lift(made, legend, moved) {
    const [home, copy, edge] = made.children;
    const { scale } = this.place;
    const width = legend.w + 2 * AROUND,
      height = legend.h + 2 * AROUND;
    for (const part of [home, copy, edge]) {
      part.style.width = `${width * scale}px`;
      part.style.height = `${height * scale}px`;
    }
    if (!moved) return;
    home.style.transform = `translate(calc(-50% - ${moved[0] * scale}px), calc(-50% + ${moved[1] * scale}px))`;
    const dense = window.devicePixelRatio || 1;
    const { image, face } = this.shown;
    const perMm = image.naturalWidth / face.size[0];
    const left = (legend.x - width / 2 + face.size[0] / 2) * perMm;
    const upper = (face.size[1] / 2 - legend.y - height / 2) * perMm;
    copy.width = Math.round(width * scale * dense);
    copy.height = Math.round(height * scale * dense);
    const pen = copy.getContext("2d");
    pen.imageSmoothingQuality = "high";
    pen.drawImage(image, left, upper, width * perMm, height * perMm, 0, 0, copy.width, copy.height);
  }

  legend(key) {
    return this.shown?.face.legends.find((one) => one.key === key);
  }

  /** Tab comes back to the legend that was last come to. */
  come(key) {
    this.at = key;
    for (const one of this.root.children) one.tabIndex = one.dataset.key === key ? 0 : -1;
  }

  focus(key) {
    [...this.root.children].find((one) => one.dataset.key === key)?.focus();
  }

  onClick(event, key) {
    if (this.dragging.justDragged()) return;
    const { held } = now();
    // A click from the keyboard has no detail: there Enter also lets go again.
    if (held === key && event.detail === 0) letGo();
    else set({ held: key });
  }

  onKey(event) {
    const { held, readOnly } = now();
    const step = ARROWS[event.key];
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape" && held) {
      event.preventDefault();
      letGo();
    } else if (step && held && held === this.at && !readOnly) {
      event.preventDefault();
      const by = event.shiftKey ? 1 : 0.1;
      nudgeBy(this.shown.side, this.legend(held), [step[0] * by, step[1] * by]);
    } else if (step || event.key === "Home" || event.key === "End") {
      event.preventDefault();
      this.go(event.key, step);
    }
  }

  go(key, step) {
    const last = this.order.length - 1;
    const here = this.order.findIndex((legend) => legend.key === this.at);
    const ways = { Home: 0, End: last };
    const forward = step && (step[0] > 0 || step[1] < 0);
    const next = ways[key] ?? Math.min(Math.max(here + (forward ? 1 : -1), 0), last);
    this.focus(this.order[next].key);
  }

  /**
   * Going on with Tab lets go of a legend, but not going to the panel that tells of it. A press elsewhere lets go once
   * its click is through: the panel shrinks then, and what was pressed below would move away from under the finger.
   */
  onLeave(event) {
    const to = event.relatedTarget;
    if (!to || this.root.contains(to) || to.closest("#hand")) return;
    const { held } = now();
    const letGo = () => now().held === held && document.activeElement === to && set({ held: null });
    const soon = () => window.setTimeout(letGo);
    if (this.pressed) window.addEventListener("pointerup", soon, { once: true });
    else soon();
  }
}
