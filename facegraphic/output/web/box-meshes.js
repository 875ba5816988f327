// Meshes as preview/packed.py wrote them, and what darkens a face near the parts over it.

import { MOST_LAMPS } from "./box-shaders.js";

const GRAIN = 0.5; // mm a pixel of what darkens round parts

export const SIDES = ["top", "back", "front", "left", "right"];
export const RADIANS = Math.PI / 180;
export const add = (a, b, k = 1) => [a[0] + k * b[0], a[1] + k * b[1], a[2] + k * b[2]];
export const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
export const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
export const unit = (a) => { const n = Math.hypot(...a); return [a[0] / n, a[1] / n, a[2] / n]; };
export const limit = (value, low, high) => Math.min(high, Math.max(low, value));
export const linear = (level) => (level <= 0.04045 ? level / 12.92 : ((level + 0.055) / 1.055) ** 2.4);
export const light = (colour) => [1, 3, 5].map((at) => linear(parseInt(colour.slice(at, at + 2), 16) / 255));

function bytes(text) {
  return Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)).buffer;
}

/** One mesh as preview/packed.py wrote it, in plain arrays. */
export function unpacked(mesh, { low, step }) {
  const counts = new Uint16Array(bytes(mesh.points));
  const points = Float32Array.from(counts, (count, i) => low[i % 3] + count * step[i % 3]);
  const normals = Float32Array.from(new Int8Array(bytes(mesh.normals)), (value) => value / 127);
  const triangles = mesh.wide ? new Uint32Array(bytes(mesh.triangles)) : new Uint16Array(bytes(mesh.triangles));
  const onFace = mesh.on_face ? new Float32Array(bytes(mesh.on_face)) : null;
  return { ...mesh, points, normals, triangles, onFace };
}

/** Where a point lies over a face: its x, its y, its height. */
export function overFace(pose, point) {
  const from = add(point, pose.centre, -1);
  return [dot(from, pose.right), dot(from, pose.up), dot(from, pose.out)];
}

/** The box round a face's points: x0, y0, x1, y1. */
export function extentOf(meshes) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const { onFace } of meshes) {
    for (let i = 0; i < onFace.length; i += 2) {
      box[0] = Math.min(box[0], onFace[i]); box[2] = Math.max(box[2], onFace[i]);
      box[1] = Math.min(box[1], onFace[i + 1]); box[3] = Math.max(box[3], onFace[i + 1]);
    }
  }
  return meshes.length ? box : [0, 0, 1, 1];
}

/** Blur rows, then columns, by a running mean that is run twice: near enough to a bell. */
function blurred(from, width, height, radius) {
  let field = from;
  for (let pass = 0; pass < 4; pass++) {
    const along = pass % 2 === 0, out = new Float32Array(field.length);
    const [lines, count, step, jump] = along ? [height, width, 1, width] : [width, height, width, 1];
    for (let line = 0; line < lines; line++) {
      const get = (i) => field[line * jump + limit(i, 0, count - 1) * step];
      let sum = 0;
      for (let i = -radius; i <= radius; i++) sum += get(i);
      for (let i = 0; i < count; i++) {
        out[line * jump + i * step] = sum / (2 * radius + 1);
        sum += get(i + radius + 1) - get(i - radius);
      }
    }
    field = out;
  }
  return field;
}

/** How light a face stays near the parts over it (0 to 255, rows from the top): parts close to it darken it most. */
export function nearness(pose, extent, parts) {
  const width = Math.max(2, Math.ceil((extent[2] - extent[0]) / GRAIN));
  const height = Math.max(2, Math.ceil((extent[3] - extent[1]) / GRAIN));
  const close = new Float32Array(width * height), far = new Float32Array(width * height);
  for (const { points, triangles } of parts) {
    const over = [];
    for (let i = 0; i < points.length; i += 3) {
      const [x, y, h] = overFace(pose, [points[i], points[i + 1], points[i + 2]]);
      over.push([(x - extent[0]) / GRAIN, (extent[3] - y) / GRAIN, h]);
    }
    for (let i = 0; i < triangles.length; i += 3) {
      fill(close, far, width, height, [over[triangles[i]], over[triangles[i + 1]], over[triangles[i + 2]]]);
    }
  }
  const tight = blurred(close, width, height, 2), wide = blurred(far, width, height, 7);
  return { width, height, levels: Uint8Array.from(tight, (value, i) => 255 * (1 - 0.5 * value) * (1 - 0.5 * wide[i])) };
}

function fill(close, far, width, height, [a, b, c]) {
  const low = Math.min(a[2], b[2], c[2]);
  const area = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1]);
  if (low < -0.5 || Math.abs(area) < 1e-6) return;
  const x0 = Math.max(0, Math.floor(Math.min(a[0], b[0], c[0]))), x1 = Math.min(width - 1, Math.max(a[0], b[0], c[0]));
  const y0 = Math.max(0, Math.floor(Math.min(a[1], b[1], c[1]))), y1 = Math.min(height - 1, Math.max(a[1], b[1], c[1]));
  for (let y = y0; y <= y1; y++) {
    for (let x = x0; x <= x1; x++) {
      const px = x + 0.5, py = y + 0.5;
      const u = ((b[0] - px) * (c[1] - py) - (c[0] - px) * (b[1] - py)) / area;
      const v = ((c[0] - px) * (a[1] - py) - (a[0] - px) * (c[1] - py)) / area;
      if (u < -0.01 || v < -0.01 || u + v > 1.01) continue;
      if (low < 3) close[y * width + x] = 1;
      far[y * width + x] = Math.max(far[y * width + x], 1 / (1 + low / 10));
    }
  }
}

/** The face that a part stands on: the one that it stands out from furthest. */
function standsOn(poses, { points }) {
  const middle = [0, 0, 0];
  for (let i = 0; i < points.length; i++) middle[i % 3] += (3 * points[i]) / points.length;
  return SIDES.map((side) => poses[side]).sort((a, b) => overFace(b, middle)[2] - overFace(a, middle)[2])[0];
}

/** How light a point of a part stays: darker close to its face, unless it looks away from it. */
function openness(pose, point, normal) {
  const height = Math.max(0, overFace(pose, point)[2]);
  return 1 - 0.5 * (1 - Math.max(0, dot(normal, pose.out))) * Math.exp(-height / 4);
}

/** What glows: its middle, and the light that it throws, by holes. */
function glowing(meshes, materials) {
  const found = new Map();
  for (const { points, material, hole } of meshes) {
    const { glow, colour } = materials[material];
    if (!glow) continue;
    const at = [0, 0, 0];
    for (let i = 0; i < points.length; i++) at[i % 3] += (3 * points[i]) / points.length;
    found.set(hole ?? found.size, { at, colour: light(colour).map((value) => value * glow) });
  }
  return [...found.values()].slice(0, MOST_LAMPS);
}

/**
 * All meshes of a model as one set of vertices (place, normal, place on the face, colour, nature: rough, metal, glow,
 * openness) and triangles; `ranges` are what is drawn at a time: all that is not worn, then each side. `shell` stands
 * in for the shell's own material where it is given; without `fitted` parts are left out.
 */
export function merged(model, shell, fitted) {
  const { materials, poses } = model, meshes = model.meshes.filter(({ hole }) => fitted || hole === undefined);
  const parts = meshes.filter(({ hole }) => hole !== undefined);
  const order = [...meshes.filter(({ side }) => !side), ...SIDES.flatMap((side) => meshes.filter((mesh) => mesh.side === side))];
  const vertices = [], indices = [], ranges = [];
  for (const mesh of order) {
    const { points, normals, triangles, onFace, side, material } = mesh, first = vertices.length / 15;
    const of = material === model.shell && shell ? { glow: 0, metal: 0, ...shell } : materials[material];
    const colour = light(of.colour), pose = parts.includes(mesh) ? standsOn(poses, mesh) : null;
    for (let i = 0; i < points.length / 3; i++) {
      const point = points.slice(3 * i, 3 * i + 3), normal = normals.slice(3 * i, 3 * i + 3);
      const open = pose ? openness(pose, point, normal) : 1;
      vertices.push(...point, ...normal, onFace?.[2 * i] ?? 0, onFace?.[2 * i + 1] ?? 0, ...colour);
      vertices.push(of.rough, of.metal, of.glow, open);
    }
    if (!ranges.length || ranges.at(-1).side !== side) ranges.push({ side, start: indices.length, count: 0 });
    for (const corner of triangles) indices.push(first + corner);
    ranges.at(-1).count += triangles.length;
  }
  const lamps = glowing(meshes, materials);
  return { vertices: new Float32Array(vertices), indices: new Uint32Array(indices), ranges, lamps, parts };
}
