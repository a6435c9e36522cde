// Turning a fixing by the tip of its arrow, in the plane of the view. The solver answers meanwhile.

import { Vector3 } from "../three/three.module.min.js";
import { bench } from "../bench/bench.js";
import { letGo, settle, tryOut } from "../bench/trying.js";

export class Turn {
  #last = null;

  constructor(stage, eye, at) {
    Object.assign(this, { stage, eye, at });
    this.pointer = stage.fixings.pointer;
    this.thing = this.pointer.mark.thing;
    this.arm = this.pointer.mark.at.clone().sub(this.pointer.from);
    this.pointer.held = true;
  }

  to(at) {
    const { right, high } = this.stage.eyes.frame(this.eye);
    const size = this.stage.eyes.seen[this.eye].mmPerPixel;
    const way = this.arm.clone().addScaledVector(right, (at.x - this.at.x) * size).addScaledVector(high, (this.at.y - at.y) * size);
    // Right on the fixing there is no direction.
    if (way.length() < this.arm.length() * 0.1) return;
    this.pointer.way.copy(way).normalize();
    if (!this.stage.slow) this.stage.draw();
    // The file holds the direction as it is with every joint at rest.
    const home = this.pointer.way.clone().transformDirection(this.pointer.body.clone().invert());
    const turned = new Vector3(...(this.thing.it.facing ?? home.toArray())).normalize().angleTo(home);
    this.stage.read(`${this.thing.name}: turned by ${((turned * 180) / Math.PI).toFixed(0)}°, now ${inWords(home)}`);
    this.#last = [{ step: `Hold(what: ${JSON.stringify(this.thing.name)}, facing: (${home.toArray().map((x) => x.toFixed(4)).join(", ")}))` }];
    tryOut(this.#last);
  }

  #over() {
    this.pointer.held = false;
    this.stage.read(null);
  }

  async done() {
    this.#over();
    if (!this.#last) return letGo();
    settle();
    await bench.edit(this.#last, `${this.thing.name} turned`);
  }

  cancel() {
    this.#over();
    if (this.#last) letGo();
    this.stage.move();
  }
}

// The directions that it runs in, the strongest first.
function inWords(way) {
  const words = [["forward", "back"], ["left", "right"], ["up", "down"]];
  const said = way.toArray().map((x, i) => [Math.abs(x), words[i][x < 0 ? 1 : 0]]).filter(([x]) => x > 0.17);
  return said.sort((a, b) => b[0] - a[0]).map(([, word]) => word).join(", ");
}
