// The stops of what moves.

import { bench } from "../bench/bench.js";
import { units, written } from "../bench/units.js";
import { lengthField, numberField } from "../paper/field.js";
import { make } from "../paper/make.js";

export function stopsPanel() {
  const joints = bench.joints();
  if (!joints.length) return null;
  return make("details", {}, make("summary", {}, "Stops: how far things move, how the head leans"), make("div.rows", {}, joints.map((body) => {
    const { unit, from, to, said } = body.joint;
    const turns = unit === "deg";
    const set = (end, value) => bench.edit([{ step: `Travel(what: ${JSON.stringify(body.name)}, ${end}: ${turns ? `"${value} deg"` : written(value)})` }], `${body.name} stop`);
    const field = turns ? (words, value, end) => numberField(words, value, "°", (v) => set(end, v)) : (words, value, end) => lengthField(words, value, (v) => set(end, v));
    const [low, high] = said ? [`${said[0]} (minus)`, said[1]] : turns ? ["full right (minus)", "full left"] : ["least", `most, ${units.sign}`];
    return [lean(body), make("div.two", {}, field(`${body.name}, ${low}`, from, "from"), field(`${body.name}, ${high}`, to, "to"))];
  })));
}

// An axis that leans neither to the left nor to the right: how far rearward at its top.
function lean({ name, joint }) {
  const [x, y, z] = joint.axis;
  if (joint.kind !== "turns" || Math.abs(y) > 1e-9 || z < 0.5) return null;
  const now = (Math.atan2(-x, z) * 180) / Math.PI;
  const path = (key) => ["bodies", name, key];
  return numberField(`${name}, leans rearward at the top`, Number(now.toFixed(2)), "°",
    (v) => bench.edit([{ set: { path: path("axis"), to: null } }, { set: { path: path("rake"), to: `"${v} deg"` } }], `${name} lean`));
}
