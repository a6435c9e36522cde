// Named changes of the file, each with a slider for how far and a field for just how far. It is tried while it slides and kept
// only when asked.

import { bench } from "../bench/bench.js";
import { letGo, offer, tryOut } from "../bench/trying.js";
import { measure } from "../bench/units.js";
import { lengthField, numberField } from "../paper/field.js";
import { button, empty, make } from "../paper/make.js";
import { newWhatIf } from "./what_if_new.js";

let share = {};
// As far as the slider goes, unless more was written.
const MOST = 1.5;

export function whatIf(card) {
  const changes = bench.scene.changes;
  return [make("h3", {}, "What if"), changes.map((change) => one(change, card)), newWhatIf()];
}

function one(change, card) {
  // What is not tried any more, nor about to be, stands at nothing again.
  if (!bench.tried && !offer) share[change.name] = 0;
  const now = share[change.name] ?? 0;
  const words = (value) => {
    if (!value) return "as it is now";
    const amount = change.amount?.value;
    const pct = `${Math.round(value * 100)} %`;
    return amount === null || amount === undefined ? pct : `${measure(amount * value, { length: "mm", angle: "deg" }[change.amount.kind] ?? change.amount.unit ?? change.amount.kind)} (${pct})`;
  };
  const exact = make("div.exact", {}, amount(change, now, (value) => slide(value, true)));
  const shown = make("output", {}, words(now));
  const slide = (value, written) => {
    share[change.name] = value;
    shown.textContent = words(value);
    if (written) {
      slider.max = Math.max(MOST, value);
      slider.value = value;
    } else empty(exact, amount(change, value, (to) => slide(to, true)));
    slider.setAttribute("aria-valuetext", words(value));
    if (value) tryOut([{ change: change.name, share: value }], () => `${change.name}, ${words(value)}`);
    else letGo();
  };
  const slider = make("input", { type: "range", min: 0, max: Math.max(MOST, now), step: 0.05, value: now, "aria-label": `How far: ${change.name}`, "aria-valuetext": words(now), "data-keep": `far ${change.name}`, oninput: () => slide(Number(slider.value)) });
  return make("div.told", {},
    make("div", {}, make("b", {}, change.name), ": ", shown),
    make("p.quiet", {}, together(change.steps)),
    make("div.slide", {}, slider, exact), make("div.buttons", {}, button("How far can it go?", () => card.ask("reach", change.name))));
}

// What the change amounts to at a share of it, to be written; none where it has no one amount.
function amount({ name, amount: whole }, value, onset) {
  const field = { length: lengthField, angle: (label, v, does) => numberField(label, v === null ? v : Number(v.toFixed(2)), "°", does) }[whole?.kind];
  if (!field || !whole.value) return null;
  const made = field("Exactly", value ? whole.value * value : null, (to) => onset(to / whole.value));
  made.input.setAttribute("data-keep", `so far ${name}`);
  return made;
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
