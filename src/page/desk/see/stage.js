// The stage: one canvas behind all views. Each view is a frame of the page, drawn from its own eye.

import { Color, Scene, Vector3, WebGLRenderer } from "../three/three.module.min.js";
import { bench } from "../bench/bench.js";
import { poseNow } from "../bench/pose.js";
import { button, make } from "../paper/make.js";
import { EYES, Eyes } from "./eyes.js";
import { Fixings } from "./fixings.js";
import { Harness } from "./harness.js";
import { inks } from "./ink.js";
import { Machine } from "./machine.js";
import { Names } from "./names.js";
import { Rough } from "./rough.js";
import { Swept } from "./swept.js";

// The hand rests after so long [ms]; where drawing is slow it is given more time before all views are drawn.
const RESTS = 90;
const RESTS_SLOW = 400;
// Height of the buttons at the foot of the large view [pixel].
const FOOT = 60;

export class Stage {
  eyes = new Eyes();
  machine = new Machine();
  harness = new Harness([0, 1]);
  before = new Harness([2]);
  fixings = new Fixings();
  swept = new Swept();
  // What is shown beside the machine and harness.
  shows = { before: false, sweep: false, names: true };
  // A proposal's shapes, drawn as a ghost in place of the route as opened.
  ghost = null;
  big = "turn";
  pose = null;
  // The machine, and what is drawn over it.
  #still = new Scene();
  #scene = new Scene();
  #frames = new Map();
  #waits = false;
  #rests = 0;
  #round = 0;
  #size = "";
  // Whether what is named on the large view is what is to be named.
  #named = false;
  // Whether something is being dragged.
  drags = false;
  // Where the stage lies on the page; null: it is to be measured, as are its frames.
  #all = null;

  constructor(root) {
    this.root = root;
    this.readout = make("div.readout", { hidden: true });
    const drawn = drawnOn();
    this.canvas = drawn.canvas;
    root.append(this.canvas, this.readout);
    for (const name of Object.keys(EYES)) this.#frame(name);
    this.names = new Names(this);
    this.#still.add(this.machine.root);
    this.#scene.add(this.harness.root, this.before.root, this.fixings.root, this.swept.root);
    this.renderer = renderer(drawn);
    this.slow = drawn.software;
    if (!this.renderer) root.append(make("p.no-views", {}, "This browser does not draw solids (WebGL 2 is missing or switched off). Lists, charts, questions and printing go on."));
    this.renderer?.setPixelRatio(Math.min(devicePixelRatio, 2));
    if (this.renderer) this.renderer.autoClear = false;
    this.rough = this.renderer && this.slow ? new Rough(this.renderer) : null;
    const resized = new ResizeObserver(() => {
      this.#all = null;
      this.draw();
    });
    for (const one of [root, ...[...this.#frames.values()].map(({ frame }) => frame)]) resized.observe(one);
    bench.on("scene look", () => this.#rebuild());
    bench.on("opened", () => {
      this.ghost = null;
      this.enlarge("turn");
    });
    bench.on("shapes", () => this.#relaid());
    bench.on("pose", () => this.move());
    bench.on("report", () => {
      this.harness.mark(bench.shownReport?.findings ?? []);
      if (!bench.moves) this.#sweep();
      this.draw();
    });
    bench.on("rests", () => this.#sweep());
    bench.on("chosen", () => {
      this.fixings.choose(bench.chosen);
      if (this.pose) this.fixings.move(this.pose);
      // Names find their places anew when the hand rests.
      if (!bench.moves) this.#named = false;
      this.draw();
    });
    this.enlarge("turn");
  }

  #frame(name) {
    const caption = button(EYES[name], () => this.enlarge(name), { class: "caption", "aria-label": `${EYES[name]}: make this view the large one` });
    const labels = make("div.labels", {});
    const frame = make("div.view", {
      "data-eye": name, tabindex: "0", role: "group",
      "aria-label": `${EYES[name]}. Arrow keys turn or shift it, plus and minus zoom, Home shows all.`,
    }, labels, caption);
    this.#frames.set(name, { frame, labels });
    this.root.append(frame);
  }

  frameOf(name) {
    return this.#frames.get(name);
  }

  enlarge(name) {
    this.big = name;
    for (const [eye, { frame }] of this.#frames) frame.classList.toggle("large", eye === name);
    this.#all = null;
    this.draw();
  }

  // Everything anew: other parts, other light.
  #rebuild() {
    const scene = bench.shownScene;
    this.root.classList.toggle("bare", !scene);
    if (!scene) return this.draw();
    this.ink = inks();
    this.machine.build(scene, this.ink);
    this.rough?.forget();
    this.fixings.build(bench.things(), scene, this.ink);
    this.fixings.choose(bench.chosen);
    if (bench.shownShapes) this.#relaid(true);
  }

  // The harness lies otherwise. While one drags only its lines are new, and the machine stays as it is.
  #relaid(anew = false) {
    const { shownScene: scene, shownShapes: shapes } = bench;
    if (!scene || !shapes || !this.ink) return;
    const lengths = shapes.branches.map((branch) => `${branch.name} ${branch.stations.length}`).join();
    if (anew || lengths !== this.laid) {
      this.laid = lengths;
      this.harness.build(scene, shapes.branches, this.ink);
      this.harness.mark(bench.shownReport?.findings ?? []);
    }
    this.#ghosts(scene, shapes, anew);
    if (anew || !bench.tried) {
      this.swept.clear();
      this.#sweep();
    }
    this.move();
    if (!this.eyes.points || this.fitted !== bench.opened) this.fitAll();
  }

  // The room that is swept is drawn anew with what is kept, and with what is tried once all of it was checked.
  #sweep() {
    const { shownScene: scene, shownShapes: shapes } = bench;
    if (!this.shows.sweep) return this.swept.clear();
    if (scene && shapes && this.ink && this.swept.of !== shapes) this.swept.build(scene, shapes, this.ink);
  }

  // The branches of a proposal, or of the route as opened, that lie otherwise than what is shown.
  #ghosts(scene, shapes, anew) {
    const pale = this.ghost ?? (this.shows.before && bench.opened !== shapes ? bench.opened : null);
    const others = pale?.branches.filter((one) => elsewhere(one, shapes)) ?? [];
    const names = others.map((one) => one.name).join("\n");
    if (!anew && pale === this.pale && names === this.paleNames) return;
    this.pale = pale;
    this.paleNames = names;
    this.before.root.visible = Boolean(pale);
    if (pale) this.before.build(scene, others, this.ink);
  }

  show(name, on) {
    this.shows[name] = on;
    this.#relaid(true);
  }

  showGhost(shapes) {
    this.ghost = shapes;
    this.#relaid(true);
  }

  fitAll() {
    this.fitted = bench.opened;
    const points = [];
    const take = (at, matrix, every) => {
      for (let i = 0; i + 2 < at.length; i += 3 * every) {
        const point = new Vector3(at[i], at[i + 1], at[i + 2]);
        points.push(matrix ? point.applyMatrix4(matrix) : point);
      }
    };
    this.machine.root.updateMatrixWorld(true);
    for (const one of this.machine.drawn) {
      const { array } = one.geometry.getAttribute("position");
      take(array, one.matrixWorld, 1 + Math.floor(array.length / 3000));
    }
    // All that the harness takes in its sweep is to be in view.
    for (const { lines } of bench.shownShapes.branches) for (const line of lines) take(line, null, 12);
    this.eyes.fit(points, bench.shownScene);
    this.draw();
  }

  move() {
    const { shownScene: scene, shownShapes: shapes } = bench;
    if (!scene || !shapes) return;
    this.pose = poseNow();
    this.machine.move(this.pose);
    this.harness.move(this.pose.branches);
    this.fixings.move(this.pose);
    if (this.pale && this.pale.poses.length === shapes.poses.length) this.before.move(poseNow(this.pale, scene).branches);
    this.draw();
  }

  // The large view at once; when the hand rests it again, as finely as can be, and the small ones, one a frame: a tablet draws
  // slowly, and the hand may go on meanwhile.
  draw() {
    if (!this.renderer) return;
    clearTimeout(this.#rests);
    const round = (this.#round += 1);
    const rest = ([eye, ...others]) => {
      if (round !== this.#round) return;
      if (!eye) return this.#ready();
      this.#drawn([eye]);
      requestAnimationFrame(() => rest(others));
    };
    const all = [this.big, ...Object.keys(EYES).filter((eye) => eye !== this.big)];
    this.#rests = setTimeout(() => requestAnimationFrame(() => rest(all)), this.slow ? RESTS_SLOW : RESTS);
    if (this.#waits) return;
    this.#waits = true;
    requestAnimationFrame(() => {
      this.#waits = false;
      this.#drawn([this.big], this.drags && this.slow);
    });
  }

  // The first picture that is drawn roughly takes longer than the hand would wait: it is drawn when nothing else is, and drawn
  // over before anybody sees it.
  #ready() {
    if (!this.rough || this.pose === null || this.readied === this.#size) return;
    this.readied = this.#size;
    this.#drawn([this.big], true);
    this.#drawn([this.big]);
  }

  // Sizes are read when they may have changed, not in every frame: reading lays the page out anew.
  #measured() {
    if (this.#all) return this.#all;
    for (const one of this.#frames.values()) one.size = one.frame.getBoundingClientRect();
    return (this.#all = this.root.getBoundingClientRect());
  }

  #drawn(eyes, roughly = false) {
    const all = this.#measured();
    const { renderer } = this;
    const [width, height] = [Math.round(all.width), Math.round(all.height)];
    if (this.#size !== `${width} ${height}`) {
      this.#size = `${width} ${height}`;
      renderer.setSize(width, height, false);
      // The canvas is empty now: the small views are not left so.
      eyes = Object.keys(EYES);
    }
    renderer.setClearColor(new Color((this.ink ?? inks()).paper), 1);
    if (!this.pose || !bench.shownScene) {
      renderer.setScissorTest(false);
      renderer.clear();
      return this.names.clear();
    }
    renderer.setScissorTest(true);
    const large = this.#frames.get(this.big).size;
    this.eyes.aim(this.big, large.width, large.height, FOOT);
    this.fixings.pointer.aim(this.eyes.seen[this.big].mmPerPixel);
    for (const eye of eyes) {
      const at = this.#frames.get(eye).size;
      if (at.width < 2 || at.height < 2) continue;
      const camera = this.eyes.aim(eye, at.width, at.height, eye === this.big ? FOOT : 0);
      // The outlines' width is in pixels of the view.
      for (const rim of [...this.machine.rims, ...this.fixings.rims, ...this.swept.rims]) rim.uniforms.size.value = [at.width, at.height];
      const view = { x: at.left - all.left, y: all.bottom - at.bottom, width: at.width, height: at.height };
      if (roughly && eye === this.big) {
        this.rough.draw(view, this.#still, this.#scene, camera, this.#standing(camera));
        continue;
      }
      renderer.setViewport(view.x, view.y, view.width, view.height);
      renderer.setScissor(view.x, view.y, view.width, view.height);
      renderer.clear();
      renderer.render(this.#still, camera);
      renderer.render(this.#scene, camera);
    }
    if (roughly && this.#named) return this.names.follow();
    if (!eyes.includes(this.big)) return;
    this.names.place();
    this.#named = true;
  }

  // A place in space, in pixels of a view's frame.
  project(name, at) {
    const { size } = this.#frames.get(name);
    const p = at.clone().project(this.eyes.cameras[name]);
    return { x: ((p.x + 1) / 2) * size.width, y: ((1 - p.y) / 2) * size.height };
  }

  // From where the machine is seen, and where its bodies are.
  #standing({ matrixWorld, projectionMatrix }) {
    const stances = Object.values(this.pose.stances).flatMap((stance) => stance.elements);
    return [matrixWorld.elements, projectionMatrix.elements, stances].join();
  }

  // What is being dragged, and how far, beside the large view's caption.
  read(words) {
    this.readout.hidden = !words;
    this.readout.textContent = words ?? "";
  }

  // Goes to a place, from the eye that shows it best.
  look(at, eye = this.big, zoom = 3.2) {
    this.eyes.goTo(eye, at, zoom);
    if (eye !== this.big) this.enlarge(eye);
    this.draw();
  }
}

// Whether a branch lies otherwise than it is shown, in any pose [mm].
function elsewhere({ name, lines }, shapes) {
  const shown = shapes.branches.find((one) => one.name === name)?.lines;
  return !shown || lines.some((line, pose) => line !== shown[pose] && (line.length !== shown[pose]?.length || line.some((x, i) => Math.abs(x - shown[pose][i]) > 0.5)));
}

// A canvas and what draws on it. Without a graphics chip smooth edges cost more than they are worth; whether there is one
// is known only of a canvas that is drawn on already.
function drawnOn() {
  const made = (antialias) => {
    const canvas = make("canvas", { "aria-hidden": "true" });
    return { canvas, context: canvas.getContext("webgl2", { antialias, stencil: true, preserveDrawingBuffer: true }) ?? undefined };
  };
  const plain = made(false);
  if (!plain.context) return plain;
  const told = plain.context.getExtension("WEBGL_debug_renderer_info");
  const software = /swiftshader|llvmpipe|software/i.test(told ? plain.context.getParameter(told.UNMASKED_RENDERER_WEBGL) : "");
  if (software) return { ...plain, software };
  plain.context.getExtension("WEBGL_lose_context")?.loseContext();
  return made(true);
}

// Where a browser cannot draw solids, all else of the page goes on.
function renderer(drawn) {
  try {
    return new WebGLRenderer(drawn);
  } catch {
    return null;
  }
}
