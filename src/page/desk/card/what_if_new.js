// A what-if of one's own: what moves, and how far. It is written into the file under its name.

import { bench } from "../bench/bench.js";
import { written } from "../bench/units.js";
import { choice, lengthField, textField } from "../paper/field.js";
import { form } from "../paper/form.js";
import { button, make } from "../paper/make.js";

export function newWhatIf() {
  const said = form("new what-if");
  const own = { form: said };
  const name = textField("Its name", "", null, own);
  const moves = make("div.rows", {});
  const rows = [];
  const more = () => {
    const nth = rows.length;
    const what = choice(`What moves${nth ? " too" : ""}`, things(), "", null, { ...own, key: `what ${nth}` });
    const by = ["Forward", "Left", "Up"].map((words) => lengthField(words, 0, null, { ...own, key: `${words} ${nth}` }));
    rows.push({ what, by });
    said.put("rows", rows.length);
    moves.append(make("div.rows", {}, what, make("div.three", {}, by)));
  };
  for (let left = said.get("rows") ?? 1; left > 0; left -= 1) more();
  const add = () => {
    const called = name.read()?.trim();
    const steps = rows.filter(({ what }) => what.read()).map(({ what, by }) => `Move(what: ${JSON.stringify(what.read())}, by: (${by.map((one) => written(one.read() ?? 0)).join(", ")}))`);
    if (!called) return name.input.focus();
    if (!steps.length) return rows[0].what.querySelector("select").focus();
    return said.use(() => bench.edit([{ set: { path: ["changes", called], to: `[${steps.join(", ")}]` } }], `what-if ${called}`));
  };
  return make("details", {}, make("summary", {}, "A what-if of your own"),
    make("div.rows", {},
      make("p.quiet", {}, "Such as taller bars: all that rides on them moves up and back. Right, back and down are minus. Nothing moves until you slide it."),
      name, moves, make("div.buttons", {}, button("One more thing", more), button("Add it", add, { class: "main" }))));
}

// Bodies with all that rides on them first, then parts, then fixings.
function things() {
  const { bodies, parts, branches } = bench.scene;
  const ends = branches.flatMap((branch) => branch.lay.filter((one) => one.name).map((one) => [one.name, `${one.name}, fixing of ${branch.name}`]));
  return [["", "choose"], ...bodies.filter((one) => !one.breakout).map((one) => [one.name, `all on the ${one.name}`]), ...parts.map((one) => [one.name, one.name]), ...ends];
}
