// Hands on the views: one finger or the mouse turns or shifts, two fingers or the wheel zoom, a fixing that is touched can be
// dragged, its arrow turned, a part that is touched is chosen. The keys do the same.

import { bench } from "../bench/bench.js";
import { sayFault } from "../paper/say.js";
import { Drag } from "./drag.js";
import { EYES } from "./eyes.js";
import { touch } from "./touch.js";
import { Turn } from "./turn.js";

// How near to a fixing a finger must come [pixel].
const REACH = 26;

export class Hands {
  #fingers = new Map();
  #drag = null;
  #moved = 0;

  constructor(stage) {
    this.stage = stage;
    for (const eye of Object.keys(EYES)) {
      const { frame } = stage.frameOf(eye);
      frame.addEventListener("pointerdown", (event) => this.#down(event, eye, frame));
      frame.addEventListener("pointermove", (event) => this.#move(event, eye, frame));
      for (const end of ["pointerup", "pointercancel"]) frame.addEventListener(end, (event) => this.#up(event, eye, frame));
      frame.addEventListener("wheel", (event) => this.#wheel(event, eye), { passive: false });
      frame.addEventListener("keydown", (event) => this.#key(event, eye, frame));
    }
  }

  #at(event, frame) {
    const box = frame.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  }

  #nearest(eye, at) {
    let best = null;
    const { marks, handle, pointer } = this.stage.fixings;
    for (const mark of [pointer.mark, handle, ...marks]) {
      if (!mark) continue;
      const p = this.stage.project(eye, mark.at);
      const far = Math.hypot(p.x - at.x, p.y - at.y);
      if (far < REACH && (!best || far < best.far)) best = { far, mark };
    }
    return best?.mark ?? null;
  }

  #down(event, eye, frame) {
    if (event.target.closest("button") || !bench.shownScene) return;
    frame.setPointerCapture(event.pointerId);
    this.#fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    this.#moved = 0;
    if (this.#fingers.size > 1) {
      this.#drag?.cancel();
      this.#drag = null;
      this.stage.drags = false;
      bench.handRests();
      return;
    }
    // What is touched on a surface may lie beneath a fixing.
    const mark = this.stage.picking ? null : this.#nearest(eye, this.#at(event, frame));
    // What may be dragged at once is drawn so from the first touch, and the first move finds it ready.
    this.stage.drags = Boolean(mark);
    if (mark) bench.handMoves();
    if (mark?.turns) this.#drag = new Turn(this.stage, eye, this.#at(event, frame));
    else if (mark) {
      if (mark !== this.stage.fixings.handle) bench.choose(mark.thing);
      this.#drag = new Drag(this.stage, eye, mark, this.#at(event, frame));
    }
  }

  #move(event, eye, frame) {
    const before = this.#fingers.get(event.pointerId);
    if (!before) return;
    const [dx, dy] = [event.clientX - before.x, event.clientY - before.y];
    this.#moved += Math.abs(dx) + Math.abs(dy);
    if (this.#fingers.size === 2) {
      const other = [...this.#fingers].find(([id]) => id !== event.pointerId)[1];
      const far = (x, y) => Math.hypot(x - other.x, y - other.y);
      this.stage.eyes.zoom(eye, far(event.clientX, event.clientY) / (far(before.x, before.y) || 1));
      this.stage.eyes.pan(eye, dx / 2, dy / 2);
    } else if (this.#drag) {
      bench.handMoves();
      if (this.#moved > 5) this.#drag.to(this.#at(event, frame));
    } else if (eye === "turn" && !event.shiftKey && event.buttons !== 4) this.stage.eyes.orbit(dx, dy);
    else this.stage.eyes.pan(eye, dx, dy);
    this.#fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (!this.#drag) this.stage.draw();
  }

  #up(event, eye, frame) {
    if (!this.#fingers.delete(event.pointerId)) return;
    const drag = this.#drag;
    this.#drag = null;
    this.stage.drags = false;
    if (drag && this.#moved > 5 && event.type === "pointerup") drag.done();
    else drag?.cancel();
    bench.handRests();
    if (this.#moved <= 5 && !drag && event.type === "pointerup") this.#touch(eye, this.#at(event, frame), frame);
  }

  // A part that is touched is chosen; while a point is being picked on a scan, the place is handed on.
  async #touch(eye, at, frame) {
    const { picking } = this.stage;
    const hit = await touch(this.stage, eye, at, frame, picking?.only).catch(sayFault);
    if (hit === undefined) return;
    if (picking) return picking === this.stage.picking && picking.take(hit);
    bench.choose(hit ? bench.things().find((one) => one.kind === "part" && one.name === hit.part.name) : null);
  }

  #wheel(event, eye) {
    event.preventDefault();
    this.stage.eyes.zoom(eye, Math.exp(-event.deltaY * 0.0012));
    this.stage.draw();
  }

  #key(event, eye, frame) {
    if (event.target !== frame) return;
    const step = { ArrowLeft: [-24, 0], ArrowRight: [24, 0], ArrowUp: [0, -24], ArrowDown: [0, 24] }[event.key];
    if (event.key === "Escape") this.#drag?.cancel();
    if (step) eye === "turn" && !event.shiftKey ? this.stage.eyes.orbit(...step) : this.stage.eyes.pan(eye, -step[0], -step[1]);
    else if (event.key === "+" || event.key === "=") this.stage.eyes.zoom(eye, 1.25);
    else if (event.key === "-") this.stage.eyes.zoom(eye, 0.8);
    else if (event.key === "Home") this.stage.fitAll();
    else if (event.key === "Enter") this.stage.enlarge(eye);
    else return;
    event.preventDefault();
    this.stage.draw();
  }
}
