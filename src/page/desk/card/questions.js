// The questions that can be asked, in the words of who asks, each with the fields that it needs.

import { bench } from "../bench/bench.js";
import { readLength, written } from "../bench/units.js";
import { choice, lengthField, numberField, tick } from "../paper/field.js";
import { form } from "../paper/form.js";
import { empty, make } from "../paper/make.js";
import { ticked } from "../paper/ticked.js";

// What was chosen last, for the next question too.
const all = form("any question");
const CHANGE = { form: all, key: "change" };
const BRANCH = { form: all, key: "branch" };

// The next question is about this change.
export const about = (change) => all.put(CHANGE.key, change);

const none = ["", "as it is now"];
const changes = () => bench.scene.changes.map((one) => [one.name, one.name]);
const given = (entries) => Object.fromEntries(Object.entries(entries).filter(([, value]) => value !== "" && value !== null && value !== undefined && !(Array.isArray(value) && !value.length)));
const quantity = (field) => {
  const mm = field.read();
  return mm === null ? null : JSON.parse(written(mm));
};
const lengthOf = (text) => (text === undefined ? null : readLength(String(text)));

// `fill(was)`: the fields, filled with what was said in them, or else with the options that were asked with.
export const QUESTIONS = {
  reach: {
    words: "How far can a change go?",
    brief: "How low the seat, how tall the bars, before the first limit",
    fill(was) {
      if (!changes().length) return { fields: [make("p", {}, "The route file names no change yet.")], options: () => ({}) };
      const change = choice("Change", changes(), was.change ?? changes()[0][0], null, CHANGE);
      return { fields: [change], options: () => ({ change: change.read() }) };
    },
  },
  estimate: {
    words: "Does the lead reach the new bars?",
    brief: "Five minutes with string and rule, no drawing",
    note: "Gather the slack of the lead by hand; leave empty what you did not measure.",
    fill(was) {
      const own = { form: form("estimate") };
      const asked = (label, text) => lengthField(label, lengthOf(text), null, own);
      const spare = ["left", "straight", "right"].map((where) => asked(`Slack ${where === "straight" ? "straight ahead" : `full ${where}`}`, was[`spare-${where}`]));
      const length = asked("Length of the lead, tie to tie", was.length);
      const bars = ["rise", "pullback", "width"].map((what) => [what, asked(`Old ${what}`, was[what]?.[0]), asked(`New ${what}`, was[what]?.[1])]);
      const side = choice("The lead goes to", [["left", "the rider's left"], ["right", "the rider's right"]], was.side ?? "left", null, own);
      return {
        fields: [make("div.three", {}, spare), length, ...bars.map(([, old, fresh]) => make("div.two", {}, old, fresh)), side],
        options: () => given({
          "spare-left": quantity(spare[0]), "spare-straight": quantity(spare[1]), "spare-right": quantity(spare[2]), length: quantity(length), side: side.read(),
          ...Object.fromEntries(bars.map(([what, old, fresh]) => [what, old.read() === null || fresh.read() === null ? null : [quantity(old), quantity(fresh)]])),
        }),
      };
    },
  },
  lengthen: {
    words: "How much longer must it be?",
    brief: "What to add to each span, which wires to cut, where to join",
    fill(was) {
      const change = choice("For the change", [none, ...changes()], was.change ?? "", null, CHANGE);
      const join = choice("Join wires by", [["crimp", "crimped splices under sleeve"], ["solder-sleeve", "solder sleeves"]], was.join ?? "crimp", null, { form: form("lengthen") });
      return { fields: [change, join], options: () => given({ change: change.read(), join: join.read() }) };
    },
  },
  retie: {
    words: "Where must the ties go?",
    brief: "Fixings moved, turned or loosened until every limit holds",
    fill(was) {
      const change = choice("For the change", [none, ...changes()], was.change ?? "", null, CHANGE);
      return { fields: [change], options: () => given({ change: change.read() }) };
    },
  },
  reroute: {
    words: "Which other way could it go?",
    brief: "Round the other side of a tube, under the tank",
    note: "Searches the room that all parts leave in every pose. What the file does not hold is not known to be in the way.",
    fill(was) {
      const names = bench.scene.branches.map((one) => [one.name, one.name]);
      const own = form("reroute");
      const ends = make("div.two", {});
      let from, to;
      // What can be led otherwise lies between two fixings of the branch.
      const between = (name) => {
        const fixings = (bench.scene.branches.find((one) => one.name === name)?.lay ?? []).map((one) => one.name).filter(Boolean);
        const end = (label, words, asked) => choice(label, [["", words], ...fixings.map((f) => [f, f])], fixings.includes(asked) ? asked : "", null, { form: own, key: `${label} on ${name}` });
        [from, to] = [end("From", "its beginning", was.from), end("To", "its end", was.to)];
        empty(ends, from, to);
      };
      const branch = choice("Branch", names, was.branch ?? names[0]?.[0], between, BRANCH);
      between(branch.read());
      const within = numberField("At most", was.within ?? 120, "s", null, { least: 1, form: own });
      return { fields: [branch, ends, within], options: () => given({ branch: branch.read(), from: from.read(), to: to.read(), within: within.read() }) };
    },
  },
  locate: {
    words: "Where is the broken wire?",
    brief: "Which few places to open first, each with a test by hand",
    note: "An order in which to look, not a verdict: a test that passes proves nothing.",
    fill(was) {
      const names = [...new Set([...bench.scene.circuits.map((one) => one.name), ...bench.scene.wires.map((one) => one.name)])];
      const own = form("locate");
      const fails = ticked("What fails?", names, was.failing ?? [], own);
      const at = choice("It fails with", [["", "no matter what"], ...bench.joints().flatMap(turns)], was.at ?? "", null, { form: own });
      const hot = tick("only when it is hot", Boolean(was.hot), { form: own });
      return {
        fields: [fails, at, hot],
        options: () => given({ failing: fails.read(), at: at.read(), hot: hot.read() || null }),
      };
    },
  },
};

// A joint at its stops and halfway there, the others at rest: as the question names it, and in words.
function turns(body) {
  const rest = bench.restValues();
  const alone = ({ values }) => Object.keys(rest).every((name) => name === body.name || Math.abs((values[name] ?? 0) - rest[name]) < 1e-6);
  const poses = bench.scene.poses.filter((pose) => pose.words && alone(pose) && Math.abs(pose.values[body.name] - body.joint.rest) > 1e-6);
  const nearest = (value) => poses.reduce((a, b) => (Math.abs(b.values[body.name] - value) < Math.abs(a.values[body.name] - value) ? b : a), poses[0]);
  const { from, to, rest: middle } = body.joint;
  // A joint that rests at one of its stops goes one way only.
  const off = [to, (to + middle) / 2, (from + middle) / 2, from].filter((value) => Math.abs(value - middle) > 1e-6);
  const found = off.map(nearest).filter(Boolean);
  return [...new Map(found.map((pose) => [`${body.name} ${pose.values[body.name]} ${body.joint.unit}`, pose.words]))];
}
