// The beginning: worked examples, the files beside this one, or a blank with a guided start.

import { bench } from "../bench/bench.js";
import { get } from "../link/call.js";
import { button, empty, make } from "../paper/make.js";
import { guide } from "./guide.js";
import { textArea } from "./text.js";

// Said once for all of them.
const INVENTED = / \((an )?invented( machine)?\)$/;
const titled = (title) => title.replace(INVENTED, "").replace(/: over$/, ", over its limit");

export function beginLeaf(card) {
  const examples = make("div.begin", {}, make("p.quiet", {}, "looking for examples"));
  const files = make("div.list", {});
  const open = (what) => bench.open(what, () => {
    card.guided = false;
    card.turnTo("look");
  });
  get("examples").then((told) => {
    empty(examples, told.examples.map((one) => button([make("b", {}, titled(one.title)), make("span", {}, one.says)], () => open({ example: one.name }), { class: "example" })));
    const others = (told.files ?? []).map((one) => one.name ?? one);
    empty(files, others.map((name) => button([make("span", {}, name), make("span", {}, name === told.opened ? "open" : "")], () => open({ file: name }))));
    if (!others.length) files.append(make("p.quiet", {}, "There is no route file in this folder yet."));
  }).catch(() => empty(examples, make("p.quiet", {}, "The examples cannot be read.")));
  return [
    make("h2", {}, bench.scene ? "Another route" : "Which machine?"),
    bench.scene ? null : make("p", {}, "neckloom checks how a motorcycle's harness lies at every steering angle and seat position, before anything is bolted on. Begin with an example, or with your own machine."),
    make("h3", {}, "Your own machine"),
    make("div.buttons", {}, button("Begin with a blank", () => bench.open({ blank: true }, () => {
      card.guided = true;
      card.turnTo("measure");
    }), { class: "main" })),
    guide(bench.scene ? card : null),
    make("h3", {}, "Files in this folder"), files,
    bench.scene ? [make("h3", {}, "Steps so far"), stepsList()] : null,
    bench.scene ? textPanel() : null,
    make("h3", {}, "Worked examples, all invented"), examples,
  ];
}

// Undo without end, also after the page was loaded anew: any step can be gone back to.
function stepsList() {
  const list = make("ol.list", {});
  get("steps").then(({ steps, now }) => empty(list, steps.map((step, i) => {
    const here = step.rev === now || i === now;
    return make("li", {}, button([make("span", {}, step.says || "as opened"), make("span", {}, here ? "here" : "")], () => bench.undoTo(step.rev), { "aria-current": here ? "step" : "false" }));
  }).reverse())).catch(() => {});
  return list;
}

// The route file itself, for who wants to read or write it.
function textPanel() {
  const area = textArea();
  const panel = make("details", { ontoggle: () => panel.open && area.load() },
    make("summary", {}, "The route file as text"), area, make("div.buttons", {}, button("Use this text", () => area.use("text written"))));
  return panel;
}
