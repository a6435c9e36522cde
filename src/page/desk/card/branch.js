// One branch: its wires, its cover, its diameter.

import { bench } from "../bench/bench.js";
import { length, written } from "../bench/units.js";
import { choice, lengthField, numberField } from "../paper/field.js";
import { button, make } from "../paper/make.js";

const COVERS = [["", "none"], ["braid", "braid"], ["tape", "tape"], ["tube", "tube"], ["split tube", "split tube"], ["shrink", "heat-shrink tube"], ["heat sleeve", "heat sleeve"]];

export function branchPanel(branch) {
  const set = (key, to, says) => bench.edit([{ set: { path: [...branch.path, key], to } }], says);
  const counted = new Map();
  for (const wire of branch.wires) counted.set(wire, (counted.get(wire) ?? 0) + 1);
  const wires = (list, says) => set("wires", `[${list.map((one) => JSON.stringify(one)).join(", ")}]`, says);
  const cover = branch.cover ?? {};
  const setCover = (more) => {
    const to = { kind: cover.kind, wall_mm: cover.wall_mm ?? 0.8, rated_c: cover.rated_c, ...more };
    if (!to.kind) return set("cover", null, `${branch.name} bare`);
    return set("cover", `(kind: ${JSON.stringify(to.kind)}, wall: ${written(to.wall_mm)}${to.rated_c !== null && to.rated_c !== undefined ? `, rated: "${to.rated_c} degC"` : ""})`, `${branch.name} cover`);
  };
  const more = choice("Add a wire", [["", "choose"], ...bench.scene.wires.map((wire) => [wire.name, wire.name])], "", (name) => name && wires([...branch.wires, name], `${name} added to ${branch.name}`));
  return make("details", {},
    make("summary", {}, `${branch.name}: ${branch.wires.length} wires, ${length(branch.diameter_mm)} across`),
    make("div.rows", {},
      branch.safety ? make("p.quiet", {}, "Carries a safety circuit: it is never joined on this program's word.") : null,
      make("ul.list", {}, [...counted].map(([name, count]) => make("li", {}, button([make("span", {}, `${name}${count > 1 ? ` \u00d7 ${count}` : ""}`), make("span", {}, "take one out")], () => {
        const at = branch.wires.indexOf(name);
        wires(branch.wires.filter((_, i) => i !== at), `${name} out of ${branch.name}`);
      }, { "aria-label": `Take one ${name} out of ${branch.name}` })))),
      more,
      make("div.two", {},
        choice("Cover", COVERS, cover.kind ?? "", (kind) => setCover({ kind })),
        cover.kind ? lengthField("Its wall", cover.wall_mm, (mm) => setCover({ wall_mm: mm }), { least: 0 }) : null),
      make("div.two", {},
        cover.kind ? numberField("Cover bears", cover.rated_c ?? null, "°C", (c) => setCover({ rated_c: c })) : null,
        lengthField("Across, by calipers", branch.diameter_mm, (mm) => set("diameter", written(mm), `${branch.name} across`), { least: 0.1, note: "without squeezing" }))));
}
