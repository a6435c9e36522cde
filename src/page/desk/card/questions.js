// The questions that can be asked, in the words of who asks, each with the fields that it needs.

import { bench } from "../bench/bench.js";
import { readLength, written } from "../bench/units.js";
import { choice, lengthField, numberField } from "../paper/field.js";
import { make } from "../paper/make.js";
import { ticked } from "../paper/ticked.js";

// What was chosen last, for the next question too.
const said = {};
bench.on("opened", () => Object.keys(said).forEach((key) => delete said[key]));

// The next question is about this change.
export const about = (change) => (said.change = change);

const none = ["", "as it is now"];
const changes = () => bench.scene.changes.map((one) => [one.name, one.name]);
const remember = (key) => (value) => (said[key] = value);
const given = (entries) => Object.fromEntries(Object.entries(entries).filter(([, value]) => value !== "" && value !== null && value !== undefined && !(Array.isArray(value) && !value.length)));
const quantity = (field) => {
  const mm = field.read();
  return mm === null ? null : JSON.parse(written(mm));
};
const lengthOf = (text) => (text === undefined ? null : readLength(String(text)));

// `form(was)`: the fields, filled with the options that were asked with.
export const QUESTIONS = {
  reach: {
    words: "How far can a change go?",
    brief: "How low the seat, how tall the bars, before the first limit",
    form(was) {
      if (!changes().length) return { fields: [make("p", {}, "The route file names no change yet.")], options: () => ({}) };
      const change = choice("Change", changes(), said.change ?? was.change ?? changes()[0][0], remember("change"));
      return { fields: [change], options: () => ({ change: change.read() }) };
    },
  },
  estimate: {
    words: "Does the lead reach the new bars?",
    brief: "Five minutes with string and rule, no drawing",
    note: "Gather the slack of the lead by hand; leave empty what you did not measure.",
    form(was) {
      const asked = (label, text) => lengthField(label, lengthOf(text), null);
      const spare = ["left", "straight", "right"].map((where) => asked(`Slack ${where === "straight" ? "straight ahead" : `full ${where}`}`, was[`spare-${where}`]));
      const length = asked("Length of the lead, tie to tie", was.length);
      const bars = ["rise", "pullback", "width"].map((what) => [what, asked(`Old ${what}`, was[what]?.[0]), asked(`New ${what}`, was[what]?.[1])]);
      const side = choice("The lead goes to", [["left", "the rider's left"], ["right", "the rider's right"]], was.side ?? "left");
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
    form(was) {
      const change = choice("For the change", [none, ...changes()], said.change ?? was.change ?? "", remember("change"));
      const join = choice("Join wires by", [["crimp", "crimped splices under sleeve"], ["solder-sleeve", "solder sleeves"]], was.join ?? "crimp");
      return { fields: [change, join], options: () => given({ change: change.read(), join: join.read() }) };
    },
  },
  retie: {
    words: "Where must the ties go?",
    brief: "Fixings moved, turned or loosened until every limit holds",
    form(was) {
      const change = choice("For the change", [none, ...changes()], said.change ?? was.change ?? "", remember("change"));
      return { fields: [change], options: () => given({ change: change.read() }) };
    },
  },
  reroute: {
    words: "Which other way could it go?",
    brief: "Round the other side of a tube, under the tank",
    note: "Searches the room that all parts leave in every pose. What the file does not hold is not known to be in the way.",
    form(was) {
      const names = bench.scene.branches.map((one) => [one.name, one.name]);
      const from = choice("From", [], "");
      const to = choice("To", [], "");
      // What can be led otherwise lies between two fixings of the branch.
      const fill = (name) => {
        const fixings = (bench.scene.branches.find((one) => one.name === name)?.lay ?? []).map((one) => one.name).filter(Boolean);
        for (const [one, end, asked] of [[from, "its beginning", was.from], [to, "its end", was.to]]) {
          const select = one.querySelector("select");
          select.replaceChildren(...[["", end], ...fixings.map((f) => [f, f])].map(([value, words]) => make("option", { value }, words)));
          select.value = fixings.includes(asked) ? asked : "";
        }
      };
      const branch = choice("Branch", names, said.branch ?? was.branch ?? names[0]?.[0], (name) => {
        remember("branch")(name);
        fill(name);
      });
      fill(branch.read());
      const within = numberField("At most", was.within ?? 120, "s", null, { least: 1 });
      return { fields: [branch, make("div.two", {}, from, to), within], options: () => given({ branch: branch.read(), from: from.read(), to: to.read(), within: within.read() }) };
    },
  },
  locate: {
    words: "Where is the broken wire?",
    brief: "Which few places to open first, each with a test by hand",
    note: "An order in which to look, not a verdict: a test that passes proves nothing.",
    form(was) {
      const all = [...new Set([...bench.scene.circuits.map((one) => one.name), ...bench.scene.wires.map((one) => one.name)])];
      const fails = ticked("What fails?", all, was.failing ?? []);
      const at = choice("It fails with", [["", "no matter what"], ...bench.joints().flatMap(turns)], was.at ?? "");
      const hot = make("label.tick", {}, make("input", { type: "checkbox", checked: Boolean(was.hot) }), "only when it is hot");
      return {
        fields: [fails, at, hot],
        options: () => given({ failing: fails.read(), at: at.read(), hot: hot.querySelector("input").checked || null }),
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
