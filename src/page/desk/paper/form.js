// What a person chose or wrote and has not used yet. A leaf is painted anew at any time (other light, other units, another
// leaf meanwhile), and its fields show what stands here before anything else; so nothing that was said is lost.

import { bench } from "../bench/bench.js";

const forms = new Map();
// Of another route nothing was said yet.
bench.on("opened", () => forms.forEach((one) => one.clear()));

// The form of this name; the same one each time it is asked for.
export function form(name) {
  if (!forms.has(name)) forms.set(name, new Form(name));
  return forms.get(name);
}

class Form {
  #said = new Map();

  constructor(name) {
    this.name = name;
  }

  // What was said under this name; undefined: nothing yet.
  get(key) {
    return this.#said.get(key);
  }

  put(key, value) {
    this.#said.set(key, value);
  }

  // By what the element that shows it is found again in a leaf that was painted anew.
  mark(key) {
    return `${this.name}: ${key}`;
  }

  // It is not wanted any more.
  clear() {
    this.#said = new Map();
  }

  // Does something with what was said, and forgets it; what is refused stays written.
  async use(does) {
    const said = this.#said;
    this.clear();
    const done = await does();
    if (done) return true;
    this.#said = new Map([...said, ...this.#said]);
    bench.tell("look");
    return false;
  }
}
