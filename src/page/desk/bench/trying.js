// Tries edits while a thing is dragged or a number is turned. Only the newest counts: older answers are dropped and
// their calls cut off, which tells the server to stop.

import { lines } from "../link/call.js";
import { unpackShapes } from "../link/unpack.js";
import { sayFault } from "../paper/say.js";
import { bench } from "./bench.js";
import { posesShown } from "./pose.js";
import { units } from "./units.js";

let ticket = 0;
let going = null;
// What is tried and could be kept: {edits, says}; nothing while a thing is only being dragged.
export let offer = null;

export async function tryOut(edits, says = null) {
  offer = says ? { edits, says } : null;
  const mine = (ticket += 1);
  going?.abort();
  const abort = (going = new AbortController());
  const { rev } = bench.state;
  const body = { rev, edits, ticket: mine, units: units.name, poses: posesShown() };
  try {
    for await (const line of lines("try", { body, signal: abort.signal })) {
      // What was kept meanwhile makes this old.
      if (mine !== ticket || rev !== bench.state.rev) return;
      if (line.error) throw Object.assign(new Error(line.error.says), line.error);
      take(line);
    }
  } catch (error) {
    if (error.name === "AbortError" || mine !== ticket) return;
    sayFault(error);
  }
}

// Nothing is tried any more: what is kept is shown again.
export function letGo() {
  offer = null;
  ticket += 1;
  going?.abort();
  going = null;
  if (!bench.tried) return;
  bench.tried = null;
  for (const name of ["scene", "shapes", "report"]) bench.tell(name);
}

// Stops asking, but leaves on the screen what was found until the server has kept it.
export function settle() {
  offer = null;
  ticket += 1;
  going?.abort();
  going = null;
}

// Keeps what is tried.
export async function keepTried() {
  if (!offer) return;
  const { edits, says } = offer;
  settle();
  await bench.edit(edits, says);
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
    bench.tell("shapes");
  }
  if (line.report) {
    tried.report = line.report;
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
