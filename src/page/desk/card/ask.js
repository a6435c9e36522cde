// Questions to the program, in the words of who asks: will it reach, how far, how much longer, where to tie, which other
// way, where is it broken.

import { bench } from "../bench/bench.js";
import { button, empty, make } from "../paper/make.js";
import { answer } from "./answer.js";
import { ask, job, stop, takeUp } from "./job.js";
import { QUESTIONS, about } from "./questions.js";

// The question that is being asked; none: all of them are offered.
let open = null;
bench.on("opened", () => (open = null));

// What was asked before the page was loaded is shown again.
export async function askedBefore(card) {
  bench.on("job", function found() {
    bench.removeEventListener("job", found);
    open ??= job.what;
    card.paintIf("ask");
  });
  await takeUp((what) => what in QUESTIONS);
}

export function askLeaf(card) {
  card.onjob ??= listen(card);
  if (!open) {
    card.paintJob = null;
    return [make("h2", {}, "Ask"), make("div.begin", {}, Object.entries(QUESTIONS).map(([what, one]) => offered(card, what, one)))];
  }
  // What was typed stays while the answer comes.
  const outcome = make("div.rows.outcome", {});
  const paint = () => empty(outcome, outcomeOf(card));
  card.paintJob = () => {
    if (!outcome.isConnected) return;
    // What is looked at and what was pressed stay where they are.
    const scroll = card.leaf.scrollTop;
    const kept = outcome.contains(document.activeElement) ? document.activeElement.dataset.keep : null;
    paint();
    card.leaf.scrollTop = scroll;
    if (kept) outcome.querySelector(`[data-keep="${CSS.escape(kept)}"]`)?.focus({ preventScroll: true });
    follow(outcome);
  };
  paint();
  return [make("h2", {}, QUESTIONS[open].words), formOf(card), outcome];
}

function listen(card) {
  bench.on("job", () => card.paintJob?.());
  for (const by of ["wheel", "touchmove"]) card.leaf.addEventListener(by, () => (follows = false), { passive: true });
  return true;
}

// From another leaf: this question, about this change. It is asked, so its answer is worked out at once.
export function askAbout(card, what, change) {
  open = what;
  about(change);
  card.turnTo("ask");
  begin(card);
}

// The answer stands below the question: it is brought into view, unless somebody looks elsewhere meanwhile.
let follows = false;

function begin(card) {
  follows = true;
  ask(open, options(), QUESTIONS[open].words);
}

function follow(outcome) {
  if (!follows) return;
  outcome.scrollIntoView({ block: "start" });
  follows = job.running;
}

function offered(card, what, { words, brief }) {
  return button([make("b", {}, words), make("span", {}, brief)], () => turn(card, what), { class: "example", "data-keep": `question ${what}` });
}

function turn(card, what) {
  open = what;
  card.paint();
  card.leaf.scrollTop = 0;
  card.leaf.querySelector("button, input, select")?.focus({ preventScroll: true });
}

let options = () => ({});

function formOf(card) {
  const { fill, note } = QUESTIONS[open];
  // What was asked is still written there.
  const made = fill(job.what === open ? job.options : {});
  options = made.options;
  return make("div.rows", {}, note ? make("p.quiet", {}, note) : null, made.fields);
}

function outcomeOf(card) {
  const mine = job.what === open;
  const running = mine && job.running;
  const words = job.stopping ? "Do not wait for it" : "Stop";
  return [
    make("div.buttons", {},
      running ? button(words, stop, { class: "main", "data-keep": "stop" }) : button("Work it out", () => begin(card), { class: "main", "data-keep": "work" }),
      button("Another question", () => turn(card, null), { "data-keep": "another" })),
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

