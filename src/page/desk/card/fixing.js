// One fixing: where it is, how long the harness is before it, which way it runs on, what kind it is.

import { bench } from "../bench/bench.js";
import { length, written } from "../bench/units.js";
import { choice, lengthField, numberField, textField } from "../paper/field.js";
import { form } from "../paper/form.js";
import { button, make } from "../paper/make.js";
import { takeOut } from "./gone.js";
import { placeFields } from "./place.js";

const quoted = (text) => JSON.stringify(text);
const KINDS = [["tie", "cable tie"], ["clamp", "cushioned clamp"], ["grommet", "grommet, slides through"], ["connector", "connector"]];

export function fixingPanel(thing) {
  const { it: fixing, branch, name, path } = thing;
  const lay = bench.shownScene.branches.find((one) => one.name === branch).lay;
  const before = lay.slice(0, thing.nth).reverse().find((one) => !one.waypoint);
  const set = (key, to, says) => bench.edit([{ set: { path: [...path, key], to } }], says);
  const step = (words, says) => bench.edit([{ step: words }], says);
  const kind = fixing.waypoint ? "waypoint" : (KINDS.find(([key]) => key === fixing.kind)?.[1] ?? fixing.kind);
  return make("section.told", { "aria-label": name },
    make("h2", {}, name),
    make("p.quiet", {}, fixing.waypoint ? `A waypoint of ${branch}: the first guess passes here, nothing is held.`
      : `A ${kind} on the ${fixing.body}, ${length(fixing.station_mm)} along ${branch}${fixing.slides_on ? `, on the ${fixing.slides_on}: dragged, it stays on it` : ""}${fixing.point ? `, at the point "${fixing.point}"` : ""}.`),
    placeFields(thing, fixing.at_mm),
    fixing.waypoint ? null : spansAt(name, branch),
    before && !fixing.waypoint ? lengths(thing, before, set) : null,
    fixing.waypoint ? null : make("details", {}, make("summary", {}, "Kind, width, direction"), make("div.rows", {},
      textField("Name", name, (to) => to.trim() && set("name", quoted(to.trim()), `${name} is now ${to.trim()}`)),
      choice("Kind", KINDS.some(([key]) => key === fixing.kind) ? KINDS : [[fixing.kind, fixing.kind], ...KINDS], fixing.kind, (to) => step(`Hold(what: ${quoted(name)}, into: ${quoted(to)})`, `${name} is now a ${to}`)),
      make("div.two", {},
        lengthField("Width", fixing.width_mm ?? null, (mm) => step(`Hold(what: ${quoted(name)}, width: ${written(mm)})`, `${name} width`), { least: 0 }),
        fixing.kind === "tie" ? numberField("Strap tension", fixing.pull_n ?? null, "N", (n) => step(`Hold(what: ${quoted(name)}, pull: "${n} N")`, `${name} tension`), { least: 0 }) : null),
      facing(name, fixing, step))),
    fixing.waypoint ? null : make("details", {}, make("summary", {}, "Add a fixing after it, or remove it"), adding(thing, lay, step)));
}

// What the check says of the spans on both sides, as its report has it.
function spansAt(name, branch) {
  const report = bench.shownReport;
  const spans = report?.branches.find((one) => one.name === branch)?.spans.filter((one) => one.from === name || one.to === name) ?? [];
  const pose = (id) => bench.shownScene.poses[id]?.words ?? "";
  return make("table", { "aria-label": "Spans on both sides" }, make("tbody", {}, spans.map((span) => make("tr", {},
    make("th", { scope: "row" }, `${span.from}\u2013${span.to}`),
    make("td", { "data-radius": span.tightest_bend?.radius_mm ?? "", "data-span": `${span.from}\u2013${span.to}` }, span.tightest_bend?.radius_mm ? [`tightest bend ${length(span.tightest_bend.radius_mm)}`, make("br"), make("span.quiet", {}, pose(span.tightest_bend.pose))] : "straight"),
    make("td", {}, [`least slack ${length(span.slack_least.slack_mm)}`, make("br"), make("span.quiet", {}, pose(span.slack_least.pose))])))));
}

// Length and slack say the same thing twice; the file holds the one that was measured.
function lengths({ it: fixing, path, name }, before, set) {
  const rule = fixing.length_rule ?? {};
  const slack = rule.slack_mm ?? rule.mm ?? null;
  const other = (key, to, away, says) => {
    const edits = away.filter((gone) => held(rule, gone)).map((gone) => ({ set: { path: [...path, gone], to: null } }));
    return bench.edit([...edits, { set: { path: [...path, key], to } }], says);
  };
  return [
    make("div.two", {},
      lengthField(`Length from ${before.name ?? "before"}`, fixing.length_mm ?? null, (mm) => other("length", written(mm), ["slack"], `${before.name}\u2013${name} length`), { least: 0 }),
      lengthField("or slack over straight", rule.kind === "slack" ? slack : null, (mm) => other("slack", written(mm), ["length", "spare"], `${before.name}\u2013${name} slack`))),
    make("p.quiet", {}, { length: "The length was measured.", slack: "The slack was measured.", spare: "The length comes from the slack gathered by hand.", "smooth path": "Neither was measured: the length of a smooth path is assumed." }[rule.kind] ?? ""),
  ];
}

const held = (rule, key) => rule.kind === key || (rule.kind === "spare" && (key === "spare" || (key === "length" && rule.length_mm !== null && rule.length_mm !== undefined)));

function facing(name, fixing, step) {
  const now = fixing.facing ?? [0, 0, 0];
  const said = form(`way of ${name}`);
  const fields = ["forward", "left", "up"].map((words, i) => numberField(`Runs on ${words}`, fixing.facing ? Number(now[i].toFixed(3)) : null, "", null, { form: said }));
  const turn = () => {
    const to = fields.map((field) => field.read() ?? 0);
    if (to.some((x) => x)) said.use(() => step(`Hold(what: ${quoted(name)}, facing: (${to.join(", ")}))`, `${name} turned`));
  };
  return [
    make("div.three", {}, fields),
    make("div.buttons", {}, button("Turn it so", turn), fixing.facing ? button("Let its direction go", () => step(`Hold(what: ${quoted(name)}, free: true)`, `${name} lets its direction go`)) : null),
  ];
}

function adding({ name, branch, nth }, lay, step) {
  const said = form(`after ${name} on ${branch}`);
  const own = textField("Name of the new one", freeName(lay), null, { form: said });
  const kind = choice("Kind", KINDS.slice(0, 3), "clamp", null, { form: said });
  const add = () => {
    const after = lay[nth];
    const next = lay.slice(nth + 1).find((one) => !one.waypoint && one.at_mm) ?? lay[nth - 1];
    const at = after.at_mm.map((x, i) => (x + (next?.at_mm[i] ?? x)) / 2);
    const word = { tie: "Tie", clamp: "Clamp", grommet: "Grommet" }[kind.read()];
    said.use(() => step(`Add(branch: ${quoted(branch)}, after: ${quoted(name)}, fixing: ${word}(name: ${quoted(own.read())}, on: ${quoted(after.body)}, at: (${at.map(written).join(", ")})))`, `${own.read()} added`));
  };
  return make("div.rows", {},
    make("div.two", {}, own, kind),
    make("div.buttons", {}, button(`Add after ${name}, halfway to the next`, add), button(`Remove ${name}`, () => takeOut(name, [{ step: `Remove(what: ${quoted(name)})` }]))));
}

function freeName(lay) {
  const taken = new Set(bench.things().map((one) => one.name));
  let i = lay.length;
  while (taken.has(`K${i}`)) i += 1;
  return `K${i}`;
}
