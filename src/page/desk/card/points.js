// Points: by offsets from zero, or taped from known points. The misfit is shown while it is typed.

import { bench } from "../bench/bench.js";
import { letGo, tryOut } from "../bench/trying.js";
import { length, written, writtenPoint } from "../bench/units.js";
import { choice, lengthField, textField } from "../paper/field.js";
import { form } from "../paper/form.js";
import { button, make } from "../paper/make.js";
import { offsetsHow, tapeHow } from "./how.js";

export function pointsPanel() {
  const { points } = bench.scene;
  return [
    make("details", {}, make("summary", {}, `Points (${points.length})`), make("div.rows", {}, points.map(one))),
    make("details", {}, make("summary", {}, "A new point, by offsets"), byOffsets()),
    make("details", {}, make("summary", {}, "A new point, by tape"), byTape()),
  ];
}

function one(point) {
  const how = { given: "offsets", taped: "taped", table: "from a table" }[point.how];
  const error = point.error95_mm ? `, good to ${length(point.error95_mm)}` : "";
  const misfit = known(point.residual_mm) ? `, misfit ${length(point.residual_mm)}` : "";
  const worst = (point.residuals_mm ?? []).map((mm, i) => [point.tape?.[i]?.[0] ?? "", mm]);
  return make("div", {}, make("b", {}, point.name), make("span.quiet", {}, ` ${point.at_mm.map((mm) => length(mm)).join(", ")}; ${how}${misfit}${error}`),
    worst.length ? make("ul.fine", {}, worst.map(([from, mm]) => make("li", {}, `${from}: ${length(mm)} off${from === point.suspect ? " (look at this one first)" : ""}`))) : null);
}

const known = (mm) => mm !== null && mm !== undefined;

const free = (name) => name && !bench.scene.points.some((point) => point.name === name);

function byOffsets() {
  const said = form("point by offsets");
  const name = textField("Name", "", null, { form: said });
  const fields = ["Forward of zero", "Left of zero", "Above zero"].map((words) => lengthField(words, null, null, { form: said }));
  const add = () => {
    const at = fields.map((field) => field.read());
    if (!free(name.read()?.trim())) return name.input.focus();
    const missing = at.findIndex((mm) => mm === null);
    if (missing >= 0) return fields[missing].input.focus();
    const called = name.read().trim();
    return said.use(() => bench.edit([{ set: { path: ["points", called], to: writtenPoint(at) } }], `point ${called}`));
  };
  return make("div.rows", {}, offsetsHow(), make("p.quiet", {}, "Back and right are minus. Expect 5 to 10 mm."), name, make("div.three", {}, fields), make("div.buttons", {}, button("Add the point", add)));
}

function byTape() {
  const said = form("point by tape");
  const name = textField("Name", "", null, { form: said });
  const side = choice("It lies to the rider's", [["left", "left"], ["right", "right"]], "left", null, { form: said });
  const known = [["", "choose"], ...bench.scene.points.map((point) => [point.name, point.name])];
  const told = make("p.quiet", { role: "status" }, "Three distances at least. With four the program can tell which is off.");
  const rows = [];
  const list = make("div.rows", {});
  const edit = () => {
    const from = rows.map(([point, distance]) => [point.read(), distance.read()]).filter(([point, mm]) => point && mm !== null);
    const own = name.read()?.trim();
    if (from.length < 3 || !free(own)) return null;
    return [{ set: { path: ["points", own], to: `Tape(from: [${from.map(([point, mm]) => `(${JSON.stringify(point)}, ${written(mm)})`).join(", ")}], side: ${JSON.stringify(side.read())})` } }];
  };
  const check = async () => {
    const edits = edit();
    if (!edits) return;
    await tryOut(edits);
    const found = bench.tried?.points?.find((point) => point.name === name.read().trim());
    if (found) told.textContent = `${found.at_mm.map((mm) => length(mm)).join(", ")}. Misfit ${length(found.residual_mm)}${known(found.error95_mm) ? `, good to ${length(found.error95_mm)}` : ""}.${found.suspect ? ` The distance from ${found.suspect} fits least: measure it again.` : ""}`;
    letGo();
  };
  const more = () => {
    const row = [choice(`From, ${rows.length + 1}`, known, "", check, { form: said }), lengthField("Distance", null, check, { least: 0, form: said, key: `Distance ${rows.length + 1}` })];
    rows.push(row);
    said.put("rows", rows.length);
    list.append(make("div.two", {}, row));
  };
  for (let left = said.get("rows") ?? 4; left > 0; left -= 1) more();
  name.input.addEventListener("change", check);
  const add = () => {
    const edits = edit();
    if (!edits) return (told.textContent = "A free name and three distances are needed.");
    return said.use(() => bench.edit(edits, `point ${name.read().trim()} taped`));
  };
  return make("div.rows", {}, tapeHow(), name, list, side, told, make("div.buttons", {}, button("One more distance", more), button("Add the point", add, { class: "main" })));
}
