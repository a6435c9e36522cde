// Readings from the machine: slack by hand, string, offsets, tape, scans. Each with a drawing of how to take it.

import { bench } from "../bench/bench.js";
import { length, written } from "../bench/units.js";
import { choice, lengthField } from "../paper/field.js";
import { button, make } from "../paper/make.js";
import { guide } from "./guide.js";
import { slackHow, stringHow } from "./how.js";
import { pointsPanel } from "./points.js";
import { scanPanel } from "./scan.js";

let span = null;

export function measureLeaf(card) {
  if (!bench.scene) return [guide()];
  return [make("h2", {}, "Measure"), guide(), slack(card), pointsPanel(), scanPanel(card)];
}

// Every fixing that ends a span.
function spans() {
  return bench.scene.branches.flatMap((branch) => {
    const held = branch.lay.filter((one) => !one.waypoint);
    return held.slice(1).map((it, i) => ({ it, branch: branch.name, words: `${held[i].name}\u2013${it.name} (${branch.name})`, moving: held[i].body !== it.body }));
  });
}

function slack(card) {
  const all = spans();
  if (!all.length) return null;
  const now = all.find((one) => one.words === span) ?? all.find((one) => one.moving) ?? all[0];
  const pick = choice("Span", all.map((one) => [one.words, `${one.words}${one.moving ? ", moves" : ""}`]), now.words, (to) => { span = to; card.paint(); });
  const read = now.it.spare_mm ?? {};
  const rule = now.it.length_rule ?? {};
  const fields = [["left", "full left"], ["straight", "straight ahead"], ["right", "full right"]].map(([key, words]) => [key, lengthField(`Slack, ${words}`, read[key] ?? null, null)]);
  const string = lengthField("Length by string", rule.kind === "length" ? now.it.length_mm : (rule.kind === "spare" ? (rule.length_mm ?? null) : null), null, { least: 0 });
  const keep = () => {
    const given = fields.map(([key, field]) => [key, field.read()]).filter(([, mm]) => mm !== null);
    const edits = [];
    if (rule.kind === "slack") edits.push({ set: { path: [...now.it.path, "slack"], to: null } });
    const mm = string.read();
    if (mm !== null) edits.push({ set: { path: [...now.it.path, "length"], to: written(mm) } });
    if (given.length) edits.push({ set: { path: [...now.it.path, "spare"], to: `(${given.map(([key, value]) => `${key}: ${written(value)}`).join(", ")})` } });
    if (given.length || mm !== null) bench.edit(edits, `${now.words} measured`);
  };
  const told = bench.report?.string?.filter?.((one) => one.to === now.it.name) ?? [];
  return make("details", { open: true }, make("summary", {}, "Slack and length of a span"),
    make("div.rows", {}, pick, slackHow(), make("div.three", {}, fields.map(([, field]) => field)), stringHow(), string,
      make("div.buttons", {}, button("Use these readings", keep, { class: "main" })),
      now.it.length_mm ? make("p.quiet", {}, `Reckoned with now: ${length(now.it.length_mm)}.`) : null,
      told.map((one) => make("ul.fine", {}, (one.readings ?? []).map((reading) => make("li", {}, `${reading.reading ?? reading.name}: off by ${length(reading.off_mm ?? reading.residual_mm)}`))))));
}
