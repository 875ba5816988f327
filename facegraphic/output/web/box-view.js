// The finished box, turning on a table. Plain WebGL 2; nothing is drawn while nothing changes.
//
// Box space as in preview/model.py: mm, x right, y away from the user, z up, the table at z = 0. The camera goes round
// the box and the lamps go with it, as on a turntable, so that the side in sight is always well lit.

import { HOME, bounds, camera, fitting, held, lamp, projected } from "./box-camera.js";
import { hands } from "./box-hands.js";
import { bind, buffers, dressed, grey, program, shadow } from "./box-gl.js";
import { SIDES, add, extentOf, light, merged, nearness, unpacked } from "./box-meshes.js";
import { BODY_FRAGMENT, BODY_VERTEX, RING_FRAGMENT, RING_VERTEX } from "./box-shaders.js";
import { SHADE_FRAGMENT, SHADE_VERTEX, TABLE_FRAGMENT, TABLE_VERTEX } from "./box-shaders.js";

const SHADE_PIXELS = 1024;
const GLIDE = 380; // ms
const UNITS = { shade: 0, look: 1, film: 2, near: 3 };
const FACING = { top: [0, 78], front: [0, 24], back: [180, 24], left: [-90, 24], right: [90, 24] };
const STRIDE = 60; // bytes a vertex: place, normal, place on the face, colour, nature
const LAYOUT = [[3, 0], [3, 12], [2, 24], [3, 32], [4, 44]];

/**
 * A box in a canvas. Throws where there is no WebGL 2.
 *
 * options: azimuth, elevation (the first view, degrees; by default the model's own); turned(view), lost(), back():
 * told when the view changes, when the browser takes the drawing context away, and when it is there again.
 */
export class BoxView {
  #gl; #gpu = null; #model = null; #looks = new Map(); #shell = null; #parts = true; #ring = null; #stale = false;
  #view; #first; #asked = 0; #gliding = 0; #lay; #quiet; #watch; #ends = new AbortController();
  frames = 0; // drawn so far

  constructor(canvas, options = {}) {
    this.canvas = canvas;
    this.options = options;
    this.#gl = canvas.getContext("webgl2", { antialias: true, alpha: true, powerPreference: "low-power" });
    if (!this.#gl) throw new Error("this browser has no WebGL 2");
    this.#first = held({ ...HOME, ...options });
    this.#view = this.#first;
    this.#quiet = matchMedia("(prefers-reduced-motion: reduce)");
    this.#lay = hands(canvas, this, () => this.#quiet.matches);
    const signal = this.#ends.signal;
    canvas.addEventListener("webglcontextlost", (event) => {
      event.preventDefault();
      this.#gpu = null;
      options.lost?.();
    }, { signal });
    canvas.addEventListener("webglcontextrestored", () => { this.#build(); options.back?.(); }, { signal });
    this.#watch = new ResizeObserver(() => this.#ask());
    this.#watch.observe(canvas);
  }

  /** Show a model: what preview/packed.py gives, as parsed JSON. Looks stay as they are. */
  load(model) {
    const meshes = model.meshes.map((mesh) => unpacked(mesh, model.grid));
    const worn = meshes.filter((mesh) => mesh.side);
    const extents = Object.fromEntries(SIDES.map((side) => [side, extentOf(worn.filter((mesh) => mesh.side === side))]));
    this.#model = { ...model, meshes, extents, box: bounds(meshes), shell: worn[0]?.material };
    const untouched = this.#view === this.#first;
    this.#first = held({ ...HOME, ...model.seen_from, ...this.options });
    if (untouched) this.#look(this.#first);
    this.#build();
  }

  /**
   * Dress a side in a picture (anything that texImage2D takes; null: bare). `extent` is the part of the face that it
   * fills (x0, y0, x1, y1 in face mm; by default the box round the face), `film` a grey picture of where film shines.
   */
  look(side, picture, { extent = null, film = null } = {}) {
    if (picture) this.#looks.set(side, { picture, extent, film });
    else this.#looks.delete(side);
    if (this.#gpu) this.#dress(side);
    this.#ask();
  }

  /** What the shell wears beside the looks: { colour, rough, metal }, or null for what the model says. */
  shell(material) {
    this.#shell = material;
    this.#stale = true;
    this.#ask();
  }

  /** Whether parts stand in the holes. */
  parts(shown) {
    this.#parts = shown;
    this.#stale = true;
    this.#ask();
  }

  /**
   * Ring a place on a side (face mm), turning the box so that it is seen; point(null) takes the ring away. With a
   * `size` (mm) it is a frame, as for a whole face.
   */
  point(side, x = 0, y = 0, { radius = 6, size = [2 * radius, 2 * radius], colour = "#ffb000" } = {}) {
    const reach = size.map((length) => length / 2), shown = light(colour).map((v) => v ** (1 / 2.2));
    this.#ring = side && this.#model ? { side, x, y, reach, corner: Math.min(radius, ...reach), colour: shown } : null;
    if (this.#ring && !this.#faces(side)) this.glide(...FACING[side]);
    this.#ask();
  }

  /** See the box from an azimuth (0: its front; 90: its right) and an elevation, in degrees. */
  turn(azimuth, elevation, zoom = this.#view.zoom) {
    cancelAnimationFrame(this.#gliding);
    this.#look({ azimuth, elevation, zoom });
  }

  /** As turn, but on the shortest way there, unless motion is unwanted. */
  glide(azimuth, elevation, zoom = this.#view.zoom) {
    cancelAnimationFrame(this.#gliding);
    const from = this.#view, to = held({ azimuth, elevation, zoom });
    if (this.#quiet.matches) return this.#look(to);
    const round = ((to.azimuth - from.azimuth + 540) % 360) - 180;
    let start = 0;
    const step = (now) => {
      start ||= now;
      const share = Math.min(1, (now - start) / GLIDE), eased = share * share * (3 - 2 * share);
      this.#look({
        azimuth: from.azimuth + round * eased,
        elevation: from.elevation + (to.elevation - from.elevation) * eased,
        zoom: from.zoom * (to.zoom / from.zoom) ** eased,
      });
      if (share < 1) this.#gliding = requestAnimationFrame(step);
    };
    this.#gliding = requestAnimationFrame(step);
  }

  /** Turn by degrees and zoom by a factor, as hands do. */
  nudge(azimuth, elevation, zoom = 1) {
    const view = this.#view;
    this.turn(view.azimuth + azimuth, view.elevation + elevation, view.zoom * zoom);
  }

  /** Back to the first view. */
  home() {
    this.glide(this.#first.azimuth, this.#first.elevation, this.#first.zoom);
  }

  /** Turn a side to the viewer. */
  face(side) {
    this.glide(...FACING[side]);
  }

  get view() {
    return { ...this.#view };
  }

  /** The camera in CSS pixels of the canvas: position, axes, focal length. */
  get camera() {
    return this.#camera(this.canvas.clientWidth, this.canvas.clientHeight);
  }

  /** Where a place on a side is seen: CSS pixels from the canvas's upper left corner. */
  projected(side, x, y, height = 0) {
    return projected(this.camera, this.#over(side, x, y, height));
  }

  /** Stop listening and give the memory back. */
  dispose() {
    cancelAnimationFrame(this.#asked);
    cancelAnimationFrame(this.#gliding);
    this.#lay();
    this.#watch.disconnect();
    this.#ends.abort();
    this.#gpu = null;
    this.#gl.getExtension("WEBGL_lose_context")?.loseContext();
  }

  #over(side, x, y, height) {
    const { centre, right, up, out } = this.#model.poses[side];
    return add(add(add(centre, right, x), up, y), out, height);
  }

  #faces(side) {
    const { centre, out } = this.#model.poses[side], { position } = this.camera;
    const away = add(position, centre, -1);
    return out.reduce((sum, value, i) => sum + value * away[i], 0) > 0.25 * Math.hypot(...away);
  }

  #look(view) {
    this.#view = view === this.#first ? view : held(view);
    this.options.turned?.(this.view);
    this.#ask();
  }

  #ask() {
    this.#asked ||= requestAnimationFrame(() => { this.#asked = 0; this.#draw(); });
  }

  #camera(width, height) {
    const { box } = this.#model;
    const focal = fitting(box, this.#first, this.#view, width, height) * this.#view.zoom;
    return camera(this.#view, box, focal, width, height);
  }

  // ---- what lies in the graphics card; built again after it was lost

  #build() {
    const gl = this.#gl;
    if (!this.#model || gl.isContextLost()) return;
    this.#forget();
    this.#stale = false;
    const solid = merged(this.#model, this.#shell, this.#parts);
    this.#gpu = {
      body: program(gl, BODY_VERTEX, BODY_FRAGMENT),
      table: program(gl, TABLE_VERTEX, TABLE_FRAGMENT),
      shade: program(gl, SHADE_VERTEX, SHADE_FRAGMENT),
      ring: program(gl, RING_VERTEX, RING_FRAGMENT),
      solid: { ...buffers(gl, solid.vertices, solid.indices, LAYOUT, STRIDE), ranges: solid.ranges, lamps: solid.lamps },
      square: buffers(gl, new Float32Array([-1, -1, 1, -1, 1, 1, -1, 1]), new Uint32Array([0, 1, 2, 0, 2, 3]), [[2, 0]], 8),
      shadow: shadow(gl, SHADE_PIXELS),
      none: grey(gl, 1, 1, new Uint8Array([0])),
      looks: {}, near: {},
    };
    for (const side of SIDES) {
      const { width, height, levels } = nearness(this.#model.poses[side], this.#model.extents[side], solid.parts);
      this.#gpu.near[side] = grey(gl, width, height, levels);
      this.#dress(side);
    }
    this.#ask();
  }

  #forget() {
    const gl = this.#gl, old = this.#gpu;
    if (!old) return;
    for (const name of ["body", "table", "shade", "ring"]) gl.deleteProgram(old[name].program);
    for (const { array, data, index } of [old.solid, old.square]) {
      gl.deleteVertexArray(array);
      gl.deleteBuffer(data);
      gl.deleteBuffer(index);
    }
    gl.deleteFramebuffer(old.shadow.frame);
    const worn = Object.values(old.looks).flatMap(({ picture, film }) => [picture, film]);
    for (const texture of [old.shadow.texture, old.none, ...Object.values(old.near), ...worn]) gl.deleteTexture(texture);
  }

  #dress(side) {
    const gl = this.#gl, old = this.#gpu.looks[side], look = this.#looks.get(side);
    if (old) for (const texture of [old.picture, old.film]) gl.deleteTexture(texture);
    delete this.#gpu.looks[side];
    if (!look) return;
    const film = look.film ? dressed(gl, look.film, gl.RGBA8) : null;
    this.#gpu.looks[side] = { picture: dressed(gl, look.picture, gl.SRGB8_ALPHA8), film, extent: look.extent };
  }

  // ---- drawing

  #draw() {
    const gl = this.#gl, { canvas } = this;
    if (this.#stale) this.#build();
    if (!this.#gpu || gl.isContextLost() || !canvas.clientWidth || !canvas.clientHeight) return;
    const width = Math.round(canvas.clientWidth * devicePixelRatio), height = Math.round(canvas.clientHeight * devicePixelRatio);
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    const eye = this.#camera(width, height), sun = lamp(this.#view.azimuth, this.#model.box);
    this.#drawShade(sun);
    gl.viewport(0, 0, width, height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.CULL_FACE);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    this.#drawBody(eye, sun);
    this.#drawTable(eye, sun);
    if (this.#ring) this.#drawRing(eye);
    this.frames += 1;
  }

  #drawShade(sun) {
    const gl = this.#gl, { shade, shadow, solid } = this.#gpu;
    gl.bindFramebuffer(gl.FRAMEBUFFER, shadow.frame);
    gl.viewport(0, 0, SHADE_PIXELS, SHADE_PIXELS);
    gl.enable(gl.DEPTH_TEST);
    gl.depthMask(true);
    gl.clear(gl.DEPTH_BUFFER_BIT);
    gl.disable(gl.CULL_FACE);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.polygonOffset(2, 4);
    gl.useProgram(shade.program);
    gl.uniformMatrix4fv(shade.at.lamp, false, sun.matrix);
    gl.bindVertexArray(solid.array);
    gl.drawElements(gl.TRIANGLES, solid.count, gl.UNSIGNED_INT, 0);
    gl.disable(gl.POLYGON_OFFSET_FILL);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
  }

  #drawTable(eye, sun) {
    const gl = this.#gl, { table, square, shadow } = this.#gpu, { size, box } = this.#model;
    gl.useProgram(table.program);
    bind(gl, UNITS.shade, shadow.texture);
    gl.uniform1i(table.at.shade, UNITS.shade);
    gl.uniformMatrix4fv(table.at.camera, false, eye.matrix);
    gl.uniformMatrix4fv(table.at.lamp, false, sun.matrix);
    gl.uniform2f(table.at.half_size, size[0] / 2, size[1] / 2);
    gl.uniform1f(table.at.reach, box.radius * 4);
    gl.uniform1f(table.at.spread, 3.2 / sun.reach);
    gl.enable(gl.BLEND);
    gl.bindVertexArray(square.array);
    gl.drawElements(gl.TRIANGLES, square.count, gl.UNSIGNED_INT, 0);
    gl.disable(gl.BLEND);
  }

  #drawBody(eye, sun) {
    const gl = this.#gl, { body, solid, shadow, none, looks, near } = this.#gpu, { at } = body;
    const turn = eye.right;
    gl.useProgram(body.program);
    for (const [name, place] of Object.entries(UNITS)) gl.uniform1i(at[name], place);
    bind(gl, UNITS.shade, shadow.texture);
    gl.uniformMatrix4fv(at.camera, false, eye.matrix);
    gl.uniformMatrix4fv(at.lamp, false, sun.matrix);
    gl.uniform3fv(at.eye, eye.position);
    gl.uniform3fv(at.to_lamp, sun.toLamp);
    gl.uniform2f(at.facing, -turn[1], turn[0]);
    gl.uniform1f(at.spread, 0.55 / sun.reach);
    gl.uniform1i(at.lamps, solid.lamps.length);
    if (solid.lamps.length) {
      gl.uniform3fv(at.lamp_at, solid.lamps.flatMap((one) => one.at));
      gl.uniform3fv(at.lamp_colour, solid.lamps.flatMap((one) => one.colour));
    }
    gl.bindVertexArray(solid.array);
    for (const { side, start, count } of solid.ranges) {
      const look = looks[side];
      gl.uniform1f(at.worn, side ? (look ? 2 : 1) : 0);
      const extent = this.#model.extents[side] ?? [0, 0, 1, 1];
      gl.uniform4fv(at.extent, look?.extent ?? extent);
      gl.uniform4fv(at.whole, extent);
      bind(gl, UNITS.look, look?.picture ?? none);
      bind(gl, UNITS.film, look?.film ?? none);
      bind(gl, UNITS.near, near[side] ?? none);
      gl.drawElements(gl.TRIANGLES, count, gl.UNSIGNED_INT, 4 * start);
    }
  }

  #drawRing(eye) {
    const gl = this.#gl, { ring, square } = this.#gpu, { side, x, y, reach, corner, colour } = this.#ring;
    const { right, up } = this.#model.poses[side];
    gl.useProgram(ring.program);
    gl.uniformMatrix4fv(ring.at.camera, false, eye.matrix);
    gl.uniform3fv(ring.at.middle, this.#over(side, x, y, 0.5));
    gl.uniform3fv(ring.at.right, right.map((value) => value * reach[0]));
    gl.uniform3fv(ring.at.up, up.map((value) => value * reach[1]));
    gl.uniform2fv(ring.at.reach, reach);
    gl.uniform1f(ring.at.corner, corner);
    gl.uniform1f(ring.at.rim, 0.13 * corner);
    gl.uniform3fv(ring.at.ring, colour);
    gl.disable(gl.DEPTH_TEST);
    gl.enable(gl.BLEND);
    gl.bindVertexArray(square.array);
    gl.drawElements(gl.TRIANGLES, square.count, gl.UNSIGNED_INT, 0);
    gl.disable(gl.BLEND);
    gl.enable(gl.DEPTH_TEST);
  }
}
