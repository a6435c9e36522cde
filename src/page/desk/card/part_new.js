// A part that is in the way, added in four simple shapes; its place is dragged or written afterwards.

import { bench } from "../bench/bench.js";
import { written, writtenPoint } from "../bench/units.js";
import { choice, lengthField, textField } from "../paper/field.js";
import { form } from "../paper/form.js";
import { button, make } from "../paper/make.js";

// Each with what is asked and how the file writes it, in the middle of things.
const SHAPES = {
  tube: ["Tube", ["Long, front to back", "Across"], ([long, across]) => `Tube(along: [${writtenPoint([long / 2, 0, 0])}, ${writtenPoint([-long / 2, 0, 0])}], diameter: ${written(across)})`],
  box: ["Box", ["Long, front to back", "Wide", "High"], (size) => `Box(centre: ${writtenPoint([0, 0, 0])}, size: ${writtenPoint(size)})`],
  ball: ["Ball", ["Across"], ([across]) => `Ball(centre: ${writtenPoint([0, 0, 0])}, diameter: ${written(across)})`],
  cylinder: ["Cylinder, upright", ["High", "Across"], ([high, across]) => `Cylinder(from: ${writtenPoint([0, 0, -high / 2])}, to: ${writtenPoint([0, 0, high / 2])}, diameter: ${written(across)})`],
};
// A size to begin with [mm].
const SIZE = 100;

export function newPart() {
  const own = { form: form("new part") };
  const sizes = make("div.three", {});
  let fields = [];
  const ask = (kind) => {
    fields = SHAPES[kind][1].map((words) => lengthField(words, SIZE, null, { least: 0.1, ...own, key: `${kind} ${words}` }));
    sizes.replaceChildren(...fields);
  };
  const name = textField("Name", "", null, own);
  const kind = choice("Shape", Object.entries(SHAPES).map(([key, [words]]) => [key, words]), "tube", ask, own);
  const body = choice("It moves with", bench.scene.bodies.filter((one) => !one.breakout).map((one) => [one.name, one.name]), null, null, own);
  ask(kind.read());
  const add = async () => {
    const called = name.read()?.trim();
    if (!called || bench.things().some((one) => one.name === called)) return name.input.focus();
    const missing = fields.find((field) => !(field.read() > 0));
    if (missing) return missing.input.focus();
    const shape = SHAPES[kind.read()][2](fields.map((field) => field.read()));
    const to = `(name: ${JSON.stringify(called)}, on: ${JSON.stringify(body.read())}, shape: ${shape})`;
    if (!(await own.form.use(() => bench.edit([{ set: { path: ["parts", bench.scene.parts.length], to } }], `${called} added`)))) return null;
    return bench.choose(bench.things().find((one) => one.kind === "part" && one.name === called) ?? null);
  };
  return make("details", {}, make("summary", {}, "A part that is in the way"),
    make("div.rows", {}, name, make("div.two", {}, kind, body), sizes,
      make("p.quiet", {}, "It is put at zero: drag it by the stone in its middle, or write where it is."),
      make("div.buttons", {}, button("Add the part", add))));
}
