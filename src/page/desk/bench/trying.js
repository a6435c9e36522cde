// Tries edits while a thing is dragged or a number is turned. One is asked at a time, and while the hand goes on only for where
// the branches lie in the poses that are looked at: the newest goes out as soon as the one before it has shown that. When the
// hand rests, all poses and the check follow; a hand that goes on cuts them off, which tells the server to stop.

import { lines } from "../link/call.js";
import { unpackShapes } from "../link/unpack.js";
import { sayFault } from "../paper/say.js";
import { bench } from "./bench.js";
import { posesShown } from "./pose.js";
import { units } from "./units.js";

// So long the newest try waits for the first shapes of the one before it [ms]: cut off sooner, a hand that never rests would
// see none of them.
const WAITS = 400;
// The hand rests when it asked for nothing new after so long [ms].
const RESTS = 100;

let ticket = 0;
// What is being asked: {ticket, rev, abort, whole}.
let going = null;
// What is asked next: {edits, whole}, always the newest.
let next = null;
let timer = 0;
// What is tried and could be kept: {edits, says}; nothing while a thing is only being dragged.
export let offer = null;
// What was asked for last, as it was: {edits, says}.
let tries = null;

// In other units it is told anew.
bench.on("units", () => tries && tryOut(tries.edits, tries.says));

// `says`: tells in words what is tried, where that can be kept.
export function tryOut(edits, says = null) {
  tries = { edits, says };
  offer = says && { edits, says };
  const waits = going && !going.whole;
  const first = !next;
  next = { edits, whole: false };
  if (!waits) return ask();
  if (first) timer = setTimeout(ask, WAITS);
}

// Asks for what is newest; what was asked before it is cut off.
async function ask() {
  const { edits, whole } = next;
  quiet();
  const abort = new AbortController();
  const mine = (going = { ticket: (ticket += 1), rev: bench.state.rev, abort, whole });
  const body = { rev: mine.rev, edits, ticket: mine.ticket, units: units.name, poses: whole ? [] : posesShown(), first: !whole };
  try {
    for await (const line of lines("try", { body, signal: abort.signal })) {
      // What was kept meanwhile makes this old.
      if (mine !== going || mine.rev !== bench.state.rev) break;
      if (line.error) throw Object.assign(new Error(line.error.says), line.error);
      take(line);
      // Where no first answer can be told, all of it comes at once.
      mine.whole ||= Boolean(line.shapes?.exact);
      if (line.shapes && next) break;
    }
  } catch (error) {
    if (error.name === "AbortError" || mine !== going) return;
    // What cannot be tried is said, unless the hand has gone on.
    if (!next) sayFault(error);
    mine.whole = true;
  }
  if (mine !== going) return;
  abort.abort();
  going = null;
  if (next) return void ask();
  if (mine.whole || mine.rev !== bench.state.rev) return;
  next = { edits, whole: true };
  timer = setTimeout(() => mine.rev === bench.state.rev && ask(), RESTS);
}

// Nothing is being asked.
function quiet() {
  clearTimeout(timer);
  next = null;
  going?.abort.abort();
  going = null;
}

// Nothing is tried any more: what is kept is shown again.
export function letGo() {
  offer = tries = null;
  quiet();
  if (!bench.tried) return;
  bench.tried = null;
  for (const name of ["scene", "shapes", "report"]) bench.tell(name);
}

// Stops asking, but leaves on the screen what was found until the server has kept it.
export function settle() {
  offer = tries = null;
  quiet();
}

// Keeps what is tried.
export async function keepTried() {
  if (!offer) return;
  const { edits, says } = offer;
  settle();
  await bench.edit(edits, says());
}

function take(line) {
  const tried = (bench.tried ??= {});
  if (line.scene) {
    tried.scene = line.scene;
    bench.tell("scene");
  }
  if (line.points) {
    tried.points = line.points;
    bench.tell("points");
  }
  if (line.shapes) {
    const shapes = unpackShapes(line.shapes);
    tried.shapes = together(shapes.of ? someOf(shapes) : shapes);
    tried.checked = false;
    bench.tell("shapes");
  }
  if (line.report) {
    tried.report = line.report;
    tried.checked = true;
    bench.tell("report");
  }
}

// A first answer holds only the poses `of` which it tells: in the others the harness stays for the moment as it was shown.
function someOf(shapes) {
  const shown = bench.shownShapes;
  const branches = shapes.branches.map(({ name, stations, lines, radii }) => {
    const was = shown.branches.find((branch) => branch.name === name);
    // Another number of points: what is not told yet is drawn as what is.
    const same = was?.stations.length === stations.length;
    const all = shown.poses.map((_, id) => (same ? was.lines[id] : lines[0]));
    const bent = shown.poses.map((_, id) => (same ? was.radii?.[id] : null));
    shapes.of.forEach((id, nth) => {
      all[id] = lines[nth];
      bent[id] = radii[nth];
    });
    return { name, stations, lines: all, radii: bent };
  });
  const poses = shown.poses.map((pose, id) => {
    const nth = shapes.of.indexOf(id);
    return nth < 0 ? pose : { ...pose, converged: shapes.poses[nth].converged, stances: shapes.poses[nth].stances ?? pose.stances };
  });
  return { rev: shapes.rev, poses, branches };
}

// An answer holds only the branches that the edit reaches, and where bodies are only if they move otherwise: the rest is
// as it is kept.
function together(shapes) {
  const before = bench.shapes;
  const known = new Set(shapes.branches.map((branch) => branch.name));
  if (!before || before.poses.length !== shapes.poses.length) return shapes;
  const others = before.branches.filter((branch) => !known.has(branch.name));
  const poses = shapes.poses.map((pose, id) => ({ ...pose, stances: pose.stances ?? before.poses[id].stances }));
  return { ...shapes, poses, branches: [...shapes.branches, ...others] };
}
