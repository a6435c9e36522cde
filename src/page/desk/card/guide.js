// What to have at hand, and in which order it goes: shown at the beginning and with a blank, where each step leads to the
// place where it is written down.

import { button, make } from "../paper/make.js";

// What, in words, and on which leaf under which heading it is written.
const STEPS = [
  ["Zero", "the middle of the big nut on top of the steering stem. All is measured from there: forward, to the left, up.", "measure", "A new point, by offsets"],
  ["Steering", "how far the steering head leans, and how far the bars turn each way.", "change", "Stops"],
  ["Ties", "where the harness is held, from the connector under the seat to the bars.", "change", null],
  ["String", "the length between the last tie on the frame and the first on the bars, or the slack you gather there.", "measure", "Slack and length"],
  ["In the way", "tank, frame tubes, seat pan, fork; and what gets hot.", "change", "A part that is in the way"],
];

export function guide(card, open = false) {
  const step = ([what, words, leaf, heading], i) => {
    const name = `${i + 1}. ${what}`;
    return make("li", {}, card ? button(name, () => card.show(leaf, heading)) : make("b", {}, `${name}: `), make("span", {}, words));
  };
  return make("details.guide", { open }, make("summary", {}, "What to measure, in which order"), make("ol.rows", {}, STEPS.map(step)));
}
