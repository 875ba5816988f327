// Rulers along a face: millimetres from its middle, as the job file counts them.

import { drawn } from "./dom.js";

const LONG = 11,
  MIDDLE = 8,
  SHORT = 4; // px

function ruler(scale, half, tick) {
  const every = scale >= 3.5 ? 1 : 5;
  const named = scale >= 2.6 ? 10 : 20;
  for (let at = -Math.floor(half / every) * every; at <= half; at += every) {
    const length = at % 10 === 0 ? LONG : at % 5 === 0 ? MIDDLE : SHORT;
    tick(at, length, at % named === 0 && Math.abs(at) <= half - 2 ? String(at).replace("-", "−") : null);
  }
}

/** The ruler along the upper edge, as an SVG of a height in px. */
export function across(place, depth) {
  const made = drawn("svg", { class: "ruler across", width: place.width, height: depth, "aria-hidden": "true" });
  ruler(place.scale, place.size[0] / 2, (at, length, name) => {
    const x = place.x(at);
    made.append(drawn("path", { d: `M${x.toFixed(2)} ${depth}v${-length}` }));
    if (name) made.append(drawn("text", { x: x.toFixed(2), y: depth - LONG - 3, "text-anchor": "middle" }, name));
  });
  made.append(drawn("path", { class: "here", d: `M0 ${depth}v${-depth + 2}`, visibility: "hidden" }));
  return made;
}

/** The ruler along the left edge. */
export function upright(place, depth) {
  const made = drawn("svg", { class: "ruler upright", width: depth, height: place.height, "aria-hidden": "true" });
  ruler(place.scale, place.size[1] / 2, (at, length, name) => {
    const y = place.y(at);
    made.append(drawn("path", { d: `M${depth} ${y.toFixed(2)}h${-length}` }));
    if (name) made.append(drawn("text", { x: depth - LONG - 3, y: (y + 3.5).toFixed(2), "text-anchor": "end" }, name));
  });
  made.append(drawn("path", { class: "here", d: `M${depth} 0h${-depth + 2}`, visibility: "hidden" }));
  return made;
}

/** Shows on both rulers where the pointer is, or with null takes the hairs away. */
export function follow(rulers, at) {
  const [top, left] = rulers;
  for (const [ruled, axis] of [
    [top, "x"],
    [left, "y"],
  ]) {
    const hair = ruled.querySelector(".here");
    hair.setAttribute("visibility", at ? "visible" : "hidden");
    if (at) hair.setAttribute("transform", axis === "x" ? `translate(${at.x} 0)` : `translate(0 ${at.y})`);
  }
}
