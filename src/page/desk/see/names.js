// Names on the large view: fixings, numbered findings, hot parts. Each is put where it covers no other; what finds no room is
// left to the lists.

import { Vector3 } from "../three/three.module.min.js";
import { bench } from "../bench/bench.js";
import { gathered } from "../bench/gathered.js";
import { measure } from "../bench/units.js";
import { make } from "../paper/make.js";
import { placeOn } from "./fixings.js";

const MOST_FINDINGS = 9;

export class Names {
  constructor(stage) {
    this.stage = stage;
  }

  clear() {
    for (const eye of Object.keys(this.stage.eyes.cameras)) this.stage.frameOf(eye).labels.replaceChildren();
  }

  place() {
    this.clear();
    const { stage } = this;
    const eye = stage.big;
    const { size, labels } = stage.frameOf(eye);
    const taken = [{ x: 0, y: 0, w: 250, h: 50 }];
    const limits = { w: size.width, h: size.height };
    const put = (at, element, width, first) => {
      const p = stage.project(eye, at);
      if (p.x < 0 || p.y < 0 || p.x > limits.w || p.y > limits.h) return;
      const [w, h] = [width, 24];
      for (const [dx, dy] of first ? AROUND : AROUND.slice(0, 6)) {
        const spot = { x: p.x + (dx > 0 ? dx : dx < 0 ? dx - w : -w / 2), y: p.y + dy - h / 2, w, h };
        if (spot.x < 2 || spot.y < 2 || spot.x + w > limits.w - 2 || spot.y + h > limits.h - 2) continue;
        if (taken.some((one) => spot.x < one.x + one.w && one.x < spot.x + w && spot.y < one.y + one.h && one.y < spot.y + h)) continue;
        taken.push(spot);
        element.style.setProperty("transform", `translate(${Math.round(spot.x)}px, ${Math.round(spot.y)}px)`);
        element.style.setProperty("width", `${w}px`);
        labels.append(element, leader(p, spot));
        return;
      }
    };
    for (const { finding, also, number } of shownFindings()) {
      const shape = stage.pose.branches.find((one) => one.name === finding.branch);
      for (const at of shape ? apart([finding, ...also]) : []) put(placeOn(shape, at).at, make(`span.flag.${finding.verdict}`, {}, String(number)), 26, true);
    }
    if (!stage.shows.names) return;
    const chosen = bench.chosen;
    const marks = [...stage.fixings.marks].sort((a, b) => (b.thing.name === chosen?.name) - (a.thing.name === chosen?.name));
    const said = new Set();
    for (const { thing, at } of marks) {
      if (thing.it.waypoint && thing.name !== chosen?.name) continue;
      // Where branches meet, each of them has the same fixing.
      if (said.has(thing.name)) continue;
      said.add(thing.name);
      const same = thing.name === chosen?.name && thing.branch === chosen?.branch;
      put(at, make(same ? "span.name.picked" : "span.name", {}, thing.name), 14 + 6.6 * thing.name.length, same);
    }
    for (const part of bench.shownScene.parts) {
      const same = chosen?.kind === "part" && chosen.name === part.name;
      if ((part.hot_c === null && !same) || !(part.mesh ?? part.points)) continue;
      const middle = partMiddle(part).applyMatrix4(stage.pose.stances[part.body]);
      const words = part.hot_c === null ? part.name : `${part.name} ${measure(part.hot_c, "degc")}`;
      put(middle, make(same ? "span.name.picked" : "span.name.hot", {}, words), 14 + 6.6 * words.length, same);
    }
  }
}

// The findings that are numbered on the views and in the list: those over a limit, then those that are close.
export function shownFindings() {
  const all = bench.shownReport?.findings ?? [];
  const rank = { over: 0, close: 1 };
  const first = all.filter((one) => one.verdict in rank && !one.follows_from).sort((a, b) => rank[a.verdict] - rank[b.verdict]);
  return gathered(first)
    .map((one, i) => ({ ...one, number: i + 1 }))
    .slice(0, MOST_FINDINGS);
}

// The places along the branch that are not the same under a finger [mm].
function apart(findings) {
  const places = [];
  for (const { at_mm: at } of findings) if (at !== null && !places.some((one) => Math.abs(one - at) < 15)) places.push(at);
  return places;
}

export function partMiddle(part) {
  if (part.middle) return new Vector3(...part.middle);
  const { low, high } = box(part);
  part.middle = low.map((x, i) => (x + high[i]) / 2);
  return new Vector3(...part.middle);
}

function box(part) {
  const bytes = Uint8Array.from(atob(part.mesh?.at ?? part.points), (c) => c.charCodeAt(0));
  const at = new Float32Array(bytes.buffer);
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < at.length; i += 1) {
    low[i % 3] = Math.min(low[i % 3], at[i]);
    high[i % 3] = Math.max(high[i % 3], at[i]);
  }
  return { low, high };
}

const AROUND = [[16, -20], [-16, -20], [16, 18], [-16, 18], [0, -34], [0, 34], [34, -42], [-34, -42], [34, 42], [-34, 42], [60, 0], [-60, 0]];

// A hairline from the place to its name.
function leader(p, spot) {
  const x = Math.min(Math.max(p.x, spot.x), spot.x + spot.w);
  const y = Math.min(Math.max(p.y, spot.y), spot.y + spot.h);
  const long = Math.hypot(x - p.x, y - p.y);
  const turn = Math.atan2(y - p.y, x - p.x);
  return make("span.leader", { style: { width: `${long}px`, transform: `translate(${p.x}px, ${p.y}px) rotate(${turn}rad)` } });
}
