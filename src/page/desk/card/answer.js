// What came of a question: said in words, with numbers in tables, and its proposals as ghosts to look at, keep or refuse.

import { Vector3 } from "../three/three.module.min.js";
import { bench } from "../bench/bench.js";
import { length, measure } from "../bench/units.js";
import { unpackShapes } from "../link/unpack.js";
import { button, make } from "../paper/make.js";
import { placeOn } from "../see/fixings.js";
import { printed } from "./print.js";

let shown = null;
bench.on("opened", () => (shown = null));

export function answer(card, job) {
  const { what, options, result } = job;
  if (!result) return [];
  const told = { reach, estimate, lengthen, retie: ways, reroute: ways, locate }[what](result, card, options);
  return [told, proposals(card, job), toKnow(result)].flat();
}

// What the answer warns of, but for what is said of the route itself.
function toKnow({ warnings = [] }) {
  const more = warnings.filter((words) => !bench.scene?.warnings.includes(words));
  return more.length ? [make("ul.rows.fine", {}, more.map((words) => make("li", {}, words)))] : [];
}

function reach(result) {
  const by = result.decided_by;
  // The amount first, in the change's own unit, then its doubt, then the share.
  const words = (value) => measure(value, result.unit);
  const share = (pct) => `(${Math.round(pct)} %)`;
  const doubt = result.spread ? `, give or take ${words(result.spread)}` : "";
  return make("div.told", {},
    make("h2", {}, result.already_over ? "No further: a limit is broken already" : `${words(result.reach)} of ${words(result.of)}${doubt} ${share(result.reach_pct)}`),
    result.already_over ? null : make("p", {}, `So far can "${result.change}" go before a limit is broken${result.sure ? `; surely ${words(result.sure)}` : ""}.`),
    // At the limit itself there is nothing to cure yet: what it is says more than the finding's own advice.
    by ? make("p", {}, make("b", {}, result.broken_at == null ? `Then ${by.check} decides, ${by.at_most ? "at most" : "at least"} ${measure(by.limit, by.unit)}: ` : `At ${words(result.broken_at)} it is too far, by ${by.check}; between was not looked at: `), `${by.place}; ${by.pose_in_words}.${result.already_over || result.broken_at != null ? ` ${by.advice}` : ""}`) : make("p", {}, "No limit is reached."),
    result.next ? make("p.quiet", {}, `With that mended, ${result.next.decided_by.check} is next, at ${words(result.next.reach)} ${share(result.next.reach_pct)}.`) : null);
}

function estimate(result) {
  const words = { yes: "Yes, it reaches", no: "No, it is too short", "cannot tell": "Too close to tell" }[result.answer] ?? result.answer;
  return make("div.told", {}, make("h2", {}, words),
    result.short_mm !== null && result.short_mm !== undefined ? make("p", {}, `${result.short_mm > 0 ? `${length(result.short_mm)} are missing` : `${length(-result.short_mm)} are to spare`}, give or take ${length(result.spread_mm)}.`) : null,
    result.repeat ? make("p", {}, `Measure again first: ${result.repeat}.`) : null,
    make("p.quiet", {}, "It sees no obstacles, bends, heat or other leads."));
}

const table = (heads, rows) => make("table", {}, make("thead", {}, make("tr", {}, heads.map((one) => make("th", { scope: "col" }, one)))),
  make("tbody", {}, rows.map((row) => make("tr", {}, row.map((cell) => make("td", {}, cell))))));

function lengthen(result, card, { change }) {
  const spans = result.spans.filter((one) => one.add_mm > 0.05);
  return [
    make("h2", {}, spans.length ? "Longer by" : "No span needs more length"),
    spans.length ? table(["Span", "Add"], spans.map((one) => [`${one.from}\u2013${one.to} (${one.branch})`, length(one.add_mm)])) : null,
    result.cuts?.length ? make("details", {}, make("summary", {}, `Cut list (${result.cuts.length})`), table(["Pieces", "Wire", "Finished", "Cut"], alike(result.cuts.map((one) => [one.wire, length(one.finished_mm), length(one.cut_mm)])))) : null,
    result.splices?.length ? make("details", {}, make("summary", {}, `Splices (${result.splices.length})`), table(["Wire", "Branch", "At"], result.splices.map((one) => [one.wire, one.branch, length(one.at_mm)]))) : null,
    spans.length ? make("div.buttons", {}, button("To the bench sheet of it", () => {
      printed(change ?? "");
      card.turnTo("print");
    }, { "data-keep": "sheet" })) : null,
  ].filter(Boolean);
}

const added = ({ spans }) => spans.filter((one) => one.add_mm > 0.05).map((one) => `${one.from}\u2013${one.to} by ${length(one.add_mm)}`).join(", ");

// Rows that say the same become one with their number.
function alike(rows) {
  const counted = new Map();
  for (const row of rows) {
    const key = row.join("|");
    counted.set(key, { row, count: (counted.get(key)?.count ?? 0) + 1 });
  }
  return [...counted.values()].map(({ row, count }) => [`${count} \u00d7`, ...row]);
}

function ways(result, card, { change }) {
  const rejected = result.rejected ?? [];
  // Where time ran out, a way may have been left that was not looked at.
  const none = result.stopped ? "No way was found in the time there was" : "No way was found that holds every limit";
  return [
    make("h2", {}, result.proposals?.length ? `${result.proposals.length} ${result.proposals.length === 1 ? "way holds" : "ways hold"} every limit` : none),
    // What cannot be tied or led otherwise may still be made longer.
    result.proposals?.length ? null : make("div.buttons", {}, button("How much longer must it be?", () => card.ask("lengthen", change))),
    rejected.length ? make("details", {}, make("summary", {}, `${rejected.length} ${rejected.length === 1 ? "way" : "ways"} fell through`), make("ul.rows", {}, rejected.map((one) => make("li", {}, make("b", {}, `${one.way}: `), one.why)))) : null,
  ].filter(Boolean);
}

// The tests differ by place and angle only: all but the first are folded.
function locate(result, card) {
  return result.places.map((place, i) => make("div.told", {},
    make("h2", {}, `${place.rank}. ${place.place ?? `${length(place.at_mm)} along ${place.branch}`}`),
    make("p", {}, place.why),
    make("details", { open: i === 0 }, make("summary", {}, `Test by hand, place ${place.rank}`), make("p", {}, place.test)),
    button("Show it", () => {
      bench.found = place;
      bench.tell("found");
      const pose = bench.shownScene.poses[place.pose];
      if (pose) bench.turn({ ...bench.restValues(), ...pose.values });
      const shape = card.stage.pose.branches.find((one) => one.name === place.branch);
      if (shape) card.stage.look(new Vector3().copy(placeOn(shape, place.at_mm).at));
    })));
}

// Where a proposal lies farthest from what there is.
function farthest(before, after, pose) {
  let best = { far: 2, at: null };
  for (const { name, lines, stations } of after.branches) {
    const old = before.branches.find((one) => one.name === name);
    const [from, to] = [old?.lines[pose], lines[pose]];
    if (!from || !to) continue;
    for (let i = 0; i < stations.length; i += 4) {
      const at = new Vector3().fromArray(to, 3 * i);
      const was = new Vector3().fromArray(from, 3 * Math.min(Math.round((i * old.stations.length) / stations.length), old.stations.length - 1));
      if (at.distanceTo(was) > best.far) best = { far: at.distanceTo(was), at };
    }
  }
  return best.at;
}

// Every proposal was solved and checked before it came here. Looked at, it lies on the views as a dashed ghost.
function proposals(card, job) {
  const { result, rev, kept } = job;
  const list = (result.proposals ??= []);
  const stale = rev !== bench.state.rev;
  if (kept && kept.rev === bench.state.rev) return make("div.told", { role: "status" },
    make("p", {}, make("b", {}, "Kept. "), kept.says),
    make("div.buttons", {},
      job.what === "lengthen" ? button("Print what to cut", () => { printed(); card.turnTo("print"); }, { class: "main" }) : null,
      button("Undo it", async () => (await bench.undo()) && card.paintJob?.())));
  const old = stale && list.length ? make("p.told", {}, "The route was changed since: ask again before you keep one of these.") : null;
  return [old, ...list.map((one, i) => {
    const plain = one.says ?? one.way ?? one.changes?.map((c) => c.says ?? c).join(", ") ?? `Way ${i + 1}`;
    const says = job.what === "lengthen" ? `${plain}: ${added(result)}` : plain;
    const key = `${rev} ${i} ${says}`;
    const show = () => {
      shown = shown === key ? null : key;
      const ghost = shown ? unpackShapes(one.shapes) : null;
      card.stage.showGhost(ghost);
      const at = ghost && farthest(bench.shapes, ghost, card.stage.pose.id ?? bench.scene.rest);
      if (at) card.stage.look(at, card.stage.big, 2);
      card.paintJob();
    };
    const hide = () => {
      shown = null;
      card.stage.showGhost(null);
    };
    const keep = async () => {
      hide();
      // What is not taken stays on offer.
      if (await bench.edit(one.edits ?? [{ text: one.text ?? one.route }], says.slice(0, 180))) job.kept = { rev: bench.state.rev, says };
      card.paintJob?.();
    };
    const refuse = () => {
      hide();
      list.splice(i, 1);
      card.paintJob?.();
    };
    return make("div.told", {},
      make("p", {}, make("b", {}, `${i + 1}. `), says),
      one.margin_pct !== undefined && one.margin_pct !== null ? make("p.quiet", {}, `${Math.round(one.margin_pct)} % of the nearest limit is left${one.length_mm ? `; ${length(one.length_mm)} long` : ""}.`) : null,
      make("div.buttons", {},
        one.shapes ? button(shown === key ? "Hide the ghost" : "Show as a ghost", show, { "aria-pressed": shown === key, "data-keep": `ghost ${i}` }) : null,
        button("Keep it", keep, { disabled: stale && Boolean(one.text), "data-keep": `keep ${i}` }),
        button("Refuse", refuse, { "data-keep": `refuse ${i}` })));
  })].filter(Boolean);
}
