// One strip for each joint: its slider is the scale of the chart above it, so the thumb marks the pose on the curve.

import { bench } from "../bench/bench.js";
import { poseNow, poseWords } from "../bench/pose.js";
import { bare, measure, units } from "../bench/units.js";
import { button, empty, make } from "../paper/make.js";
import { Along } from "./along.js";
import { Play } from "./play.js";
import { strip } from "./strip.js";

const QUANTITIES = {
  inside_radius_mm: "bend, inside radius",
  slack_mm: "slack",
  load: "pull on the joint",
};

export class Motions {
  #what = "inside_radius_mm";
  // The branch that was chosen for the charts; none: that of what is chosen, or of the worst finding.
  #branch = null;
  #rows = new Map();
  // The charts are of what was before: they wait for the hand.
  #late = false;
  along = new Along();

  constructor(root, stage) {
    this.root = root;
    this.stage = stage;
    this.play = new Play();
    bench.on("scene", () => this.build());
    bench.on("report chosen", () => this.charts());
    bench.on("rests", () => this.#late && this.charts());
    // What a finding is about is what the charts show.
    bench.on("found", () => {
      this.#branch = bench.found.branch ?? this.#branch;
      this.charts();
    });
    bench.on("pose", () => this.pose());
    bench.on("shapes", () => this.along.pose());
    bench.on("look", () => this.build());
  }

  build() {
    this.#rows.clear();
    if (!bench.shownScene) return empty(this.root);
    // While a thing is dragged the sliders stay as they are.
    const joints = bench.joints();
    this.words = make("p.pose-words", { "aria-live": "off" });
    const choose = make("select", { "aria-label": "What the charts show", onchange: (event) => { this.#what = event.target.value; this.charts(); } },
      Object.entries(QUANTITIES).map(([key, words]) => make("option", { value: key }, words)));
    choose.value = this.#what;
    const branches = bench.shownScene.branches.map((one) => one.name);
    if (!branches.includes(this.#branch)) this.#branch = null;
    this.of = make("select", { "aria-label": "Branch on the charts", onchange: (event) => { this.#branch = event.target.value; this.charts(); } },
      branches.map((name) => make("option", { value: name }, name)));
    empty(this.root,
      make("div.motions-head", {}, this.words,
        make("label.inline", {}, "Chart ", choose), make("label.inline", {}, "of branch ", this.of),
        button("All at rest", () => bench.turn(bench.restValues()))),
      this.along.root, make(joints.length > 2 ? "div.motions-rows.many" : "div.motions-rows", {}, joints.map((body) => this.#row(body))));
    this.charts();
    this.pose();
  }

  #row(body) {
    const { from, to, unit, said } = body.joint;
    const chart = make("div.chart", {});
    const slider = make("input", {
      type: "range", min: from, max: to, step: unit === "deg" ? 0.5 : Math.max((to - from) / 100, 0.05), value: bench.values[body.name],
      "aria-label": `${body.name}, from ${bound(body, from)} to ${bound(body, to)}`,
      oninput: (event) => bench.turn({ [body.name]: Number(event.target.value) }),
    });
    const number = make("output", {});
    const play = button("Play", () => this.play.toggle(body), { class: "play", "aria-label": `Play ${body.name} from stop to stop` });
    this.play.onchange = () => this.#rows.forEach((row, name) => (row.play.textContent = this.play.playing === name ? "Stop" : "Play"));
    this.#rows.set(body.name, { slider, number, chart, play, body });
    const ends = unit === "deg" && !said ? ["full right", "full left"] : [bound(body, from), bound(body, to)];
    return make("div.motion", {},
      make("div.motion-name", {}, make("b", {}, body.name), " ", number),
      chart, slider,
      make("div.ends", { "aria-hidden": "true" }, ends.map((words) => make("span", {}, words))),
      play);
  }

  charts() {
    if (!this.words || !bench.shownScene) return;
    if ((this.#late = bench.moves)) return;
    const branches = bench.shownScene.branches.map((one) => one.name);
    const worst = bench.shownReport?.findings.find((one) => one.verdict !== "within" && branches.includes(one.branch));
    const branch = bench.chosen?.branch ?? this.#branch ?? worst?.branch ?? branches[0];
    this.of.value = branch;
    const charts = bench.shownReport?.charts;
    for (const [name, row] of this.#rows) {
      const found = charts?.against.find((one) => one.joint === name && one.branch === branch) ?? charts?.against.find((one) => one.joint === name);
      const unit = this.#what === "load" ? found?.load_unit : "mm";
      const values = found?.[this.#what];
      const limit = found?.limits?.[this.#what] ?? null;
      const allowed = limit === null ? null : `${this.#what === "load" ? "at most" : "at least"} ${measure(limit, unit)}`;
      empty(row.chart, found ? strip({
        at: found.values, lines: [{ values }], now: bench.values[name], height: 54,
        limit, both: this.#what === "load", label: allowed, words: allowed && `the limit, in long dashes, is ${allowed}`,
        says: `${QUANTITIES[this.#what]} of ${found.branch} against ${name}`, show: (v) => measure(v, unit),
        onpick: (v) => bench.turn({ [name]: v }),
      }) : make("p.quiet", {}, charts ? "No span crosses this joint." : "being worked out"));
      if (found) row.chart.prepend(make("span.chart-note", {}, extreme(row.body, found, values, unit, this.#what), allowed && !row.chart.querySelector(".limit") ? `, ${allowed}` : ""));
    }
    this.along.paint(branch);
  }

  pose() {
    if (!this.words || !bench.shownShapes) return;
    const { words, how } = poseWords(poseNow());
    this.along.pose();
    empty(this.words, make("b", {}, words), make("span.quiet", {}, ` ${how}`));
    for (const [name, { slider, number, chart, body }] of this.#rows) {
      const value = bench.values[name];
      slider.value = value;
      slider.setAttribute("aria-valuetext", bound(body, value));
      number.textContent = bound(body, value);
      const now = chart.querySelector(".now");
      if (now) {
        const x = (600 * (value - body.joint.from)) / (body.joint.to - body.joint.from || 1);
        now.setAttribute("x1", x);
        now.setAttribute("x2", x);
      }
    }
  }
}

// A joint's value with the words that the file has for its motion; without any, a turn is one of the bars.
export function bound(body, value) {
  const { unit, said } = body.joint;
  const side = value > 0.01 ? 1 : value < -0.01 ? 0 : null;
  const word = side === null ? "" : (said ?? (unit === "deg" ? ["right", "left"] : [null, null]))[side];
  const size = word ? Math.abs(value) : value;
  return `${unit === "deg" ? `${size.toFixed(1).replace(/\.0$/, "")}°` : `${bare(size, 1)} ${units.sign}`}${word ? ` ${word}` : ""}`;
}

function extreme(body, found, values, unit, what) {
  const known = values.map((v, i) => [v, i]).filter(([v]) => v !== null);
  if (!known.length) return "straight throughout";
  const [value, i] = known.reduce((a, b) => ((what === "load" ? Math.abs(b[0]) > Math.abs(a[0]) : b[0] < a[0]) ? b : a));
  // No radius is left inside of a bend that is tighter than half the branch is thick.
  if (what === "inside_radius_mm" && value <= 0) return `${found.branch}: kinked at ${bound(body, found.values[i])}`;
  return `${found.branch}: ${what === "load" ? "most" : "least"} ${measure(value, unit)} at ${bound(body, found.values[i])}`;
}
