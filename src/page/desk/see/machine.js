// The machine's parts: filled, outlined, each on its body and moved with it.

import { BufferAttribute, BufferGeometry, EdgesGeometry, Group, LineSegments, Mesh, Points } from "../three/three.module.min.js";
import { floats, indices } from "../link/unpack.js";
import { cloud } from "./cloud.js";
import { edgeMaterial, fillMaterial, rimMaterial } from "./ink.js";

export class Machine {
  root = new Group();
  // Outlines and points, whose width is in pixels of the view.
  rims = [];
  // Surfaces to touch, and all that is drawn.
  meshes = [];
  drawn = [];
  #bodies = new Map();

  build(scene, ink) {
    this.root.clear();
    this.rims = [];
    this.meshes = [];
    this.drawn = [];
    this.#bodies.clear();
    const shade = document.documentElement.dataset.light === "shed" ? 0.45 : 0.17;
    const moves = new Set(scene.bodies.filter((body) => moving(scene, body)).map((body) => body.name));
    const kinds = {
      still: fillMaterial(ink.still, ink.grey, 0, shade),
      steered: fillMaterial(ink.steered, ink.grey, 2, shade),
      hot: fillMaterial(ink.warm, ink.rust, 1, shade),
    };
    const rim = rimMaterial(ink.grey, 1.4);
    const rimHot = rimMaterial(ink.rust, 1.4);
    const edge = edgeMaterial(ink.grey);
    const sharp = edgeMaterial(ink.ink);
    this.rims = [rim, rimHot];
    for (const part of scene.parts) {
      const body = this.#body(part.body);
      if (part.mesh) {
        const geometry = joined(floats(part.mesh.at), indices(part.mesh.triangles));
        const mesh = new Mesh(geometry, part.hot_c !== null ? kinds.hot : moves.has(part.body) ? kinds.steered : kinds.still);
        mesh.userData.part = part;
        const outline = new Mesh(geometry, part.hot_c !== null ? rimHot : rim);
        // A scan has too many edges to draw them.
        body.add(mesh, outline);
        if (part.kind !== "scan") body.add(new LineSegments(new EdgesGeometry(geometry, 32), part.edge === "sharp" || part.sharp ? sharp : edge));
        this.meshes.push(mesh);
        this.drawn.push(mesh);
      } else if (part.points) {
        const { geometry, material } = cloud(part, floats(part.points), ink, shade);
        const points = new Points(geometry, material);
        points.userData.part = part;
        body.add(points);
        this.rims.push(material);
        this.meshes.push(points);
        this.drawn.push(points);
      }
    }
  }

  #body(name) {
    let group = this.#bodies.get(name);
    if (!group) {
      group = new Group();
      group.matrixAutoUpdate = false;
      this.#bodies.set(name, group);
      this.root.add(group);
    }
    return group;
  }

  move(pose) {
    for (const [name, group] of this.#bodies) if (pose.stances[name]) group.matrix.copy(pose.stances[name]);
  }
}

function moving(scene, body) {
  if (body.joint) return true;
  const under = body.on && scene.bodies.find((one) => one.name === body.on);
  return under ? moving(scene, under) : false;
}

// Corners that lie on each other become one, so that outlines have no gaps.
function joined(at, triangles) {
  const found = new Map();
  const corners = [];
  const to = new Uint32Array(at.length / 3);
  for (let i = 0; i < to.length; i += 1) {
    const key = `${Math.round(at[3 * i] * 20)},${Math.round(at[3 * i + 1] * 20)},${Math.round(at[3 * i + 2] * 20)}`;
    let index = found.get(key);
    if (index === undefined) {
      index = corners.length / 3;
      found.set(key, index);
      corners.push(at[3 * i], at[3 * i + 1], at[3 * i + 2]);
    }
    to[i] = index;
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(new Float32Array(corners), 3));
  geometry.setIndex(new BufferAttribute(triangles.map((i) => to[i]), 1));
  geometry.computeVertexNormals();
  geometry.computeBoundingSphere();
  return geometry;
}
