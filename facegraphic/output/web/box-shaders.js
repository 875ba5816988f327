// How the box meets light: the shaders of box-view.js.

export const MOST_LAMPS = 8;

export const BODY_VERTEX = `#version 300 es
layout(location=0) in vec3 place; layout(location=1) in vec3 normal; layout(location=2) in vec2 on_face;
layout(location=3) in vec3 colour; layout(location=4) in vec4 nature;
uniform mat4 camera; uniform mat4 lamp; uniform vec4 extent; uniform vec4 whole;
out vec3 at; out vec3 n; out vec2 uv; out vec2 on; out vec3 base; out vec4 kind; out vec3 in_lamp;
void main() {
  at = place; n = normal; base = colour; kind = nature;
  uv = vec2((on_face.x - extent.x) / (extent.z - extent.x), (extent.w - on_face.y) / (extent.w - extent.y));
  on = vec2((on_face.x - whole.x) / (whole.z - whole.x), (whole.w - on_face.y) / (whole.w - whole.y));
  in_lamp = (lamp * vec4(place + normal * 0.45, 1.0)).xyz * 0.5 + 0.5;
  gl_Position = camera * vec4(place, 1.0);
}`;

// Many samples on a spiral; turned a little from pixel to pixel, since few of them would show as bands.
const SOFT_SHADOW = (samples) => `
uniform highp sampler2DShadow shade;
float lit(vec3 p, float spread) {
  if (any(lessThan(p.xy, vec2(0.0))) || any(greaterThan(p, vec3(1.0)))) return 1.0;
  float turn = 6.2832 * fract(52.9829 * fract(dot(gl_FragCoord.xy, vec2(0.06711, 0.00584))));
  float sum = 0.0;
  for (int i = 0; i < ${samples}; i++) {
    float a = turn + float(i) * 2.39996, r = spread * sqrt((float(i) + 0.5) / ${samples}.0);
    sum += texture(shade, vec3(p.xy + r * vec2(cos(a), sin(a)), p.z));
  }
  return sum / ${samples}.0;
}`;

export const BODY_FRAGMENT = `#version 300 es
precision highp float;
in vec3 at; in vec3 n; in vec2 uv; in vec2 on; in vec3 base; in vec4 kind; in vec3 in_lamp;
uniform vec3 eye; uniform vec3 to_lamp; uniform vec2 facing; uniform float spread;
uniform float worn; uniform sampler2D look; uniform sampler2D film; uniform sampler2D near;
uniform int lamps; uniform vec3 lamp_at[${MOST_LAMPS}]; uniform vec3 lamp_colour[${MOST_LAMPS}];
out vec4 shown;
${SOFT_SHADOW(16)}
float limit(float share) { return clamp(share, -0.9, 0.9); }
// What a direction (viewer's frame: x right, y away, z up) meets: table, room, and two soft boxes.
vec3 room(vec3 r, float rough) {
  vec3 seen = mix(vec3(0.17, 0.16, 0.15), vec3(0.50, 0.52, 0.55), smoothstep(-0.25 - 0.5 * rough, 0.75 + 0.5 * rough, r.z));
  // Walls of the room are light and dark in turn, which is what makes upright metal look like metal.
  seen *= 1.0 + 0.6 * (1.0 - rough) * (1.0 - r.z * r.z) * sin(4.0 * atan(r.x, r.y + 1e-4) + 0.9);
  float soft = 0.05 + 0.9 * rough, dim = 1.0 / (1.0 + 2.2 * rough);
  vec3 away = vec3(dot(r, vec3(0.94, 0.34, 0.0)), dot(r, vec3(0.2, -0.56, 0.8)), dot(r, vec3(-0.27, 0.75, 0.6)));
  if (away.z > 0.0) {
    vec2 p = abs(away.xy / away.z);
    seen += (0.85 - 0.5 * limit(away.x / away.z)) * dim * smoothstep(0.75 + soft, 0.75 - soft, p.x) * smoothstep(0.34 + soft, 0.34 - soft, p.y);
  }
  vec3 beside = vec3(dot(r, vec3(0.3, 0.95, 0.0)), dot(r, vec3(0.48, -0.15, 0.86)), dot(r, vec3(-0.82, 0.26, 0.5)));
  if (beside.z > 0.0) {
    vec2 p = abs(beside.xy / beside.z);
    seen += 1.5 * dim * smoothstep(0.5 + soft, 0.5 - soft, p.x) * smoothstep(0.6 + soft, 0.6 - soft, p.y);
  }
  return seen;
}
vec3 of_viewer(vec3 v) { return vec3(facing.y * v.x - facing.x * v.y, facing.x * v.x + facing.y * v.y, v.z); }
float gloss(float nh, float rough) {
  float a = rough * rough, d = nh * nh * (a * a - 1.0) + 1.0;
  return a * a / (3.1416 * d * d);
}
void main() {
  vec3 N = normalize(n), V = normalize(eye - at), H = normalize(V + to_lamp), R = reflect(-V, N);
  vec3 albedo = base; float dark = kind.w, coat = 0.0;
  if (worn > 1.5) { albedo = texture(look, uv).rgb; coat = texture(film, uv).r; }
  if (worn > 0.5) dark *= texture(near, on).r;
  dark *= 1.0 - 0.4 * exp(-at.z / 6.0) * (1.0 - max(N.z, 0.0));
  float rough = kind.x, metal = kind.y, nv = max(dot(N, V), 0.02), nl = max(dot(N, to_lamp), 0.0);
  float open = lit(in_lamp, spread) * smoothstep(0.0, 0.15, dot(N, to_lamp));
  float sky = mix(0.30, 0.52, 0.5 + 0.5 * N.z) + 0.20 * max(0.0, dot(of_viewer(N), vec3(0.0, -1.0, 0.0)));
  vec3 key = vec3(1.0, 0.975, 0.94) * 0.62 * open;
  vec3 colour = albedo * (1.0 - metal) * (vec3(0.97, 0.99, 1.03) * sky * dark + key * nl);
  vec3 f0 = mix(vec3(0.04), albedo, metal);
  vec3 f = f0 + (max(vec3(1.0 - rough), f0) - f0) * pow(1.0 - nv, 5.0);
  vec3 seen = room(of_viewer(R), rough) * mix(0.55 + 0.45 * dark, dark, 0.5);
  colour += f * seen * mix(0.3, 1.1, metal) * (1.0 - coat) + key * nl * f0 * gloss(max(dot(N, H), 0.0), max(rough, 0.16)) * 0.55;
  if (coat > 0.0) {
    float rim = 0.04 + 0.96 * pow(1.0 - nv, 5.0);
    colour = mix(colour, colour * (1.0 - rim) + 0.3 * rim * room(of_viewer(R), 0.12) * (0.4 + 0.6 * dark), coat);
  }
  for (int i = 0; i < lamps; i++) {
    vec3 d = lamp_at[i] - at; float far = dot(d, d);
    colour += albedo * lamp_colour[i] * (0.25 + max(dot(N, d) * inversesqrt(far + 1.0), 0.0)) * 14.0 / (far + 22.0);
  }
  vec3 lens = base * (0.55 + 0.6 * nv) + 0.35 * pow(nv, 5.0) + 0.5 * f * seen;
  colour = mix(colour, lens, kind.z);
  vec3 over = max(colour - 0.8, 0.0);
  colour = min(colour, 0.8) + over / (1.0 + over * 4.0);
  vec3 level = mix(12.92 * colour, 1.055 * pow(max(colour, 1e-5), vec3(1.0 / 2.4)) - 0.055, step(0.0031308, colour));
  shown = vec4(level, 1.0);
}`;

// The table is bare air but for the shadow, so that the page's own ground shows.
export const TABLE_VERTEX = `#version 300 es
layout(location=0) in vec2 corner;
uniform mat4 camera; uniform mat4 lamp; uniform float reach;
out vec2 at; out vec3 in_lamp;
void main() {
  at = corner * reach;
  in_lamp = (lamp * vec4(at, 0.0, 1.0)).xyz * 0.5 + 0.5;
  gl_Position = camera * vec4(at, 0.0, 1.0);
}`;
export const TABLE_FRAGMENT = `#version 300 es
precision highp float;
in vec2 at; in vec3 in_lamp;
uniform vec2 half_size; uniform float spread;
out vec4 shown;
${SOFT_SHADOW(40)}
void main() {
  vec2 d = abs(at) - half_size + 4.0;
  float away = max(length(max(d, 0.0)) + min(max(d.x, d.y), 0.0) - 4.0, 0.0);
  if (away > 160.0) discard;
  float touch = 0.48 * exp(-away / 2.2) + 0.2 * exp(-away / 20.0);
  float thrown = away > 70.0 ? 0.0 : (1.0 - lit(in_lamp, spread)) * 0.4 * exp(-away / 120.0);
  shown = vec4(0.0, 0.0, 0.0, 1.0 - (1.0 - touch) * (1.0 - thrown));
}`;

export const SHADE_VERTEX = `#version 300 es
layout(location=0) in vec3 place;
uniform mat4 lamp;
void main() { gl_Position = lamp * vec4(place, 1.0); }`;
export const SHADE_FRAGMENT = `#version 300 es
precision mediump float;
void main() {}`;

export const RING_VERTEX = `#version 300 es
layout(location=0) in vec2 corner;
uniform mat4 camera; uniform vec3 middle; uniform vec3 right; uniform vec3 up;
out vec2 at;
void main() { at = corner; gl_Position = camera * vec4(middle + corner.x * right + corner.y * up, 1.0); }`;
export const RING_FRAGMENT = `#version 300 es
precision highp float;
in vec2 at; uniform vec3 ring; uniform vec2 reach; uniform float corner; uniform float rim; out vec4 shown;
void main() {
  // mm from the line: that of a rectangle with round corners, which is a ring where these are all there is of it
  vec2 beyond = abs(at) * reach - reach + corner;
  float away = abs(length(max(beyond, 0.0)) + min(max(beyond.x, beyond.y), 0.0) - corner + 1.5 * rim);
  float w = fwidth(away);
  float dark = 1.0 - smoothstep(rim, rim + w, away);
  float core = 1.0 - smoothstep(0.58 * rim, 0.58 * rim + w, away);
  shown = vec4(mix(vec3(0.05), ring, core) * dark, dark);
}`;
