// What the page asks first, asked before the rest of the page has come: the program can begin while the browser still reads.

import { units } from "../bench/units.js";

const asked = new Map();
const ask = (name, answer) => asked.set(name, answer.catch((error) => error));
const state = fetch("api/state");
// Where no route is open yet there is nothing more to ask.
const opened = state.then((answer) => answer.clone().json()).then((told) => told.open !== false);
ask("state", state);
for (const name of [`scene?units=${units.name}`, "shapes"]) ask(name, opened.then((open) => (open ? fetch(`api/${name}`) : Promise.reject(new Error("no route is open")))));

// The answer that was asked for early; each is given once.
export function early(name) {
  const answer = asked.get(name);
  asked.delete(name);
  return answer?.then((given) => {
    if (given instanceof Error) throw given;
    return given;
  });
}

// Something was changed or opened: what was asked before is no answer any more.
export const tooLate = () => asked.clear();
