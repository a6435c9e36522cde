// Scans: a place touched on one becomes a point; three named points touched on it lay it where it belongs.

import { Matrix4, Vector3 } from "../three/three.module.min.js";
import { bench } from "../bench/bench.js";
import { length, writtenPoint } from "../bench/units.js";
import { choice, textField } from "../paper/field.js";
import { form } from "../paper/form.js";
import { button, empty, make } from "../paper/make.js";
import { hush, say } from "../paper/say.js";

// Numbers of a scan are in its own unit; here they are millimetres.
const SIZES = { mm: 1, cm: 10, m: 1000, in: 25.4, ft: 304.8 };
// Fewer do not hold a scan in its place.
const LEAST = 3;

// What was touched so far, while the leaf is painted anew around it.
const laying = { scan: null, pairs: [] };
bench.on("opened", () => Object.assign(laying, { scan: null, pairs: [] }));

export function scanPanel(card) {
  const scans = bench.scene.parts.filter((part) => part.kind === "scan");
  return [
    make("details", {}, make("summary", {}, "A new point, touched in a view"), touched(card)),
    scans.length ? make("details", {}, make("summary", {}, "Lay a scan by three named points"), laid(card, scans)) : null,
  ];
}

// Waits for one touch on a surface; gives the place at rest [mm] and the part. `only`: no other part is in the way.
function pick(card, words, then, only = null) {
  const { stage } = card;
  stage.picking?.off();
  stage.root.classList.add("picking");
  const off = () => {
    stage.picking = null;
    stage.root.classList.remove("picking");
    removeEventListener("keydown", key);
    hush();
  };
  // It stays until something was touched, and can be left off by hand where there is no key for it.
  const ask = (told) => say(told, { stays: true, act: ["Leave off", off] });
  ask(words);
  const key = (event) => event.key === "Escape" && off();
  addEventListener("keydown", key);
  const take = (hit) => {
    if (!hit) return ask(only ? `Nothing of ${only} is there: touch its surface.` : "There is no surface: touch a part.");
    off();
    const { part } = hit;
    const home = (stage.pose.stances[part.body] ?? new Matrix4()).clone().invert();
    return then(hit.point.clone().applyMatrix4(home), part);
  };
  stage.picking = { take, off, only };
}

function touched(card) {
  const said = form("touched point");
  const name = textField("Name", "", null, { form: said });
  const told = make("p.quiet", { role: "status" }, "A scan by phone is good to some centimetres at worst: never take a length from it.");
  return make("div.rows", {}, name, told, make("div.buttons", {}, button("Touch it", () => {
    const own = name.read()?.trim();
    if (!own) return name.input.focus();
    return pick(card, `Touch ${own} in a view.`, (at, part) => {
      told.textContent = `${own}, on ${part.name}: ${at.toArray().map((mm) => length(mm)).join(", ")}`;
      said.use(() => bench.edit([{ set: { path: ["points", own], to: writtenPoint(at.toArray().map((mm) => Number(mm.toFixed(1)))) } }], `point ${own} touched`));
    });
  })));
}

function laid(card, scans) {
  const names = scans.map((part) => part.name);
  if (!names.includes(laying.scan)) Object.assign(laying, { scan: names[0], pairs: [] });
  const scan = scans.find((part) => part.name === laying.scan);
  const which = choice("Scan", names.map((name) => [name, name]), laying.scan, (to) => { Object.assign(laying, { scan: to, pairs: [] }); card.paint(); });
  const left = bench.scene.points.filter((point) => !laying.pairs.some((pair) => pair.name === point.name));
  const point = choice("A point that you know on the machine", left.map((one) => [one.name, one.name]), left[0]?.name);
  const list = make("ul.rows", {});
  const lay = button("Lay the scan", () => keep(card, scan), { class: "main" });
  const paint = () => {
    empty(list, laying.pairs.map((pair, i) => make("li", {}, make("b", {}, `${i + 1}. ${pair.name}`), ": touched ",
      button("Take it out", () => { laying.pairs.splice(i, 1); card.paint(); }, { "aria-label": `Take out ${pair.name}` }))));
    lay.disabled = laying.pairs.length < LEAST;
  };
  paint();
  const touch = () => {
    const name = point.read();
    if (!name) return say("Every named point is touched already.", { fault: true });
    return pick(card, `Touch ${name} on ${laying.scan}.`, (at, part) => {
      laying.pairs.push({ name, at: inScan(at, part, scan.spec.unit) });
      card.paint();
    }, laying.scan);
  };
  const missing = LEAST - laying.pairs.length;
  return make("div.rows", {},
    make("p.quiet", {}, "Name three or more points of the machine that can be found on the scan too, far apart and not in a line. Four check each other."),
    bench.scene.points.length < LEAST ? make("p", {}, "There are not three named points yet: add them first.") : null,
    which, point,
    make("div.buttons", {}, button("Touch this point on the scan", touch)), list,
    missing > 0 && laying.pairs.length ? make("p.quiet", { role: "status" }, `${missing} more to go.`) : null,
    laying.pairs.length ? null : make("p.quiet", {}, fitOf(scan) ?? `${scan.name} is not laid by points yet.`),
    make("div.buttons", {}, lay));
}

async function keep(card, scan) {
  const placed = laying.pairs.map((pair) => `((${pair.at.map((x) => Number(x.toFixed(4))).join(", ")}), ${JSON.stringify(pair.name)})`).join(", ");
  const done = await bench.edit([{ set: { path: [...scan.path, "shape", "placed"], to: `[${placed}]` } }], `${scan.name} laid by ${laying.pairs.length} points`);
  if (!done) return;
  laying.pairs = [];
  card.paint();
  say(fitOf(scan) ?? `${scan.name} was laid.`, { undo: () => bench.undo() });
}

// How well the pairs agree is said by the program, which judged them.
function fitOf(scan) {
  const found = (bench.scene?.assumed ?? []).find((words) => words.includes(`"${scan.spec.file}"`) && words.includes("is placed by"));
  return found ? `${found[0].toUpperCase()}${found.slice(1)}.` : null;
}

// From the machine back to the scan's own numbers, in the unit that the file says they are in.
function inScan(at, part, unit) {
  // The motion's shift is in metres, as everything inside the program.
  const back = new Matrix4().fromArray(part.spec.placed).invert();
  return new Vector3().copy(at).multiplyScalar(1e-3).applyMatrix4(back).multiplyScalar(1000 / (SIZES[unit] ?? 1)).toArray();
}
