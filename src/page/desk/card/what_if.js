// Named changes of the file, each with a slider for how far. It is tried while it slides and kept only when asked.

import { bench } from "../bench/bench.js";
import { letGo, tryOut } from "../bench/trying.js";
import { measure } from "../bench/units.js";
import { button, make } from "../paper/make.js";
import { newWhatIf } from "./what_if_new.js";

let share = {};

export function whatIf(card) {
  const changes = bench.scene.changes;
  return [make("h3", {}, "What if"), changes.map((change) => one(change, card)), newWhatIf()];
}

function one(change, card) {
  // What is not tried any more stands at nothing again.
  if (!bench.tried) share[change.name] = 0;
  const now = share[change.name] ?? 0;
  const words = (value) => {
    if (!value) return "as it is now";
    const amount = change.amount?.value;
    const pct = `${Math.round(value * 100)} %`;
    return amount === null || amount === undefined ? pct : `${measure(amount * value, { length: "mm", angle: "deg" }[change.amount.kind] ?? change.amount.unit ?? change.amount.kind)} (${pct})`;
  };
  const shown = make("output", {}, words(now));
  const slide = (value) => {
    share[change.name] = value;
    shown.textContent = words(value);
    if (value) tryOut([{ change: change.name, share: value }], `${change.name}, ${Math.round(value * 100)} %`);
    else letGo();
  };
  const slider = make("input", { type: "range", min: 0, max: 1.5, step: 0.05, value: now, "aria-label": `How far: ${change.name}`, "aria-valuetext": words(now), oninput: (event) => {
    slide(Number(event.target.value));
    event.target.setAttribute("aria-valuetext", words(Number(event.target.value)));
  } });
  return make("div.told", {},
    make("div", {}, make("b", {}, change.name), " ", shown),
    make("p.quiet", {}, together(change.steps)),
    make("div.slide", {}, slider, button("How far can it go?", () => card.ask("reach", change.name))));
}

// What moves alike is said together: "K3, T4: 75 mm up".
function together(steps) {
  const moved = new Map();
  for (const step of steps) {
    const [, name, by] = /^(.*?)( \d.*)$/.exec(step) ?? [null, step, ""];
    moved.set(by, [...(moved.get(by) ?? []), name]);
  }
  return [...moved].map(([by, names]) => (names.length > 1 ? `${names.join(", ")}:${by}` : `${names[0]}${by}`)).join("; ");
}
