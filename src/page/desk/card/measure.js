// Readings from the machine: slack by hand, string, offsets, tape, scans. Each with a drawing of how to take it.

import { bench } from "../bench/bench.js";
import { letGo, settle, tryOut } from "../bench/trying.js";
import { length, written } from "../bench/units.js";
import { choice, lengthField } from "../paper/field.js";
import { form } from "../paper/form.js";
import { button, empty, make } from "../paper/make.js";
import { guide } from "./guide.js";
import { slackHow, stringHow } from "./how.js";
import { pointsPanel } from "./points.js";
import { scanPanel } from "./scan.js";

let span = null;

export function measureLeaf(card) {
  if (!bench.scene) return [guide(null)];
  return [make("h2", {}, "Measure"), guide(card, card.guided), slack(card), pointsPanel(), scanPanel(card)];
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
  const pick = choice("Span", all.map((one) => [one.words, `${one.words}${one.moving ? ", moves" : ""}`]), now.words, (to) => { letGo(); span = to; card.paint(); });
  const read = now.it.spare_mm ?? {};
  const rule = now.it.length_rule ?? {};
  const strung = rule.kind === "spare" ? rule.length_mm : rule.kind === "length" ? now.it.length_mm : null;
  const onset = () => tryOut(edits());
  const said = form(`measured ${now.branch} ${now.words}`);
  const fields = WHERE.map(([key, words]) => [key, lengthField(`Slack, ${words}`, read[key] ?? null, onset, { least: 0, form: said })]);
  const string = lengthField("Length by string", strung ?? null, onset, { least: 0, form: said });
  const edits = () => {
    const given = fields.map(([key, field]) => [key, field.read()]).filter(([, mm]) => mm !== null);
    const mm = string.read();
    const path = (key) => ({ path: [...now.it.path, key] });
    const put = (key, to) => ({ set: { ...path(key), to } });
    return [
      // What is read goes before a slack over the straight distance, which says the same in another way.
      rule.kind === "slack" ? put("slack", null) : null,
      mm !== null ? put("length", written(mm)) : strung !== null ? put("length", null) : null,
      given.length ? put("spare", `(${given.map(([key, value]) => `${key}: ${written(value)}`).join(", ")})`) : rule.kind === "spare" ? put("spare", null) : null,
    ].filter(Boolean);
  };
  const keep = () => {
    settle();
    const made = edits();
    if (made.length) said.use(() => bench.edit(made, `${now.words} measured`));
  };
  agreement.replaceChildren();
  agreement.dataset.of = JSON.stringify([now.branch, now.it.name]);
  agree();
  return make("details", { open: true }, make("summary", {}, "Slack and length of a span"),
    make("div.rows", {}, pick, slackHow(), make("div.three", {}, fields.map(([, field]) => field)), stringHow(), string,
      agreement,
      make("div.buttons", {}, button("Use these readings", keep, { class: "main" }), button("Back", () => { letGo(); said.clear(); card.paint(); }, { "aria-label": "Back to the readings that the file has" }))));
}

const WHERE = [["left", "full left"], ["straight", "straight ahead"], ["right", "full right"]];

// How the readings of a span agree, also while they are only being tried.
const agreement = make("div.rows", { role: "status" });
bench.on("report", agree);

function agree() {
  if (!agreement.isConnected && !agreement.dataset.of) return;
  const [branch, to] = JSON.parse(agreement.dataset.of);
  const found = bench.shownReport?.branches.find((one) => one.name === branch)?.spans.find((one) => one.to === to);
  if (!found) return;
  const { string } = found;
  const at = (key) => WHERE.find(([name]) => name === key)?.[1] ?? "by string";
  const reading = (one) => {
    const given = one.spare_mm ?? one.length_mm;
    const off = Math.abs(one.off_mm) < 0.05 ? "fits" : `${length(Math.abs(one.off_mm))} ${one.off_mm > 0 ? "more" : "less"} than the others say (${length(one.expected_mm)})`;
    return make("li", { "data-off": one.off_mm }, make("b", {}, `${at(one.at)}, ${length(given)}: `), off);
  };
  empty(agreement,
    make("p", {}, `Reckoned with: ${length(found.length_mm)}${string?.sd_mm ? `, expected error ${length(2 * string.sd_mm)}` : ""}.`),
    string ? make("ul.fine", {}, string.readings.map(reading)) : null,
    string && string.readings.length < 2 ? make("p.quiet", {}, "One reading alone has nothing to check it: take another at the other stop.") : null,
    string && string.agree === false ? make("p", {}, make("b", {}, "They do not agree. "), string.suspect ? `Read again: ${at(string.suspect)}.` : "Read all of them again.") : null);
}
