// Dragging a fixing: along its tube where it sits on one, else in the plane of the view. The solver answers meanwhile.

import { Matrix4, Vector3 } from "../three/three.module.min.js";
import { bench } from "../bench/bench.js";
import { letGo, settle, tryOut } from "../bench/trying.js";
import { length, written, writtenPoint } from "../bench/units.js";

export class Drag {
  #last = null;

  constructor(stage, eye, mark, at) {
    Object.assign(this, { stage, eye, mark, at });
    this.thing = mark.thing;
    this.from = mark.at.clone();
    this.body = (stage.pose.stances[this.thing.it.body] ?? new Matrix4()).clone();
    const tube = bench.scene.parts.find((part) => part.name === this.thing.it.slides_on);
    this.tube = tube?.spec?.along_mm ?? null;
  }

  to(at) {
    const { right, high } = this.stage.eyes.frame(this.eye);
    const size = this.stage.eyes.seen[this.eye].mmPerPixel;
    const moved = right.clone().multiplyScalar((at.x - this.at.x) * size).addScaledVector(high, (this.at.y - at.y) * size);
    // A step moves things as they lie at rest.
    const inverse = this.body.clone().invert();
    let by = moved.transformDirection(inverse).multiplyScalar(moved.length() ? Math.hypot((at.x - this.at.x) * size, (this.at.y - at.y) * size) : 0);
    if (this.tube) by = this.alongTube(by);
    this.by = by;
    this.#show(by);
    this.stage.read(`${this.thing.name}: ${inWords(by.toArray())}`);
    const edits = [moveEdit(this.thing, by.toArray())];
    this.#last = edits;
    tryOut(edits);
  }

  // The same distance from the tube's middle line, at the place along it that is nearest to the finger.
  alongTube(by) {
    const here = new Vector3(...this.thing.it.at_mm);
    const foot = nearest(this.tube, here);
    return nearest(this.tube, here.clone().add(by)).sub(foot);
  }

  // The mark goes with the finger at once, before the solver has answered; where drawing is slow, with its answer, which
  // would have to wait for the picture.
  #show(by) {
    const turned = by.clone().transformDirection(this.body).multiplyScalar(by.length());
    this.mark.at.copy(this.from).add(turned);
    this.mark.mesh.matrix.setPosition(this.mark.at);
    this.mark.outline.matrix.setPosition(this.mark.at);
    if (!this.stage.slow) this.stage.draw();
  }

  async done() {
    this.stage.read(null);
    if (!this.#last) return letGo();
    settle();
    await bench.edit(this.#last, `${this.thing.name} moved`);
  }

  cancel() {
    this.stage.read(null);
    if (this.#last) letGo();
    this.stage.move();
  }
}

// The edit that moves a thing. What has no name is written where it stands.
export function moveEdit(thing, by) {
  if (thing.it.name) return { step: `Move(what: ${JSON.stringify(thing.it.name)}, by: (${by.map(written).join(", ")}))` };
  const at = thing.it.at_mm.map((x, i) => x + by[i]);
  return { set: { path: [...thing.path, "at"], to: writtenPoint(at) } };
}

function inWords(by) {
  const ways = [["forward", "back"], ["left", "right"], ["up", "down"]];
  const said = by.map((mm, i) => [Math.abs(mm), ways[i][mm < 0 ? 1 : 0]]).filter(([mm]) => mm >= 0.5);
  return said.map(([mm, way]) => `${length(mm)} ${way}`).join(", ") || "where it was";
}

function nearest(line, p) {
  let best = null;
  for (let i = 0; i + 1 < line.length; i += 1) {
    const a = new Vector3(...line[i]);
    const ab = new Vector3(...line[i + 1]).sub(a);
    const share = Math.min(Math.max(p.clone().sub(a).dot(ab) / ab.lengthSq(), 0), 1);
    const q = a.addScaledVector(ab, share);
    const far = q.distanceTo(p);
    if (!best || far < best.far) best = { far, q };
  }
  return best.q;
}
