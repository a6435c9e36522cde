// Scans: a place touched on one becomes a point; three named points touched on it lay it where it belongs.

import { Matrix4, Vector3 } from "../three/three.module.min.js";
import { bench } from "../bench/bench.js";
import { length, writtenPoint } from "../bench/units.js";
import { choice, textField } from "../paper/field.js";
import { button, empty, make } from "../paper/make.js";
import { say } from "../paper/say.js";

// Numbers of a scan are in its own unit; here they are millimetres.
const SIZES = { mm: 1, cm: 10, m: 1000, in: 25.4 };

export function scanPanel(card) {
  return [
    make("details", {}, make("summary", {}, "A new point, touched in a view"), touched(card)),
    bench.scene.parts.some((part) => part.kind === "scan") ? make("details", {}, make("summary", {}, "Lay a scan by three named points"), aligned(card)) : null,
  ];
}

// Waits for one touch on a surface; gives the place at rest [mm] and the part.
function pick(card, then) {
  const { stage } = card;
  stage.root.classList.add("picking");
  say("Touch the place in a view. Escape leaves off.");
  const off = () => {
    stage.picking = null;
    stage.root.classList.remove("picking");
    removeEventListener("keydown", key);
  };
  const key = (event) => event.key === "Escape" && off();
  addEventListener("keydown", key);
  stage.picking = (hit) => {
    off();
    const part = hit.object.userData.part;
    const home = (stage.pose.stances[part.body] ?? new Matrix4()).clone().invert();
    then(hit.point.clone().applyMatrix4(home), part);
  };
}

function touched(card) {
  const name = textField("Name", "");
  const told = make("p.quiet", { role: "status" }, "A scan by phone is good to some centimetres at worst: never take a length from it.");
  return make("div.rows", {}, name, told, make("div.buttons", {}, button("Touch it", () => {
    const own = name.read()?.trim();
    if (!own) return name.input.focus();
    return pick(card, (at, part) => {
      told.textContent = `${own}, on ${part.name}: ${at.toArray().map((mm) => length(mm)).join(", ")}`;
      bench.edit([{ set: { path: ["points", own], to: writtenPoint(at.toArray().map((mm) => Number(mm.toFixed(1)))) } }], `point ${own} touched`);
    });
  })));
}

function aligned(card) {
  const scans = bench.scene.parts.filter((part) => part.kind === "scan");
  const scan = choice("Scan", scans.map((part) => [part.name, part.name]), scans[0].name);
  const unit = choice("Its numbers are in", Object.keys(SIZES).map((one) => [one, one]), scans[0].spec.unit ?? "mm");
  const point = choice("This point of the machine", bench.scene.points.map((one) => [one.name, one.name]), bench.scene.points[0]?.name);
  const pairs = [];
  const list = make("ul.rows", {});
  const paint = () => empty(list, pairs.map((pair, i) => make("li", {}, `${pair.name}: touched `, button("Take it out", () => { pairs.splice(i, 1); paint(); }))));
  const add = () => pick(card, (at, part) => {
    if (part.name !== scan.read()) return say(`That is ${part.name}, not the scan.`, { fault: true });
    pairs.push({ name: point.read(), at: inScan(at, part, SIZES[unit.read()]) });
    return paint();
  });
  const lay = () => {
    if (pairs.length < 3) return say("Three points at least.", { fault: true });
    const part = scans.find((one) => one.name === scan.read());
    const placed = pairs.map((pair) => `((${pair.at.map((x) => x.toFixed(3)).join(", ")}), ${JSON.stringify(pair.name)})`).join(", ");
    return bench.edit([{ set: { path: [...part.path, "shape", "placed"], to: `[${placed}]` } }], `${part.name} laid by ${pairs.length} points`);
  };
  return make("div.rows", {}, make("div.two", {}, scan, unit), point, make("div.buttons", {}, button("Touch this point on the scan", add)), list, make("div.buttons", {}, button("Lay the scan", lay, { class: "main" })));
}

// From the machine back to the scan's own numbers.
function inScan(at, part, size) {
  const placed = new Matrix4().fromArray(part.spec.placed);
  // The translation is in metres, as everything inside the program.
  const back = placed.clone().invert();
  return new Vector3().copy(at).multiplyScalar(1e-3).applyMatrix4(back).multiplyScalar(1000 / size).toArray();
}
