// Names on the large view: numbered findings, fixings, hot parts. Each is put where it covers no other and as little of the
// harness as can be; what finds no room is left to the lists.

import { Vector3 } from "../three/three.module.min.js";
import { bench } from "../bench/bench.js";
import { gathered } from "../bench/gathered.js";
import { measure } from "../bench/units.js";
import { make } from "../paper/make.js";
import { placeOn } from "./fixings.js";

const MOST_FINDINGS = 9;
// Each name of a hot part has so much of the view to itself [pixel²]; the others are hatched like it and listed.
const ROOM = 150000;
// The harness is looked at in every so manieth of its places.
const EVERY = 3;

export class Names {
  // What is placed: {at, p, spot, element, line}, with the place in space, which goes along with a fixing.
  #placed = [];

  constructor(stage) {
    this.stage = stage;
  }

  clear() {
    this.#placed = [];
    for (const eye of Object.keys(this.stage.eyes.cameras)) this.stage.frameOf(eye).labels.replaceChildren();
  }

  // While the hand drags something on the names go along with what they name, and find their places anew when it rests.
  follow() {
    for (const one of this.#placed) {
      const p = this.stage.project(this.stage.big, one.at);
      const [dx, dy] = [p.x - one.p.x, p.y - one.p.y];
      if (Math.abs(dx) + Math.abs(dy) < 0.5) continue;
      one.p = p;
      one.spot.x += dx;
      one.spot.y += dy;
      one.element.style.setProperty("transform", over(one.spot));
      one.line.style.setProperty("transform", laid(p, one.line.turn));
    }
  }

  place() {
    this.clear();
    const { stage } = this;
    const eye = stage.big;
    const { size, labels } = stage.frameOf(eye);
    // The view's caption, and the buttons at its foot.
    const taken = [{ x: 0, y: 0, w: 250, h: 50 }, { x: 0, y: size.height - 62, w: 460, h: 62 }];
    const limits = { w: size.width, h: size.height };
    const lies = this.#harness(eye);
    const put = (at, element, width, first) => {
      const p = stage.project(eye, at);
      if (p.x < 0 || p.y < 0 || p.x > limits.w || p.y > limits.h) return;
      const [w, h] = [width, 24];
      let best = null;
      for (const [dx, dy] of first ? AROUND : AROUND.slice(0, 8)) {
        const spot = { x: p.x + (dx > 0 ? dx : dx < 0 ? dx - w : -w / 2), y: p.y + dy - h / 2, w, h };
        if (spot.x < 2 || spot.y < 2 || spot.x + w > limits.w - 2 || spot.y + h > limits.h - 2) continue;
        if (taken.some((one) => spot.x < one.x + one.w && one.x < spot.x + w && spot.y < one.y + one.h && one.y < spot.y + h)) continue;
        const covers = lies.reduce((sum, one) => sum + (one.x > spot.x - 2 && one.x < spot.x + w + 2 && one.y > spot.y && one.y < spot.y + h), 0);
        if (!best || covers < best.covers) best = { spot, covers };
        if (!covers) break;
      }
      if (!best) return;
      const { spot } = best;
      taken.push(spot);
      element.style.setProperty("transform", over(spot));
      element.style.setProperty("width", `${w}px`);
      const line = leader(p, spot);
      labels.append(element, line);
      this.#placed.push({ at, p, spot, element, line });
    };
    for (const { finding, also, number } of shownFindings()) {
      const shape = stage.pose.branches.find((one) => one.name === finding.branch);
      for (const at of shape ? apart([finding, ...also]) : []) put(placeOn(shape, at).at, make(`span.flag.${finding.verdict}`, {}, String(number)), 26, true);
    }
    // A place where to look for a fault, as its answer counts it.
    const { found } = bench;
    const along = found?.rank && stage.pose.branches.find((one) => one.name === found.branch);
    if (along) put(placeOn(along, found.at_mm).at, make("span.name.picked", {}, `place ${found.rank}`), 66, true);
    if (!stage.shows.names) return;
    const chosen = bench.chosen;
    const nameOf = ({ part, same, urgent }) => {
      const middle = partMiddle(part).applyMatrix4(stage.pose.stances[part.body]);
      const words = part.hot_c === null ? part.name : `${part.name} ${measure(part.hot_c, "degc")}`;
      put(middle, make(same ? "span.name.picked" : "span.name.hot", {}, words), 14 + 6.6 * words.length, same || urgent);
    };
    const parts = namedParts(limits.w * limits.h);
    // What a finding over its limit or close to it is about has its room before the fixings have theirs.
    parts.filter((one) => one.urgent).forEach(nameOf);
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
    parts.filter((one) => !one.urgent).forEach(nameOf);
  }

  // Where the harness lies, in pixels of a view.
  #harness(eye) {
    const points = [];
    for (const { line } of this.stage.pose.branches)
      for (let i = 0; i + 2 < line.length; i += 3 * EVERY) points.push(this.stage.project(eye, new Vector3(line[i], line[i + 1], line[i + 2])));
    return points;
  }
}

// The parts that are named on a view of this size [pixel²]: what is chosen, and of the hot ones as many as there is room for,
// those first that a finding is about: the worst of them, then those that come nearest to a limit, then the hottest.
function namedParts(size) {
  const { chosen, shownScene: scene, shownReport: report } = bench;
  const rank = { over: 2, close: 1, within: 0 };
  const about = (part) => (report?.findings ?? []).filter((one) => one.subject === part.name || one.place?.includes(part.name));
  const all = scene.parts.filter((part) => part.mesh ?? part.points).map((part) => {
    const worst = about(part).map((one) => 1e3 * rank[one.verdict] + Math.min(one.use_of_limit ?? 999, 999));
    const same = chosen?.kind === "part" && chosen.name === part.name;
    const concern = Math.max(-1, ...worst);
    return { part, same, concern, urgent: same || concern >= 1e3 };
  });
  const hot = all.filter(({ part, same }) => part.hot_c !== null && !same).sort((a, b) => b.concern - a.concern || b.part.hot_c - a.part.hot_c);
  return [...all.filter((one) => one.same), ...hot.slice(0, Math.max(Math.round(size / ROOM), 1))];
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
  const line = make("span.leader", { style: { width: `${long}px`, transform: laid(p, turn) } });
  line.turn = turn;
  return line;
}

const over = (spot) => `translate(${Math.round(spot.x)}px, ${Math.round(spot.y)}px)`;
const laid = (p, turn) => `translate(${p.x}px, ${p.y}px) rotate(${turn}rad)`;
