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
  const closer = (words, by, label) => button(words, () => {
    stage.eyes.zoom(stage.big, by);
    stage.draw();
  }, { "aria-label": label });
  const bar = make("div.views-tools", { role: "toolbar", "aria-label": "What the views show" },
    closer("+", 1.3, "Nearer"), closer("\u2212", 0.77, "Farther"),
    button("All of it", () => stage.fitAll(), { "aria-label": "Show all of the machine" }),
    toggle("Names", "names", "Names of fixings and hot parts"),
    toggle("As opened", "before", "The route as it was opened, dashed"),
    toggle("Swept room", "sweep", "The room that the harness takes in all poses"));
  stage.root.append(bar);
  const paint = () => (bar.hidden = !bench.scene);
  bench.on("scene", paint);
  paint();
}
