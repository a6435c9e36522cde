// What lies on the bench: the route as the server has it, and what the person looks at. Everything else on the page
// listens here and draws what it finds.
//
// Events: "state" (file, undo, faults), "scene", "shapes", "report", "pose", "chosen" (also where it is the same thing in a new scene), "picked" (by hand), "opened" (another route), "found", "look" (units, light, what is shown), "units" (others), "rests" (the hand).

import { get, post, Refused } from "../link/call.js";
import { unpackShapes } from "../link/unpack.js";
import { sayFault } from "../paper/say.js";
import { units } from "./units.js";

// The hand rests when it has not moved for so long [ms].
const RESTS = 250;

class Bench extends EventTarget {
  state = null;
  scene = null;
  shapes = null;
  report = null;
  // The shapes as the route was opened, for the ghost.
  opened = null;
  // Values of all joints that are shown now.
  values = {};
  // {kind: "fixing"|"part"|"point", path, name, branch} or null.
  chosen = null;
  // The finding that was gone to last.
  found = null;
  // What is being tried, before it is kept: {scene, shapes, report}, each or none, and whether the report is of these shapes.
  tried = null;
  busy = 0;
  // Whether the hand drags something on just now: what it need not wait for waits until it rests or lets go.
  moves = false;
  #hand = 0;
  #round = 0;

  tell(name) {
    this.dispatchEvent(new Event(name));
  }

  on(names, does) {
    for (const name of names.split(" ")) this.addEventListener(name, does);
  }

  // What is shown: what is tried goes before what is kept.
  get shownScene() {
    return this.tried?.scene ?? this.scene;
  }
  get shownShapes() {
    return this.tried?.shapes ?? this.shapes;
  }
  get shownReport() {
    return this.tried?.report ?? this.report;
  }

  handMoves() {
    this.moves = true;
    clearTimeout(this.#hand);
    this.#hand = setTimeout(() => this.handRests(), RESTS);
  }

  handRests() {
    clearTimeout(this.#hand);
    if (!this.moves) return;
    this.moves = false;
    this.tell("rests");
  }

  async start() {
    await this.take(await get("state"), true);
  }

  // Takes a new state and fetches what belongs to it.
  async take(state, fresh = false) {
    const other = this.state?.rev !== state.rev || fresh;
    this.state = state;
    this.tell("state");
    if (state.open === false) return;
    if (other) await this.refresh(fresh);
  }

  // The same route, told in the other units; what is tried goes on.
  async otherUnits() {
    units.change();
    this.tell("look");
    this.tell("units");
    await this.refresh(false, true);
  }

  async refresh(fresh = false, goesOn = false) {
    const round = (this.#round += 1);
    this.working(1);
    try {
      const scene = await get(`scene?units=${units.name}`);
      const shapes = unpackShapes(await get("shapes"));
      // Somebody was quicker: what comes now is old.
      if (round !== this.#round) return;
      this.scene = scene;
      this.shapes = shapes;
      if (!goesOn) this.tried = null;
      if (fresh || !this.opened) {
        this.opened = shapes;
        this.values = this.restValues();
        this.chosen = null;
      } else this.values = { ...this.restValues(), ...this.keptValues() };
      this.#keepChosen();
      this.tell("scene");
      this.tell("shapes");
      // At first without the spread, which takes longer.
      for (const spread of ["no", "yes"]) {
        const report = await get(`report?units=${units.name}&spread=${spread}`);
        if (round !== this.#round) return;
        this.report = report;
        this.tell("report");
        if (report.spread_known !== false && spread === "no") break;
      }
    } catch (error) {
      if (round !== this.#round) return;
      if (error.status === 404) {
        this.scene = this.shapes = this.report = null;
        this.tell("scene");
      } else if (error.faults?.length || this.state?.faults?.length) {
        this.state = { ...this.state, faults: error.faults?.length ? error.faults : this.state.faults };
        this.tell("state");
      } else sayFault(error);
    } finally {
      this.working(-1);
    }
  }

  working(change) {
    this.busy += change;
    this.tell("busy");
  }

  restValues() {
    return Object.fromEntries(this.joints().map((body) => [body.name, body.joint.rest]));
  }

  // Joint values that are still within the stops.
  keptValues() {
    const kept = this.joints().filter((body) => body.name in this.values);
    return Object.fromEntries(
      kept.map((body) => [body.name, Math.min(Math.max(this.values[body.name], body.joint.from), body.joint.to)]),
    );
  }

  joints() {
    return (this.scene?.bodies ?? []).filter((body) => body.joint && !body.breakout);
  }

  turn(values) {
    this.values = { ...this.values, ...values };
    this.tell("pose");
  }

  choose(what) {
    this.chosen = what;
    this.tell("chosen");
    if (what) this.tell("picked");
  }

  // What was chosen stays chosen where it is still there.
  #keepChosen() {
    if (!this.chosen) return;
    const same = this.things().find((one) => one.kind === this.chosen.kind && one.name === this.chosen.name && one.branch === this.chosen.branch);
    this.chosen = same ?? null;
    this.tell("chosen");
  }

  // All that can be chosen, in the order of the file.
  things() {
    const scene = this.shownScene;
    if (!scene) return [];
    const things = [];
    for (const branch of scene.branches)
      branch.lay.forEach((fixing, nth) =>
        things.push({ kind: "fixing", name: fixing.name ?? `waypoint ${nth}`, branch: branch.name, nth, it: fixing, path: fixing.path }));
    for (const part of scene.parts) things.push({ kind: "part", name: part.name, it: part, path: part.path });
    for (const point of scene.points) things.push({ kind: "point", name: point.name, it: point, path: point.path });
    return things;
  }

  async edit(edits, says) {
    return this.#asked("edit", { rev: this.state.rev, edits, says, units: units.name });
  }
  async undo() {
    return this.#asked("undo", {});
  }
  async redo() {
    return this.#asked("redo", {});
  }
  async undoTo(rev) {
    return this.#asked("undo_to", { rev });
  }
  async save(more = {}) {
    return this.#asked("save", more);
  }
  // `onopen`: what is done as soon as the other route is open, before it is solved.
  async open(what, onopen = () => {}) {
    try {
      const state = await post("open", what);
      // Nothing of the route before is told of this one.
      this.state = state;
      this.opened = this.tried = this.found = this.report = null;
      this.tell("opened");
      onopen();
      await this.take(state, true);
    } catch (error) {
      sayFault(error);
    }
  }

  // True where it was done. What is refused is said, and the page stays as it was.
  async #asked(name, body) {
    try {
      this.working(1);
      await this.take(await post(name, body));
      return true;
    } catch (error) {
      if (error instanceof Refused && error.status === 409 && error.state && name !== "save") await this.take(error.state);
      if (name === "save" && error.status === 409) throw error;
      this.tried = null;
      this.tell("scene");
      this.tell("shapes");
      this.tell("report");
      sayFault(error);
      return false;
    } finally {
      this.working(-1);
    }
  }
}

export const bench = new Bench();
