// Where everything is at the joint values that are shown. Between two solved poses of one joint it is interpolated;
// where several joints are off rest the changes are added up for the moment, and the solver is asked for the pose itself.

import { Matrix4, Quaternion, Vector3 } from "../three/three.module.min.js";
import { get } from "../link/call.js";
import { unpackShapes } from "../link/unpack.js";
import { bench } from "./bench.js";

// Poses solved on asking, by their values.
let asked = { rev: -1, key: "", shapes: null };
let timer = 0;

const near = (a, b) => Math.abs(a - b) < 1e-6;

// The shapes now: {stances: {body: Matrix4}, branches: [{name, stations, line}], how, id}.
export function poseNow(shapes = bench.shownShapes, scene = bench.shownScene) {
  const values = bench.values;
  const off = bench.joints().filter((body) => !near(values[body.name] ?? 0, body.joint.rest));
  const exact = scene.poses.findIndex((pose) => bench.joints().every((b) => near(pose.values[b.name] ?? 0, values[b.name])));
  if (exact >= 0 && shapes.poses[exact]) return mixed(shapes, [[exact, 1]], "solved", exact);
  if (off.length <= 1) {
    const joint = off[0]?.name ?? bench.joints()[0]?.name;
    const [a, b, share] = neighbours(scene, joint, values[joint]);
    return between(shapes, a, b, share, share < 0.5 ? a : b);
  }
  const key = JSON.stringify(values);
  if (!bench.tried && asked.rev === bench.state.rev && asked.key === key) return { ...mixed(asked.shapes, [[0, 1]], "solved", -1) };
  if (!bench.tried) askFor(key);
  return summed(shapes, scene, off);
}

// The poses of the sweep that what is shown is made of.
export function posesShown() {
  const pose = poseNow();
  if (pose.id >= 0) return [...new Set(pose.from)];
  const off = bench.joints().filter((body) => !near(bench.values[body.name] ?? 0, body.joint.rest));
  return [...new Set(summed(bench.shownShapes, bench.shownScene, off).from)];
}

// The solved poses on both sides of a value of one joint with the others at rest.
function neighbours(scene, joint, value) {
  const rest = bench.restValues();
  const row = scene.poses
    .map((pose, id) => ({ id, at: pose.values[joint], alone: Object.keys(rest).every((n) => n === joint || near(pose.values[n] ?? 0, rest[n])) }))
    .filter((one) => one.alone)
    .sort((a, b) => a.at - b.at);
  if (!row.length) return [0, 0, 0];
  const after = row.findIndex((one) => one.at >= value);
  if (after < 0) return [row.at(-1).id, row.at(-1).id, 0];
  if (after === 0) return [row[0].id, row[0].id, 0];
  const [a, b] = [row[after - 1], row[after]];
  return [a.id, b.id, (value - a.at) / (b.at - a.at)];
}

function between(shapes, a, b, share, id) {
  const pose = mixed(shapes, [[a, 1 - share], [b, share]], "between", id);
  pose.stances = blend(shapes.poses[a].stances, shapes.poses[b].stances, share);
  return pose;
}

// Weighted lines; stances of the first.
function mixed(shapes, weights, how, id) {
  const branches = shapes.branches.map(({ name, stations, lines }) => {
    const line = new Float32Array(lines[weights[0][0]].length);
    for (const [pose, weight] of weights) {
      const from = lines[pose];
      if (weight) for (let i = 0; i < line.length; i += 1) line[i] += weight * from[i];
    }
    return { name, stations, line };
  });
  const stances = Object.fromEntries(Object.entries(shapes.poses[weights[0][0]].stances).map(([n, m]) => [n, new Matrix4().fromArray(m)]));
  return { stances, branches, how, id, from: weights.map(([pose]) => pose), converged: weights.every(([pose]) => shapes.poses[pose].converged !== false) };
}

function blend(from, to, share) {
  const out = {};
  for (const [name, first] of Object.entries(from)) {
    const [pa, qa, pb, qb, one] = [new Vector3(), new Quaternion(), new Vector3(), new Quaternion(), new Vector3()];
    new Matrix4().fromArray(first).decompose(pa, qa, one);
    new Matrix4().fromArray(to[name] ?? first).decompose(pb, qb, one);
    out[name] = new Matrix4().compose(pa.lerp(pb, share), qa.slerp(qb, share), new Vector3(1, 1, 1));
  }
  return out;
}

// Rest, and what each joint alone changes about it.
function summed(shapes, scene, off) {
  const rest = scene.rest;
  const weights = [[rest, 1 - off.length]];
  const motions = {};
  for (const body of off) {
    const [a, b, share] = neighbours(scene, body.name, bench.values[body.name]);
    weights.push([a, 1 - share], [b, share]);
    motions[body.name] = true;
  }
  const pose = mixed(shapes, weights, "sum", rest);
  for (const body of scene.bodies) if (!body.breakout) pose.stances[body.name] = stance(scene, body);
  return pose;
}

// A body's motion from its joint and those below it.
function stance(scene, body) {
  const own = new Matrix4();
  const value = bench.values[body.name] ?? 0;
  if (body.joint?.kind === "slides") own.makeTranslation(new Vector3(...body.joint.axis).normalize().multiplyScalar(value));
  if (body.joint?.kind === "turns") {
    const at = new Vector3(...body.joint.through_mm);
    own.makeRotationAxis(new Vector3(...body.joint.axis).normalize(), (value * Math.PI) / 180);
    own.premultiply(new Matrix4().makeTranslation(at)).multiply(new Matrix4().makeTranslation(at.clone().negate()));
  }
  const under = body.on && scene.bodies.find((one) => one.name === body.on);
  return under ? stance(scene, under).multiply(own) : own;
}

function askFor(key) {
  clearTimeout(timer);
  const rev = bench.state.rev;
  timer = setTimeout(async () => {
    try {
      const shapes = unpackShapes(await get(`pose?values=${encodeURIComponent(key)}`));
      if (rev !== bench.state.rev || key !== JSON.stringify(bench.values)) return;
      asked = { rev, key, shapes };
      bench.tell("pose");
    } catch {
      // The sum stays on the screen and is called what it is.
    }
  }, 120);
}

// The pose that is shown, in words.
export function poseWords(pose) {
  const scene = bench.shownScene;
  const said = bench.joints()
    .filter((body) => !near(bench.values[body.name], body.joint.rest))
    .map((body) => motionWords(body, bench.values[body.name]));
  const words = said.length ? said.join(", ") : "at rest";
  const how = { solved: "solved", between: "between two solved poses", sum: "roughly, being solved" }[pose.how];
  return { words: scene.poses[pose.how === "solved" ? pose.id : -1]?.words ?? words, how };
}

export function motionWords(body, value) {
  const { said, unit, rest, from, to } = body.joint;
  const number = unit === "deg" ? `${Math.abs(value).toFixed(0)}°` : `${value.toFixed(1)} mm`;
  const word = near(value, rest) ? "at rest" : value > 0 ? said?.[1] : said?.[0];
  const turned = unit === "deg" ? (value > 0 ? "left" : "right") : "";
  const full = near(value, from) || near(value, to) ? "full " : "";
  if (near(value, rest)) return `${body.name} ${unit === "deg" ? "straight" : "at rest"}`;
  return `${body.name} ${full}${word ?? turned} ${number}`.replace(/\s+/g, " ");
}
