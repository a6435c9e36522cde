// What the page asks first, asked before the rest of the page has come: the program can begin while the browser still reads.

import { units } from "../bench/units.js";

const asked = new Map(["state", `scene?units=${units.name}`, "shapes"].map((name) => [name, fetch(`api/${name}`).catch((error) => error)]));

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
