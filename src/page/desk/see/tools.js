// What can be shown beside machine and harness, as buttons at the foot of the large view.

import { bench } from "../bench/bench.js";
import { button, make } from "../paper/make.js";

export function stageTools(stage) {
  const toggle = (words, name, label) => {
    const one = button(words, () => {
      stage.show(name, !stage.shows[name]);
      one.setAttribute("aria-pressed", stage.shows[name]);
    }, { "aria-pressed": stage.shows[name], "aria-label": label });
    return one;
  };
  const closer = (sign, by, words) => button([make("span", { "aria-hidden": "true" }, sign), make("span.unseen", {}, words)], () => {
    stage.eyes.zoom(stage.big, by);
    stage.draw();
  });
  const bar = make("div.views-tools", { role: "toolbar", "aria-label": "What the views show" },
    closer("+", 1.3, "Nearer"), closer("\u2212", 0.77, "Farther"),
    button("All of it", () => stage.fitAll()),
    toggle("Names", "names", "Names of fixings and hot parts"),
    toggle("As opened", "before", "As opened: the route as it was then, dashed"),
    toggle("Swept room", "sweep", "Swept room: what the harness takes in all poses"));
  stage.root.append(bar);
  const paint = () => (bar.hidden = !bench.scene || !stage.renderer);
  bench.on("scene", paint);
  paint();
}
