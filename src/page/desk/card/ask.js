// Questions to the program, in the words of who asks: will it reach, how far, how much longer, where to tie, which other
// way, where is it broken.

import { bench } from "../bench/bench.js";
import { written } from "../bench/units.js";
import { choice, lengthField, numberField } from "../paper/field.js";
import { button, empty, make } from "../paper/make.js";
import { answer } from "./answer.js";
import { ask, job, stop } from "./job.js";

let open = "reach";
let said = {};

export function askLeaf(card) {
  const form = make("div.rows", {});
  const outcome = make("div.rows", {});
  // What was typed stays while the answer comes.
  const paint = () => empty(outcome, outcomeOf(card));
  const turn = () => {
    empty(form, formOf(turn));
    paint();
  };
  card.onjob ??= bench.on("job", () => card.paintJob?.());
  card.paintJob = () => outcome.isConnected && paint();
  turn();
  return [make("h2", {}, "Ask"), form, outcome];
}

// From another leaf: this question, about this change.
export function askAbout(what, change) {
  open = what;
  said = { ...said, change };
}

let options = () => ({});

function formOf(turn) {
  const pick = make("select", { "data-keep": "question", onchange: (event) => { open = event.target.value; turn(); } },
    Object.entries(QUESTIONS).map(([key, { words }]) => make("option", { value: key }, words)));
  pick.value = open;
  const { form, note } = QUESTIONS[open];
  const made = form();
  options = made.options;
  return [make("label.field", {}, make("span.label", {}, "Question"), pick), note ? make("p.quiet", {}, note) : null, make("div.rows", {}, made.fields)];
}

function outcomeOf(card) {
  const mine = job.what === open;
  const running = mine && job.running;
  const words = job.stopping ? "Do not wait for it" : "Stop";
  return [
    make("div.buttons", {}, running ? button(words, stop, { class: "main", "data-keep": "stop" }) : button("Work it out", () => ask(open, options(), QUESTIONS[open].words), { class: "main", "data-keep": "work" })),
    mine ? progress() : null,
    mine ? make("div.rows", { "aria-live": "polite" }, answer(card, job)) : null,
  ];
}

// The last of what was being tried, and how long it has taken so far.
const SHOWN = 4;

function progress() {
  if (job.running) return make("div.told", { role: "status" },
    make("p", {}, make("b", {}, job.stopping ? "Being stopped: the best so far is written down. " : "Working. "), elapsed()),
    make("progress", { "aria-label": "working" }),
    make("ul.fine", {}, job.says.slice(-SHOWN).map(({ words, at }) => make("li", {}, `${seconds(at)}: ${words}`))),
    WITHOUT_STEPS.has(job.what) ? make("p.quiet", {}, "Each try is solved in every pose; there is an answer when all of them are.") : null);
  if (job.fault) return make("p.told", { role: "alert" }, make("b", {}, "No answer: "), job.fault);
  if (job.cancelled) return make("p.told", { role: "status" }, make("b", {}, "Stopped. "), job.result ? "This is the best so far." : "Nothing was changed.");
  return job.result ? make("p.quiet", {}, `Worked out in ${seconds(job.took / 1000)}.`) : null;
}

// These say nothing between their beginning and their end.
const WITHOUT_STEPS = new Set(["reach", "lengthen"]);
const seconds = (s) => (s < 9.95 ? `${s.toFixed(1)} s` : s < 99.5 ? `${s.toFixed(0)} s` : `${Math.floor(s / 60)} min ${(s % 60).toFixed(0)} s`);

// A clock that goes on by itself, read out only when asked for.
function elapsed() {
  const clock = make("span.clock", { "aria-live": "off" });
  const tick = () => {
    clock.textContent = seconds((performance.now() - job.begun) / 1000);
    if (job.running) setTimeout(() => clock.isConnected && tick(), 200);
  };
  tick();
  return clock;
}

const none = ["", "as it is now"];
const changes = () => bench.scene.changes.map((one) => [one.name, one.name]);
const remember = (key) => (value) => (said[key] = value);
const given = (entries) => Object.fromEntries(Object.entries(entries).filter(([, value]) => value !== "" && value !== null && value !== undefined && !(Array.isArray(value) && !value.length)));
const quantity = (field) => {
  const mm = field.read();
  return mm === null ? null : JSON.parse(written(mm));
};

const QUESTIONS = {
  reach: {
    words: "How far can a change go?",
    form() {
      if (!changes().length) return { fields: [make("p", {}, "The route file names no change yet.")], options: () => ({}) };
      const change = choice("Change", changes(), said.change ?? changes()[0][0], remember("change"));
      return { fields: [change], options: () => ({ change: change.read() }) };
    },
  },
  estimate: {
    words: "Does the lead reach the new bars? Five minutes, no drawing",
    note: "Gather the slack of the lead by hand; leave empty what you did not measure.",
    form() {
      const spare = ["left", "straight", "right"].map((where) => lengthField(`Slack ${where === "straight" ? "straight ahead" : `full ${where}`}`, null, null));
      const length = lengthField("Length of the lead, tie to tie", null, null);
      const bars = ["rise", "pullback", "width"].map((what) => [what, lengthField(`Old ${what}`, null, null), lengthField(`New ${what}`, null, null)]);
      const side = choice("The lead goes to", [["left", "the rider's left"], ["right", "the rider's right"]], "left");
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
    form() {
      const change = choice("For the change", [none, ...changes()], said.change ?? "", remember("change"));
      const join = choice("Join wires by", [["crimp", "crimped splices under sleeve"], ["solder-sleeve", "solder sleeves"]], "crimp");
      return { fields: [change, join], options: () => given({ change: change.read(), join: join.read() }) };
    },
  },
  retie: {
    words: "Where must the ties go?",
    form() {
      const change = choice("For the change", [none, ...changes()], said.change ?? "", remember("change"));
      return { fields: [change], options: () => given({ change: change.read() }) };
    },
  },
  reroute: {
    words: "Which other way could it go?",
    note: "Searches the room that all parts leave in every pose. What the file does not hold is not known to be in the way.",
    form() {
      const names = bench.scene.branches.map((one) => [one.name, one.name]);
      const branch = choice("Branch", names, said.branch ?? names[0]?.[0], remember("branch"));
      const fixings = [["", "its end"], ...bench.scene.branches.flatMap((one) => one.lay.filter((f) => f.name).map((f) => [f.name, f.name]))];
      const from = choice("From", fixings, "");
      const to = choice("To", fixings, "");
      const within = numberField("At most", 120, "s", null, { least: 1 });
      return { fields: [branch, make("div.two", {}, from, to), within], options: () => given({ branch: branch.read(), from: from.read(), to: to.read(), within: within.read() }) };
    },
  },
  locate: {
    words: "Where is the broken wire?",
    note: "An order in which to look, not a verdict: a test that passes proves nothing.",
    form() {
      const all = [...new Set([...bench.scene.circuits.map((one) => one.name), ...bench.scene.wires.map((one) => one.name)])];
      const ticks = all.map((name) => make("label.tick", {}, make("input", { type: "checkbox", value: name }), name));
      const at = choice("It fails with", [["", "no matter what"], ...bench.scene.poses.filter((pose) => pose.words).filter((_, i, list) => i === 0 || i === list.length - 1 || i % 6 === 0).map((pose) => [pose.words, pose.words])], "");
      const hot = make("label.tick", {}, make("input", { type: "checkbox" }), "only when it is hot");
      return {
        fields: [make("fieldset", {}, make("legend", {}, "What fails?"), ticks), at, hot],
        options: () => given({ failing: ticks.map((one) => one.querySelector("input")).filter((one) => one.checked).map((one) => one.value), at: at.read(), hot: hot.querySelector("input").checked || null }),
      };
    },
  },
};
