// A file that cannot be read: every fault with its line, and the text to mend it in.

import { bench } from "../bench/bench.js";
import { button, make } from "../paper/make.js";
import { textArea } from "./text.js";

export function faultsLeaf() {
  const area = textArea();
  area.load();
  return [make("div.faulty", {}, make("div.rows", {},
    make("h2", {}, "The route file cannot be read yet"),
    make("p", {}, "Nothing is lost. Mend what is named here, or undo the last step."),
    make("ul.faults", {}, bench.state.faults.map((fault) =>
      make("li", {}, button(fault.line ? `Line ${fault.line}` : "Go there", () => goTo(area, fault), { class: "link" }), make("b", {}, fault.says), fault.cure ? make("p.quiet", {}, fault.cure) : null)))),
    make("div.rows", {}, make("div.buttons", {}, button("Read it again", () => area.use("text mended"), { class: "main" })), area))];
}

function goTo(area, { line, column }) {
  const lines = area.value.split("\n");
  const at = lines.slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0) + Math.max((column ?? 1) - 1, 0);
  area.focus();
  area.setSelectionRange(at, at + 1);
  area.scrollTop = Math.max(0, (line - 4) * 19.6);
}
