// One part of the machine or one measured point: where it is; of a part also what makes it dangerous to a harness.

import { bench } from "../bench/bench.js";
import { length, written, writtenPoint } from "../bench/units.js";
import { choice, lengthField, numberField } from "../paper/field.js";
import { button, make } from "../paper/make.js";
import { partMiddle } from "../see/names.js";
import { takeOut } from "./gone.js";
import { placeFields } from "./place.js";

export function partPanel(thing) {
  const { it, name, kind, path } = thing;
  const set = (key, to, says) => bench.edit([{ set: { path: [...path, key], to } }], says);
  if (kind === "point")
    return make("section.told", { "aria-label": name }, make("h2", {}, name), make("p.quiet", {}, `A point, ${{ given: "given", taped: "taped", table: "from a table" }[it.how]}.`), placeFields(thing, it.at_mm));
  const at = partMiddle(it).toArray();
  const size = it.spec.diameter_mm ? `, ${length(it.spec.diameter_mm)} across` : "";
  return make("section.told", { "aria-label": name },
    make("h2", {}, name),
    make("p.quiet", {}, `A ${it.kind}${size}, on the ${it.body}. The numbers are its middle.${it.thinned ? ` ${it.thinned}.` : ""}`),
    placeFields(thing, at),
    sizes(thing),
    make("div.two", {},
      numberField("Surface, when hot", it.hot_c, "°C", (c) => set("surface", `"${c} degC"`, `${name} surface`)),
      choice("Its edges", [["", "none that harm"], ["Sharp", "sharp"], ["Rolled", "rolled"], ["Grommet", "with a grommet"]],
        it.edge ? it.edge[0].toUpperCase() + it.edge.slice(1) : "", (to) => set("edge", to || null, `${name} edges`))),
    make("div.buttons", {}, button(`Remove ${name}`, () => takeOut(name, [{ set: { path, to: null } }]))));
}

// How large it is, where that is a number or three.
function sizes({ it, name, path }) {
  const set = (key, to) => bench.edit([{ set: { path: [...path, "shape", key], to } }], `${name} size`);
  const { diameter_mm: across, size_mm: size } = it.spec;
  if (across) return lengthField("Across", across, (mm) => set("diameter", written(mm)), { least: 0.1 });
  if (!size) return null;
  return make("div.three", {}, ["Long", "Wide", "High"].map((words, i) => lengthField(words, size[i], (mm) => set("size", writtenPoint(size.with(i, mm))), { least: 0.1 })));
}
