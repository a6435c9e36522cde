// One strip for each joint: its slider is the scale of the chart above it, so the thumb marks the pose on the curve.

import { bench } from "../bench/bench.js";
import { poseNow, poseWords } from "../bench/pose.js";
import { bare, length, measure, units } from "../bench/units.js";
import { button, empty, make } from "../paper/make.js";
import { Play } from "./play.js";
import { strip } from "./strip.js";

const QUANTITIES = {
  inside_radius_mm: "bend, inside radius",
  slack_mm: "slack",
  load: "pull on the joint",
};

export class Motions {
  #what = "inside_radius_mm";
  #branch = null;
  #rows = new Map();

  constructor(root, stage) {
    this.root = root;
    this.stage = stage;
    this.play = new Play();
    bench.on("scene", () => this.build());
    bench.on("report chosen", () => this.charts());
    bench.on("pose", () => this.pose());
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
    if (!branches.includes(this.#branch)) this.#branch = branches[0];
    const of = make("select", { "aria-label": "Branch on the charts", onchange: (event) => { this.#branch = event.target.value; this.charts(); } },
      branches.map((name) => make("option", { value: name }, name)));
    of.value = this.#branch;
    empty(this.root,
      make("div.motions-head", {}, this.words,
        make("label.inline", {}, "Chart ", choose), make("label.inline", {}, "of branch ", of),
        button("All at rest", () => bench.turn(bench.restValues()))),
      this.#alongRow(), make(joints.length > 2 ? "div.motions-rows.many" : "div.motions-rows", {}, joints.map((body) => this.#row(body))));
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
    const turned = unit === "deg" ? ["full right", "full left"] : [said?.[0] ? `${said[0]} ${bound(body, from)}` : bound(body, from), `${said?.[1] ?? ""} ${bound(body, to)}`];
    return make("div.motion", {},
      make("div.motion-name", {}, make("b", {}, body.name), " ", number),
      chart, slider,
      make("div.ends", { "aria-hidden": "true" }, make("span", {}, turned[0]), make("span", {}, turned[1])),
      play);
  }

  #alongRow() {
    this.along = make("div.chart", {});
    this.alongEnds = make("div.ends", { "aria-hidden": "true" });
    this.alongName = make("div.motion-name", {});
    return make("div.along", {}, this.alongName, make("div.motion-scale", {}, this.along, this.alongEnds));
  }

  charts() {
    if (!this.along || !bench.shownScene) return;
    const branch = bench.chosen?.branch ?? this.#branch;
    const charts = bench.shownReport?.charts;
    for (const [name, row] of this.#rows) {
      const found = charts?.against.find((one) => one.joint === name && one.branch === branch) ?? charts?.against.find((one) => one.joint === name);
      const unit = this.#what === "load" ? found?.load_unit : "mm";
      const values = found?.[this.#what];
      empty(row.chart, found ? strip({
        at: found.values, lines: [{ values }], now: bench.values[name], height: 54,
        says: `${QUANTITIES[this.#what]} of ${found.branch} against ${name}`, show: (v) => measure(v, unit),
        onpick: (v) => bench.turn({ [name]: v }),
      }) : make("p.quiet", {}, charts ? "No span crosses this joint." : "being worked out"));
      if (found) row.chart.prepend(make("span.chart-note", {}, worst(found, values, unit, this.#what)));
    }
    const along = charts?.along.find((one) => one.branch === branch);
    empty(this.alongName, make("b", {}, `${branch}`), make("span.quiet", {}, "tightest bend along it, in all poses"));
    empty(this.along, along ? strip({
      at: along.at_mm, lines: [{ values: along.inside_radius_mm }], limit: along.radius_limit_mm, now: this.#station(branch), height: 54,
      says: `Least inside bend radius along ${branch}`, show: length, words: "the dashed line is the limit",
    }) : make("p.quiet", {}, "being worked out"));
    const fixings = bench.shownScene.branches.find((one) => one.name === branch)?.lay.filter((one) => one.station_mm !== null && one.station_mm !== undefined) ?? [];
    empty(this.alongEnds, fixings.map((one) => {
      const mark = make("span.station", {}, one.name ?? "");
      mark.style.setProperty("left", `${(100 * one.station_mm) / (along?.at_mm.at(-1) || fixings.at(-1).station_mm || 1)}%`);
      return mark;
    }));
  }

  #station(branch) {
    const chosen = bench.chosen;
    return chosen?.branch === branch ? (chosen.it.station_mm ?? null) : null;
  }

  pose() {
    if (!this.words || !bench.shownShapes) return;
    const { words, how } = poseWords(poseNow());
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

export const bound = (body, value) =>
  body.joint.unit === "deg" ? `${Math.abs(value).toFixed(1).replace(/\.0$/, "")}°${value > 0.01 ? " left" : value < -0.01 ? " right" : ""}` : `${bare(value, 1)} ${units.sign}`;

function worst(found, values, unit, what) {
  const known = values.map((v, i) => [v, i]).filter(([v]) => v !== null);
  if (!known.length) return "straight throughout";
  const [value, i] = known.reduce((a, b) => ((what === "load" ? Math.abs(b[0]) > Math.abs(a[0]) : b[0] < a[0]) ? b : a));
  const at = found.unit === "deg" ? `${Math.abs(found.values[i]).toFixed(0)}° ${found.values[i] > 0 ? "left" : found.values[i] < 0 ? "right" : "straight"}`.replace("0° straight", "straight ahead") : length(found.values[i]);
  return `${found.branch}: ${what === "load" ? "most" : "least"} ${measure(value, unit)} at ${at}`;
}
