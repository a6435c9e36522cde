// What to have at hand, and in which order it goes: shown at the beginning and with a blank.

import { make } from "../paper/make.js";

const STEPS = [
  ["Zero", "the middle of the big nut on top of the steering stem. All is measured from there: forward, to the left, up."],
  ["Steering", "how far the steering head leans, and how far the bars turn each way."],
  ["Ties", "where the harness is held, from the connector under the seat to the bars."],
  ["String", "the length between the last tie on the frame and the first on the bars, or the slack you gather there."],
  ["In the way", "tank, frame tubes, seat pan, fork; and what gets hot."],
];

export function guide() {
  return make("details", {}, make("summary", {}, "What to measure, in which order"),
    make("ol.rows", {}, STEPS.map(([what, words], i) => make("li", {}, make("b", {}, `${i + 1}. ${what}: `), words))));
}
