// The camera that goes round the box, and the lamp that goes with it. Matrices are column by column, as WebGL has them.

import { RADIANS, add, cross, dot, limit, unit } from "./box-meshes.js";

export const HOME = { azimuth: 24, elevation: 50, zoom: 1 };
const LOWEST = 4, HIGHEST = 89; // degrees: never under the table, never upside down
const FARTHEST = 0.6, NEAREST = 5; // zoom
const STAND = 4.7; // the camera's distance in radii of the box: a long lens
const ROOM = 0.88; // how much of the canvas the box may fill

/** A view within the limits: azimuth in (-180, 180], elevation above the table, zoom. */
export function held({ azimuth, elevation, zoom }) {
  return {
    azimuth: azimuth - 360 * Math.ceil((azimuth - 180) / 360),
    elevation: limit(elevation, LOWEST, HIGHEST),
    zoom: limit(zoom, FARTHEST, NEAREST),
  };
}

/** What a model takes up: its middle, its radius, and the corners of the boxes round its meshes. */
export function bounds(meshes) {
  const corners = meshes.flatMap(({ points }) => cornersOf(points));
  const ends = cornersOf(corners.flat()), low = ends[0], high = ends[7];
  const middle = low.map((value, i) => (value + high[i]) / 2);
  return { middle, corners, radius: Math.hypot(...add(high, low, -1)) / 2 };
}

/** The eight corners of the box round points that are strung together; the lowest first, the highest last. */
function cornersOf(points) {
  const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < points.length; i++) {
    low[i % 3] = Math.min(low[i % 3], points[i]);
    high[i % 3] = Math.max(high[i % 3], points[i]);
  }
  return Array.from({ length: 8 }, (_, i) => [0, 1, 2].map((axis) => (i >> axis & 1 ? high : low)[axis]));
}

/** The camera's place and axes for a view of something with these bounds. */
function placed({ azimuth, elevation }, { middle, radius }) {
  const a = azimuth * RADIANS, e = elevation * RADIANS;
  const right = [Math.cos(a), Math.sin(a), 0];
  const back = [Math.cos(e) * Math.sin(a), -Math.cos(e) * Math.cos(a), Math.sin(e)];
  const forward = back.map((value) => -value);
  return { position: add(middle, back, STAND * radius), right, forward, up: cross(right, forward) };
}

/** How far off the line of sight a box's corners are seen: left, up, right, down, in parts of the focal length. */
function outlined(eye, { corners }) {
  const ends = [Infinity, Infinity, -Infinity, -Infinity];
  for (const corner of corners) {
    const from = add(corner, eye.position, -1), depth = dot(from, eye.forward);
    const x = dot(from, eye.right) / depth, y = -dot(from, eye.up) / depth;
    ends[0] = Math.min(ends[0], x); ends[1] = Math.min(ends[1], y);
    ends[2] = Math.max(ends[2], x); ends[3] = Math.max(ends[3], y);
  }
  return ends;
}

/**
 * The focal length in pixels at which the box fills a canvas of this size as it is seen first. From where it is seen
 * larger, it steps back as far as it must to stay within.
 */
export function fitting(box, home, view, width, height) {
  const focals = [home, view].map((one) => {
    const [left, top, right, bottom] = outlined(placed(one, box), box);
    return Math.min(width / (right - left), height / (bottom - top));
  });
  return ROOM * Math.min(...focals);
}

/**
 * A pinhole camera: place, axes, focal length in pixels, where in the canvas of `width` × `height` its line of sight
 * ends (so that the box stays in the middle), and its matrix.
 */
export function camera(view, box, focal, width, height) {
  const eye = placed(view, box), { right, up, forward, position } = eye;
  const near = STAND * box.radius - 1.6 * box.radius, far = STAND * box.radius + 14 * box.radius;
  const x = (2 * focal) / width, y = (2 * focal) / height, z = (far + near) / (far - near);
  const ends = outlined(eye, box);
  const centre = [width / 2 - (focal * (ends[0] + ends[2])) / 2, height / 2 - (focal * (ends[1] + ends[3])) / 2];
  const shift = [(2 * centre[0]) / width - 1, 1 - (2 * centre[1]) / height];
  const across = right.map((value, i) => x * value + shift[0] * forward[i]);
  const high = up.map((value, i) => y * value + shift[1] * forward[i]);
  const column = (i) => [across[i], high[i], z * forward[i], forward[i]];
  const depth = dot(position, forward);
  const last = [-dot(position, across), -dot(position, high), -z * depth - (2 * far * near) / (far - near), -depth];
  return { ...eye, focal, centre, width, height, matrix: new Float32Array([...column(0), ...column(1), ...column(2), ...last]) };
}

/** Where a camera sees a point: pixels from the canvas's upper left corner. */
export function projected({ position, right, up, forward, focal, centre }, point) {
  const from = add(point, position, -1), depth = dot(from, forward);
  return { x: centre[0] + (focal * dot(from, right)) / depth, y: centre[1] - (focal * dot(from, up)) / depth };
}

/** The lamp over the viewer's left shoulder: the direction to it, and the matrix of its view of the box. */
export function lamp(azimuth, { middle, radius }) {
  const a = azimuth * RADIANS, right = [Math.cos(a), Math.sin(a), 0], toViewer = [Math.sin(a), -Math.cos(a), 0];
  const toLamp = unit(add(add([0, 0, 1.15], right, -0.72), toViewer, 0.12));
  const side = unit(cross([0, 0, 1], toLamp)), over = cross(toLamp, side), reach = radius * 1.05;
  const column = (i) => [side[i] / reach, over[i] / reach, -toLamp[i] / reach, 0];
  const last = [-dot(middle, side) / reach, -dot(middle, over) / reach, dot(middle, toLamp) / reach, 1];
  return { toLamp, reach, matrix: new Float32Array([...column(0), ...column(1), ...column(2), ...last]) };
}
