// Where a thing is: three numbers, and six buttons that nudge it. Both send the same move.

import { bench } from "../bench/bench.js";
import { length, units } from "../bench/units.js";
import { lengthField } from "../paper/field.js";
import { button, make } from "../paper/make.js";
import { moveEdit } from "../see/drag.js";

const AXES = ["Forward of zero", "Left of zero", "Above zero"];
const NUDGES = [
  ["Up", [0, 0, 1]], ["Forward", [1, 0, 0]], ["Left", [0, 1, 0]],
  ["Down", [0, 0, -1]], ["Back", [-1, 0, 0]], ["Right", [0, -1, 0]],
];
// Steps of the buttons [mm]: a hair, a finger, a thumb; in inches 1/16, 1/4, 1/2.
const STEPS = () => (units.inch ? [25.4 / 16, 6.35, 12.7] : [1, 5, 10]);
let nth = 1;

export function placeFields(thing, at) {
  const move = (by) => bench.edit([moveEdit(thing, by)], `${thing.name} moved`);
  const step = make("select", { "aria-label": "How far one press moves it", onchange: (event) => (nth = Number(event.target.value)) },
    STEPS().map((mm, i) => make("option", { value: i }, units.inch ? ["1/16 in", "1/4 in", "1/2 in"][i] : length(mm))));
  step.value = nth;
  return [
    make("div.three", {}, AXES.map((label, axis) => lengthField(label, at[axis], (mm) => {
      const by = [0, 0, 0];
      by[axis] = mm - at[axis];
      return move(by);
    }))),
    make("div.pad", { role: "group", "aria-label": `Nudge ${thing.name}` },
      NUDGES.map(([words, way]) => button(words, () => move(way.map((x) => x * STEPS()[nth])), { "data-keep": `nudge ${words}`, "aria-label": `${words}: move ${thing.name}` }))),
    make("label.inline", {}, "One press moves it ", step),
  ];
}
