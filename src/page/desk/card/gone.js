// What is taken out takes along the named changes that cannot be made without it: that is said, and can be taken back.

import { bench } from "../bench/bench.js";
import { say } from "../paper/say.js";

export async function takeOut(name, edits) {
  const before = bench.scene.changes.map((one) => one.name);
  if (!(await bench.edit(edits, `${name} removed`))) return;
  const gone = before.filter((change) => !bench.scene.changes.some((one) => one.name === change));
  if (gone.length) say(`${gone.map((change) => `"${change}"`).join(" and ")} cannot be made without ${name} and went with it.`, { undo: () => bench.undo() });
}
