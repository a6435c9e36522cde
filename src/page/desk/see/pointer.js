// Which way a fixing holds the branch: an arrow from it along `facing`, whose tip can be dragged. Where the fixing holds no
// direction yet, the arrow lies along the branch; to drag it makes the fixing hold one.

import { ConeGeometry, CylinderGeometry, Group, Matrix4, Mesh, Quaternion, Vector3 } from "../three/three.module.min.js";

// As seen in the large view [pixel].
const LONG = 78;
const THICK = 3;
const TIP = 9;
const ALONG = new Vector3(0, 1, 0);

export class Pointer {
  root = new Group();
  // Its tip, as a thing to take hold of: {thing, at, turns: true}; none where no fixing is chosen.
  mark = null;
  // From where and which way it points, and the turn of the body that the fixing sits on.
  from = new Vector3();
  way = new Vector3(1, 0, 0);
  body = new Matrix4();

  ink(fill, rim) {
    this.root.clear();
    const material = fill.clone();
    // It is to be found even where it points into a part.
    material.depthTest = false;
    const shaft = new CylinderGeometry(THICK / 2, THICK / 2, LONG - 2 * TIP, 8).translate(0, (LONG - 2 * TIP) / 2, 0);
    const tip = new ConeGeometry(TIP, 2.4 * TIP, 14).translate(0, LONG - TIP, 0);
    for (const geometry of [shaft, tip]) this.root.add(new Mesh(geometry, material), new Mesh(geometry, rim));
    for (const mesh of this.root.children) mesh.renderOrder = 6;
    this.root.visible = Boolean(this.mark);
  }

  choose(chosen) {
    const holds = chosen?.kind === "fixing" && !chosen.it.waypoint && chosen.it.kind !== "breakout";
    this.mark = holds ? { thing: chosen, at: new Vector3(), turns: true } : null;
    this.root.visible = holds;
  }

  // Goes along with the fixing that is chosen.
  follow(mark, along, stance) {
    const { thing } = mark;
    if (!this.mark || this.held || thing.name !== this.mark.thing.name || thing.branch !== this.mark.thing.branch) return;
    this.body.copy(stance ?? new Matrix4());
    this.from.copy(mark.at);
    const { facing } = thing.it;
    this.way.copy(facing ? new Vector3(...facing).transformDirection(this.body) : along).normalize();
  }

  // The same size on the screen however near one looks.
  aim(mmPerPixel) {
    if (!this.mark) return;
    this.root.position.copy(this.from);
    this.root.quaternion.copy(new Quaternion().setFromUnitVectors(ALONG, this.way));
    this.root.scale.setScalar(mmPerPixel);
    this.mark.at.copy(this.from).addScaledVector(this.way, (LONG - TIP) * mmPerPixel);
  }
}
