// The harness at its true width, drawn from solved lines and nothing else.

import { BufferAttribute, BufferGeometry, DynamicDrawUsage, Group, Mesh } from "../three/three.module.min.js";
import { tubeMaterial } from "./ink.js";

const SIDES = 10;
// How far about a finding the harness is striped [mm].
const STRIPED = 14;

export class Harness {
  root = new Group();
  #tubes = new Map();
  #ways;

  // ways: which materials each tube gets: [0, 1] in the open and hidden, [2] a ghost.
  constructor(ways = [0, 1]) {
    this.#ways = ways;
  }

  build(scene, branches, ink) {
    this.root.clear();
    this.#tubes.clear();
    const materials = this.#ways.map((way) => tubeMaterial(ink, way));
    for (const { name, stations } of branches) {
      const told = scene.branches.find((branch) => branch.name === name);
      if (!told) continue;
      const geometry = tube(stations);
      const meshes = materials.map((material) => new Mesh(geometry, material));
      meshes.forEach((mesh, nth) => {
        mesh.frustumCulled = false;
        mesh.renderOrder = this.#ways[nth] === 2 ? 4 : 0;
      });
      this.root.add(...meshes);
      this.#tubes.set(name, { geometry, radius: told.diameter_mm / 2, count: stations.length });
    }
  }

  // Stripes where a limit is broken.
  mark(findings) {
    for (const [name, { geometry }] of this.#tubes) {
      const marks = geometry.getAttribute("mark");
      const stations = geometry.getAttribute("station");
      const over = findings.filter((one) => one.branch === name && one.verdict === "over" && one.at_mm !== null).map((one) => one.at_mm);
      for (let i = 0; i < marks.count; i += 1) marks.setX(i, over.some((at) => Math.abs(at - stations.getX(i)) < STRIPED) ? 1 : 0);
      marks.needsUpdate = true;
    }
  }

  move(branches) {
    for (const { name, stations, line } of branches) {
      const found = this.#tubes.get(name);
      if (!found) continue;
      if (found.count !== stations.length) return false;
      // Most branches lie as they did: only what moved is bent anew.
      if (found.line && line.every((x, i) => x === found.line[i])) continue;
      found.line = line;
      bend(found.geometry, line, found.radius, stations);
    }
    return true;
  }
}

function tube(stations) {
  const count = stations.length;
  const geometry = new BufferGeometry();
  const row = (size) => new BufferAttribute(new Float32Array(count * SIDES * size), size).setUsage(DynamicDrawUsage);
  geometry.setAttribute("position", row(3));
  geometry.setAttribute("normal", row(3));
  // Stripes are put on before it is bent for the first time.
  geometry.setAttribute("station", row(1));
  stations.forEach((at, i) => geometry.getAttribute("station").array.fill(at, i * SIDES, (i + 1) * SIDES));
  geometry.setAttribute("mark", row(1));
  const index = [];
  for (let i = 0; i + 1 < count; i += 1)
    for (let k = 0; k < SIDES; k += 1) {
      const [a, b] = [i * SIDES + k, i * SIDES + ((k + 1) % SIDES)];
      index.push(a, a + SIDES, b, b, a + SIDES, b + SIDES);
    }
  geometry.setIndex(index);
  return geometry;
}

// Rings about the line. Their direction is carried on from one to the next, so that nothing twists.
function bend(geometry, line, radius, stations) {
  const count = stations.length;
  const at = geometry.getAttribute("position").array;
  const normals = geometry.getAttribute("normal").array;
  const along = geometry.getAttribute("station").array;
  let u = [0, 0, 1];
  for (let i = 0; i < count; i += 1) {
    const [a, b] = [Math.max(i - 1, 0) * 3, Math.min(i + 1, count - 1) * 3];
    const t = unit([line[b] - line[a], line[b + 1] - line[a + 1], line[b + 2] - line[a + 2]]);
    let d = dot(u, t);
    u = [u[0] - d * t[0], u[1] - d * t[1], u[2] - d * t[2]];
    if (dot(u, u) < 1e-6) u = Math.abs(t[0]) < 0.9 ? cross(t, [1, 0, 0]) : cross(t, [0, 1, 0]);
    u = unit(u);
    const v = cross(t, u);
    for (let k = 0; k < SIDES; k += 1) {
      const angle = (2 * Math.PI * k) / SIDES;
      const [c, s] = [Math.cos(angle), Math.sin(angle)];
      const to = (i * SIDES + k) * 3;
      for (let x = 0; x < 3; x += 1) {
        normals[to + x] = c * u[x] + s * v[x];
        at[to + x] = line[3 * i + x] + radius * normals[to + x];
      }
      along[i * SIDES + k] = stations[i];
    }
  }
  for (const name of ["position", "normal", "station"]) geometry.getAttribute(name).needsUpdate = true;
}

const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const unit = (a) => {
  const l = Math.hypot(...a) || 1;
  return a.map((x) => x / l);
};
