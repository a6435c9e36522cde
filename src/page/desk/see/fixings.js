// What holds the harness, drawn by its kind: a tie as a ring, a clamp as a sleeve, a connector as a block, a grommet as a
// collar, a breakout as a ball, a waypoint as a small eight-sided stone.

import {
  BoxGeometry, CylinderGeometry, Group, Matrix4, Mesh, OctahedronGeometry, SphereGeometry, TorusGeometry, Vector3,
} from "../three/three.module.min.js";
import { fillMaterial, rimMaterial } from "./ink.js";
import { partMiddle } from "./names.js";
import { Pointer } from "./pointer.js";

export class Fixings {
  root = new Group();
  // {thing, mesh, at: Vector3} of each, for picking and for names.
  marks = [];
  rims = [];
  // Which way the chosen fixing holds the branch, to be turned by its tip.
  pointer = new Pointer();

  build(things, scene, ink) {
    this.root.clear();
    this.root.add(this.pointer.root);
    const shade = 0.12;
    const plain = fillMaterial(ink.paper, ink.ink, 0, shade);
    const solid = fillMaterial(ink.ink, ink.ink, 0, shade);
    const picked = fillMaterial(ink.chosen, ink.ink, 0, shade);
    const rim = rimMaterial(ink.ink, 1.6);
    this.rims = [rim];
    this.plain = { plain, solid, picked };
    this.pointer.ink(picked, rim);
    this.marks = things
      .filter((thing) => thing.kind === "fixing")
      .map((thing) => {
        const branch = scene.branches.find((one) => one.name === thing.branch);
        const mesh = shape(thing.it, branch.diameter_mm / 2, thing.it.kind === "tie" ? solid : plain);
        const outline = new Mesh(mesh.geometry, rim);
        mesh.matrixAutoUpdate = outline.matrixAutoUpdate = false;
        this.root.add(mesh, outline);
        return { thing, mesh, outline, at: new Vector3() };
      });
  }

  // A chosen part or point has a handle in its middle, to be dragged by.
  #grip(chosen) {
    this.handle?.mesh.removeFromParent();
    this.handle?.outline.removeFromParent();
    this.handle = null;
    const middle = chosen?.kind === "part" ? partMiddle(chosen.it) : chosen?.kind === "point" ? new Vector3(...chosen.it.at_mm) : null;
    if (!middle || !this.plain) return;
    const mesh = new Mesh(new OctahedronGeometry(13), this.plain.picked.clone());
    const outline = new Mesh(mesh.geometry, this.rims[0]);
    // The middle of a solid part lies inside it, and must be seen all the same.
    mesh.material.depthTest = false;
    mesh.renderOrder = 5;
    mesh.matrixAutoUpdate = outline.matrixAutoUpdate = false;
    this.root.add(mesh, outline);
    this.handle = { thing: chosen, mesh, outline, at: new Vector3(), middle };
  }

  choose(chosen) {
    this.#grip(chosen);
    this.pointer.choose(chosen);
    for (const mark of this.marks) {
      const same = chosen?.kind === "fixing" && chosen.name === mark.thing.name && chosen.branch === mark.thing.branch;
      mark.mesh.material = same ? this.plain.picked : mark.thing.it.kind === "tie" ? this.plain.solid : this.plain.plain;
    }
  }

  // A fixing sits on the solved line at its station; a waypoint where it was put.
  move(pose) {
    if (this.handle) {
      const { at, middle, thing, mesh, outline } = this.handle;
      at.copy(middle).applyMatrix4(pose.stances[thing.it.body] ?? new Matrix4());
      mesh.matrix.makeTranslation(at);
      outline.matrix.copy(mesh.matrix);
    }
    for (const mark of this.marks) {
      const { it, branch } = mark.thing;
      const shape = pose.branches.find((one) => one.name === branch);
      if (!shape) continue;
      const along = new Vector3(1, 0, 0);
      if (it.station_mm === null || it.station_mm === undefined) {
        mark.at.set(...it.at_mm).applyMatrix4(pose.stances[it.body] ?? new Matrix4());
      } else {
        const { at, t } = placeOn(shape, it.station_mm);
        mark.at.copy(at);
        along.copy(t);
      }
      mark.mesh.matrix.copy(basis(along, mark.at));
      mark.outline.matrix.copy(mark.mesh.matrix);
      this.pointer.follow(mark, along, pose.stances[it.body]);
    }
  }
}

// Place and direction at a station of a line.
export function placeOn({ stations, line }, station) {
  let i = 0;
  while (i + 2 < stations.length && stations[i + 1] < station) i += 1;
  const j = i + 1;
  const share = Math.min(Math.max((station - stations[i]) / (stations[j] - stations[i] || 1), 0), 1);
  const a = new Vector3().fromArray(line, 3 * i);
  const b = new Vector3().fromArray(line, 3 * j);
  return { t: b.clone().sub(a).normalize(), at: a.lerp(b, share) };
}

function basis(x, at) {
  const up = Math.abs(x.z) < 0.95 ? new Vector3(0, 0, 1) : new Vector3(1, 0, 0);
  const y = up.clone().cross(x).normalize();
  const z = x.clone().cross(y);
  return new Matrix4().makeBasis(x, y, z).setPosition(at);
}

// All are made along x.
function shape(fixing, radius, material) {
  const wide = fixing.width_mm ?? 5;
  const turned = (geometry) => geometry.rotateZ(-Math.PI / 2);
  const shapes = {
    tie: () => turned(new CylinderGeometry(radius + 2, radius + 2, wide, 20)),
    clamp: () => turned(new CylinderGeometry(radius + 3.5, radius + 3.5, wide, 20)),
    connector: () => new BoxGeometry(22, 2.6 * radius + 5, 2.2 * radius + 4),
    grommet: () => new TorusGeometry(radius + 3, 2.6, 10, 24).rotateY(Math.PI / 2),
    breakout: () => new SphereGeometry(radius + 3, 20, 14),
    via: () => new OctahedronGeometry(7),
  };
  return new Mesh((shapes[fixing.kind] ?? shapes.tie)(), material);
}
