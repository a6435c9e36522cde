// Small drawings of how to measure: our own, a few lines each.

import { draw } from "../paper/make.js";

const sheet = (words, ...inside) => draw("svg", { class: "how", viewBox: "0 0 360 190", role: "img", "aria-label": words }, ...inside);
const line = (d, kind = "thin") => draw("path", { d, class: kind });
const text = (x, y, words) => draw("text", { x, y }, words);
const dot = (x, y) => draw("circle", { cx: x, cy: y, r: 4.5, class: "dot" });
// A machine from the side in a few strokes, front to the left.
const machine = () => [
  draw("circle", { cx: 62, cy: 146, r: 34, class: "body" }), draw("circle", { cx: 292, cy: 146, r: 34, class: "body" }),
  line("M62 146L112 48", "thick"), line("M104 44L140 38", "thick"), line("M116 62L250 78L330 66"), draw("path", { d: "M128 60Q150 34 206 50L210 74Z", class: "body" }), line("M176 146h116"),
];

export const offsetsHow = () => sheet("From the middle of the stem nut: back, out from the centre line, up or down from a level straightedge",
  machine(), dot(112, 48), text(84, 30, "zero: stem nut"),
  line("M112 48H250", "dash"), line("M250 48V96", "dash"), dot(250, 96),
  text(190, 22, "1  back, along a level edge"), line("M196 26L186 46"), text(258, 76, "2  down"), text(196, 122, "3  out from the centre line"), line("M238 112L248 100"));

export const tapeHow = () => sheet("Tape from the point to three or more known points that are far apart, one of them well to one side",
  machine(), dot(112, 48), dot(176, 146), dot(292, 146), dot(228, 84),
  line("M112 48L228 84", "dash"), line("M176 146L228 84", "dash"), line("M292 146L228 84", "dash"),
  text(232, 64, "the point"), text(66, 36, "stem nut"), text(150, 172, "peg"), text(276, 172, "axle"), text(8, 186, "Four are better: then a bad reading shows."));

export const slackHow = () => sheet("Hold the harness at the tie on the bars, gather what hangs, read how much length you hold",
  line("M40 60V132", "thick"), text(20, 152, "tie on the frame"), dot(40, 96),
  line("M320 40V112", "thick"), text(250, 132, "tie on the bars"), dot(320, 76),
  line("M40 96L150 86", "thick"), line("M210 82L320 76", "thick"), line("M150 86C160 150 200 150 210 82", "thin"),
  line("M150 62V84M210 62V80M150 68H210"), text(118, 54, "run straight, the rest gathered"), text(146, 170, "slack = length in this loop"));

export const stringHow = () => sheet("Lay a string along the harness from tie to tie and mark it at both",
  line("M40 96C110 30 220 150 320 66", "thick"), line("M40 88C110 22 220 142 320 58", "dash"), dot(40, 96), dot(320, 66),
  line("M40 76V112M320 46V84"), text(22, 132, "mark"), text(300, 104, "mark"), text(90, 168, "lay the string straight, measure mark to mark"));
