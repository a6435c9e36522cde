// One branch from end to end: its tightest bend in all poses against its limit, how it bends in the pose that is shown, and
// where its fixings sit.

import { bench } from "../bench/bench.js";
import { poseNow } from "../bench/pose.js";
import { length } from "../bench/units.js";
import { floats } from "../link/unpack.js";
import { empty, make } from "../paper/make.js";
import { strip } from "./strip.js";

export class Along {
  #chart = make("div.chart", {});
  #ends = make("div.ends", { "aria-hidden": "true" });
  #name = make("div.motion-name", {});
  root = make("div.along", {}, this.#name, make("div.motion-scale", {}, this.#chart, this.#ends));
  #waits = false;

  paint(branch) {
    this.branch = branch;
    const told = bench.shownReport?.charts.along.find((one) => one.branch === branch);
    this.told = told;
    empty(this.#name, make("b", {}, branch), make("span.quiet", {}, told ? inWords(branch) : "tightest bend along it, in all poses"));
    this.#curve();
    const fixings = bench.shownScene.branches.find((one) => one.name === branch)?.lay.filter((one) => one.station_mm !== null && one.station_mm !== undefined) ?? [];
    empty(this.#ends, fixings.map((one) => {
      const mark = make("span.station", {}, one.name ?? "");
      mark.style.setProperty("left", `${(100 * one.station_mm) / (told?.at_mm.at(-1) || fixings.at(-1).station_mm || 1)}%`);
      return mark;
    }));
  }

  // The pose that is shown is another, or the branch lies otherwise in it: once a frame.
  pose() {
    if (!this.told || this.#waits) return;
    this.#waits = true;
    requestAnimationFrame(() => {
      this.#waits = false;
      if (bench.shownScene) this.#curve();
    });
  }

  #curve() {
    const { told, branch } = this;
    if (!told) return empty(this.#chart, make("p.quiet", {}, "being worked out"));
    const now = bendNow(branch, told.at_mm);
    const chosen = bench.chosen;
    return empty(this.#chart, strip({
      at: told.at_mm, lines: [{ values: told.inside_radius_mm }, ...(now ? [{ values: now, dash: true }] : [])], limit: told.radius_limit_mm,
      now: chosen?.branch === branch ? (chosen.it.station_mm ?? null) : null, height: 54,
      says: `Least inside bend radius along ${branch}`, show: length, words: "the long dashes are the limit, the short ones this pose",
    }));
  }
}

// Where it comes nearest to its limit, as the check found it.
function inWords(branch) {
  const bends = bench.shownReport.findings.filter((one) => one.branch === branch && one.check.startsWith("bend radius"));
  if (!bends.length) return "tightest bend along it, in all poses";
  const room = (one) => one.value / one.limit;
  const worst = bends.reduce((a, b) => (room(b) < room(a) ? b : a));
  return `${room(worst) < 1 ? "beyond" : "nearest to"} its limit at ${length(worst.at_mm)}: ${worst.value > 0 ? length(worst.value) : "kinked"}, at least ${length(worst.limit)}; short dashes: this pose`;
}

// The inside radius in the pose that is shown, at the chart's places [mm]; none where no solved pose is near.
function bendNow(name, places) {
  const shape = bench.shownShapes?.branches.find((one) => one.name === name);
  const radius = bench.shownScene.branches.find((one) => one.name === name)?.diameter_mm / 2;
  const packed = shape?.radii?.[poseNow().id];
  if (!packed || !Number.isFinite(radius)) return null;
  const radii = floats(packed);
  let i = 0;
  return places.map((at) => {
    while (i + 2 < radii.length && shape.stations[i + 1] < at) i += 1;
    const share = Math.min(Math.max((at - shape.stations[i]) / (shape.stations[i + 1] - shape.stations[i] || 1), 0), 1);
    return radii[i] + share * (radii[i + 1] - radii[i]) - radius;
  });
}
