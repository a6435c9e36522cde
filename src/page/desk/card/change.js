// What can be changed: the thing that is chosen, named changes, the branches, the limits. The first field chooses.

import { bench } from "../bench/bench.js";
import { make } from "../paper/make.js";
import { branchPanel } from "./branch.js";
import { fixingPanel } from "./fixing.js";
import { limitsPanel } from "./limits.js";
import { partPanel } from "./part.js";
import { newPart } from "./part_new.js";
import { stopsPanel } from "./stops.js";
import { whatIf } from "./what_if.js";

export function changeLeaf(card) {
  if (!bench.scene) return [];
  const { chosen } = bench;
  const panel = { fixing: fixingPanel, part: partPanel, point: partPanel }[chosen?.kind];
  return [
    chooser(),
    panel ? panel(chosen, card) : make("p.quiet", {}, "Touch a fixing or a part in a view, or choose it here. In a view, a fixing can be dragged; what it does is worked out meanwhile."),
    whatIf(card),
    newPart(),
    make("h3", {}, "Branches"),
    bench.scene.branches.map((branch) => branchPanel(branch)),
    make("h3", {}, "Rules"),
    stopsPanel(),
    limitsPanel(),
  ];
}

// All that can be chosen, for the keyboard and for what is hidden in the views.
function chooser() {
  const things = bench.things();
  const groups = new Map();
  for (const thing of things) {
    const group = thing.kind === "fixing" ? `Fixings of ${thing.branch}` : thing.kind === "part" ? "Parts" : "Points";
    groups.set(group, [...(groups.get(group) ?? []), thing]);
  }
  const select = make("select", { "data-keep": "chooser", onchange: (event) => bench.choose(things[Number(event.target.value)] ?? null) },
    make("option", { value: "" }, "nothing chosen"),
    [...groups].map(([group, members]) => make("optgroup", { label: group }, members.map((thing) => make("option", { value: things.indexOf(thing) }, thing.name)))));
  const now = things.findIndex((one) => one.kind === bench.chosen?.kind && one.name === bench.chosen?.name && one.branch === bench.chosen?.branch);
  select.value = now < 0 ? "" : String(now);
  return make("label.field", {}, make("span.label", {}, "Chosen"), select);
}
