// Says what happened in the strip at the foot of the job card, where a screen reader hears it too. The strip has a place of
// its own, which the open leaf leaves to it, so it lies over nothing. `act`: [words, what a button does].

import { button, empty, make } from "./make.js";

let timer = 0;

export function say(words, { cure = "", fault = false, undo = null, act = null, stays = false } = {}) {
  const strip = document.getElementById("said");
  clearTimeout(timer);
  strip.classList.toggle("fault", fault);
  empty(
    strip,
    make("span.what", {}, fault ? make("b", {}, "Not done: ") : null, words, cure ? make("span.cure", {}, " ", cure) : null),
    undo ? button("Undo", undo) : null,
    act ? button(act[0], () => { hush(); act[1](); }) : button("Close", hush, { "aria-label": "Close this message" }),
  );
  strip.classList.add("shown");
  // What was pressed stays in view where the leaf became lower.
  const pressed = document.activeElement;
  if (pressed?.closest(".leaf") && pressed.matches("button, input, select, textarea, summary")) pressed.scrollIntoView({ block: "nearest" });
  // A fault stays until it was read, a question until it is answered.
  if (!fault && !stays) timer = setTimeout(hush, 7000);
}

export function sayFault(error) {
  say(error.says ?? String(error.message ?? error), { cure: error.cure ?? "", fault: true });
}

export function hush() {
  document.getElementById("said").classList.remove("shown", "fault");
}
