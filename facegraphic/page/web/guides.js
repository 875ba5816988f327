// Lines that show while a legend is in hand what it stands in line with: its own hole, other legends of its row.

import { drawn } from "./dom.js";

const NEAR = 0.055; // mm: dragging goes by tenths

/** Lines over a face (mm, y down) for a legend standing at `at` (mm, y up). */
export function guides(face, legend, at) {
  const [w, h] = face.size;
  const hole = face.holes.find((one) => one.id === legend.hole);
  const lines = [];
  if (hole && Math.abs(hole.x - at[0]) < NEAR) lines.push([hole.x, -h / 2, hole.x, h / 2]);
  const row = face.legends.find((one) => one !== legend && one.role === legend.role && Math.abs(one.y - at[1]) < NEAR);
  if (row) lines.push([-w / 2, -row.y, w / 2, -row.y]);
  return lines.flatMap(([x1, y1, x2, y2]) =>
    ["under", "guide"].map((kind) => drawn("line", { class: kind, x1, y1, x2, y2 })),
  );
}
