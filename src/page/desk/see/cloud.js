// Bare points of a scan, drawn so that they read as a surface: each is a small disc as wide as the points stand apart, shaded by
// which way the surface runs there, and paler the farther back it is. No surface is made up between them.

import { BufferAttribute, BufferGeometry, ShaderMaterial } from "../three/three.module.min.js";

// So many neighbours tell which way the surface runs, and how far the points stand apart.
const NEIGHBOURS = 12;
// A disc is never smaller nor larger [pixel].
const SMALLEST = 1.4;
const LARGEST = 18;

// By a part's packed points: worked out once, also when the scene comes again.
let known = new Map();

export function cloud(part, at, ink, shade) {
  const found = known.get(part.name);
  const { out, apart } = found?.packed === part.points ? found : surface(at);
  known.set(part.name, { packed: part.points, out, apart });
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(at, 3));
  geometry.setAttribute("normal", new BufferAttribute(out, 3));
  geometry.computeBoundingSphere();
  return { geometry, material: discs(ink, shade, apart, geometry.boundingSphere) };
}

// Which way the surface runs at each point, and the usual distance between neighbours, by a grid of cells.
function surface(at) {
  const count = at.length / 3;
  const out = new Float32Array(at.length);
  const cell = cellOf(at, count);
  const key = (x, y, z) => (x * 73856093) ^ (y * 19349663) ^ (z * 83492791);
  const place = (i) => [Math.floor(at[3 * i] / cell), Math.floor(at[3 * i + 1] / cell), Math.floor(at[3 * i + 2] / cell)];
  const cells = new Map();
  for (let i = 0; i < count; i += 1) {
    const to = key(...place(i));
    const there = cells.get(to);
    if (there) there.push(i);
    else cells.set(to, [i]);
  }
  const nearest = [];
  for (let i = 0; i < count; i += 1) {
    const [x, y, z] = place(i);
    const near = [];
    for (let a = -1; a <= 1; a += 1) for (let b = -1; b <= 1; b += 1) for (let c = -1; c <= 1; c += 1)
      for (const j of cells.get(key(x + a, y + b, z + c)) ?? []) if (j !== i) near.push([squared(at, i, j), j]);
    near.sort((p, q) => p[0] - q[0]);
    // What is there twice says nothing of the distance.
    const first = near.find(([far]) => far > 1e-6);
    if (first) nearest.push(Math.sqrt(first[0]));
    out.set(across(at, i, near.slice(0, NEIGHBOURS)), 3 * i);
  }
  nearest.sort((p, q) => p - q);
  return { out, apart: nearest[Math.floor(nearest.length * 0.7)] ?? cell };
}

// Cells that hold a few points each, by the room that the points take as a surface.
function cellOf(at, count) {
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < at.length; i += 1) {
    low[i % 3] = Math.min(low[i % 3], at[i]);
    high[i % 3] = Math.max(high[i % 3], at[i]);
  }
  const [a, b, c] = low.map((x, i) => high[i] - x);
  return Math.max(Math.sqrt((3 * (a * b + b * c + c * a)) / Math.max(count, 1)), 1e-3);
}

function squared(at, i, j) {
  const [x, y, z] = [at[3 * i] - at[3 * j], at[3 * i + 1] - at[3 * j + 1], at[3 * i + 2] - at[3 * j + 2]];
  return x * x + y * y + z * z;
}

// Square to the plane that lies best through a point's neighbours: the direction in which they scatter least, by powers of
// (trace - scatter). Nothing where there are too few.
function across(at, i, near) {
  if (near.length < 3) return [0, 0, 0];
  const s = [0, 0, 0, 0, 0, 0];
  const mean = [0, 0, 0];
  for (const [, j] of near) for (let x = 0; x < 3; x += 1) mean[x] += (at[3 * j + x] - at[3 * i + x]) / near.length;
  for (const [, j] of near) {
    const [x, y, z] = [0, 1, 2].map((k) => at[3 * j + k] - at[3 * i + k] - mean[k]);
    s[0] += x * x; s[1] += x * y; s[2] += x * z; s[3] += y * y; s[4] += y * z; s[5] += z * z;
  }
  const trace = s[0] + s[3] + s[5];
  if (!(trace > 0)) return [0, 0, 0];
  let v = [0.58, 0.57, 0.59];
  for (let turn = 0; turn < 16; turn += 1) {
    const [x, y, z] = v;
    v = [trace * x - s[0] * x - s[1] * y - s[2] * z, trace * y - s[1] * x - s[3] * y - s[4] * z, trace * z - s[2] * x - s[4] * y - s[5] * z];
    const l = Math.hypot(...v) || 1;
    v = v.map((one) => one / l);
  }
  return v;
}

// `apart`: the distance between neighbours [mm]. A disc is a little wider, so that a surface is covered.
function discs(ink, shade, apart, { center, radius }) {
  return new ShaderMaterial({
    uniforms: {
      fill: { value: ink.still }, line: { value: ink.grey }, paper: { value: ink.paper }, shade: { value: shade }, wide: { value: 1.25 * apart },
      middle: { value: center }, deep: { value: radius || 1 }, size: { value: [800, 600] }, ratio: { value: devicePixelRatio },
    },
    vertexShader: `
uniform vec3 middle; uniform float wide; uniform float deep; uniform vec2 size; uniform float ratio;
varying float lit; varying float far; varying float across; varying float facing;
void main() {
  vec4 at = modelViewMatrix * vec4(position, 1.0);
  vec3 out_ = normalMatrix * normal;
  float l = length(out_);
  // Nobody knows which side of a bare point is the outer one: the side that is seen counts.
  vec3 n = l > 0.1 ? out_ / l * sign(out_.z + 1e-6) : vec3(0.0, 0.0, 1.0);
  facing = n.z;
  lit = 0.5 + 0.5 * dot(n, normalize(vec3(-0.35, 0.75, 0.55)));
  far = clamp(0.5 - 0.5 * (at.z - (modelViewMatrix * vec4(middle, 1.0)).z) / deep, 0.0, 1.0);
  gl_Position = projectionMatrix * at;
  across = clamp(wide * projectionMatrix[1][1] * size.y * 0.5, ${SMALLEST.toFixed(1)}, ${LARGEST.toFixed(1)});
  gl_PointSize = across * ratio;
}`,
    fragmentShader: `
uniform vec3 fill; uniform vec3 line; uniform vec3 paper; uniform float shade;
varying float lit; varying float far; varying float across; varying float facing;
void main() {
  float r = length(gl_PointCoord - 0.5);
  if (across > 2.5 && r > 0.5) discard;
  vec3 colour = fill * mix(1.0 - min(2.2 * shade, 0.5), 1.0, lit);
  // Large discs have an outline; small ones are a grain of it.
  float grain = across > 5.0 ? smoothstep(0.36, 0.44, r) : 0.42;
  colour = mix(colour, line, grain * mix(0.95, 0.45, lit));
  // What turns away is inked, as the outline of a solid is.
  colour = mix(colour, line, 0.8 * smoothstep(0.55, 0.15, facing));
  gl_FragColor = vec4(mix(colour, paper, 0.35 * far), 1.0);
  #include <colorspace_fragment>
}`,
  });
}
