// Findings, worst first. Each is a jump to its place, its angle and the view that shows it.

import { Vector3 } from "../three/three.module.min.js";
import { bench } from "../bench/bench.js";
import { gathered } from "../bench/gathered.js";
import { measure } from "../bench/units.js";
import { button, make } from "../paper/make.js";
import { shownFindings } from "../see/names.js";

const WORDS = { over: "Over the limit", close: "Close to the limit", within: "Holds" };
let jumped = null;
bench.on("opened", () => (jumped = null));

export function findingsLeaf(card) {
  const report = bench.shownReport;
  if (!report) return [make("h2", {}, "Being checked"), make("p", {}, "Every pose is solved, then every limit is looked at.")];
  const numbered = shownFindings();
  const numbers = new Map(numbered.map(({ finding, number }) => [finding, number]));
  const of = (verdict) => report.findings.filter((one) => one.verdict === verdict);
  const [over, close, within] = [of("over"), of("close"), of("within")];
  const first = gathered([...over, ...close].filter((one) => !one.follows_from));
  const following = gathered([...over, ...close].filter((one) => one.follows_from));
  const row = ({ finding, also }) => [findingRow(card, finding, numbers.get(finding)), also.length ? others(card, [finding, ...also]) : null];
  return [
    make("h2", {}, heading(first, report)),
    first.length ? make("div", {}, first.map(row)) : make("p", {}, "Nothing is over a limit or close to one. What was assumed is listed at the end: measure what you can."),
    following.length ? make("details", {}, make("summary", {}, `${following.length} more follow from these`), following.map(row)) : null,
    within.length ? make("details", {}, make("summary", {}, `${within.length} limits that hold`), gathered(within).map(row)) : null,
    lists("Assumed, not measured", bench.shownScene?.assumed),
    lists("Warnings", bench.shownScene?.warnings),
    make("h3", {}, "Before you ride"),
    make("ul.rows.fine", {}, (bench.shownScene?.cautions ?? []).map((one) => make("li", {}, one))),
  ];
}

function heading(first, report) {
  if (report.verdict === "within") return "Every limit holds";
  const over = first.filter(({ finding }) => finding.verdict === "over").length;
  if (!over) return "Every limit holds, but not by much";
  return over === 1 ? "One limit is broken" : `${over} limits are broken`;
}

function lists(words, items) {
  if (!items?.length) return null;
  return make("details", {}, make("summary", {}, `${words} (${items.length})`), make("ul.rows.fine", {}, items.map((one) => make("li", {}, one))));
}

function findingRow(card, finding, number) {
  const { check, value, limit, unit, at_most: most, place, pose_in_words: pose, advice, verdict } = finding;
  const mark = number ? make(`span.mark.flag.${verdict}`, { "aria-hidden": "true" }, String(number)) : make(`span.mark.${verdict}`, { "aria-hidden": "true" });
  const same = jumped && jumped.check === check && jumped.place === place;
  const chance = finding.chance_over_pct !== null && finding.chance_over_pct !== undefined && verdict === "close" ? `, ${finding.chance_over_pct.toFixed(0)} % that the limit is broken` : "";
  const row = button([
    mark,
    make("span.what", {}, make("span.unseen", {}, `${WORDS[verdict]}. `), `${check[0].toUpperCase()}${check.slice(1)}: ${measure(value, unit)}`, make("span.limit", {}, most && limit === 0 ? ", none is allowed" : `, ${most ? "at most" : "at least"} ${measure(limit, unit)}`)),
    make("span.more", {}, `${finding.branch ? `${finding.branch}, ` : ""}${place}; ${pose}${chance}`),
    make("span.more", {}, verdict === "within" ? WORDS.within : advice),
  ], () => goTo(card, finding), { class: "finding", "aria-pressed": Boolean(same), "data-keep": `${check} ${place}` });
  return same && finding.source ? [row, make("p.fine", {}, `Limit from: ${finding.source}`)] : row;
}

// The same fault in its other motions, each a jump of its own.
function others(card, all) {
  const lead = ({ value, unit, pose_in_words: pose }) => `${pose}, ${measure(value, unit)}`;
  return make("div.others", {}, make("span.quiet", {}, `${all.length} times in the sweep:`),
    all.map((finding) => button(lead(finding), () => goTo(card, finding), { "aria-pressed": jumped === finding, "aria-label": `${finding.check}: ${lead(finding)}`, "data-keep": `${finding.check} ${finding.place} ${finding.pose}` })));
}

function goTo(card, finding) {
  jumped = bench.found = finding;
  bench.tell("found");
  jump(card.stage, finding);
  card.paint();
}

// The angle, the place, and the eye for it.
function jump(stage, finding) {
  const pose = bench.shownScene.poses[finding.pose];
  if (pose) bench.turn({ ...bench.restValues(), ...Object.fromEntries(Object.entries(pose.values).filter(([name]) => name in bench.values)) });
  if (!finding.point_mm) return;
  const eye = { twist: "axis", "steering drag": "axis", pinch: "side", snag: "side", support: "side", "drip loop": "side" }[finding.check] ?? "turn";
  stage.look(new Vector3(...finding.point_mm), eye);
}
