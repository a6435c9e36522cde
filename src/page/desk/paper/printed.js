// What is printed: not the desk with its buttons but a sheet made for paper, put together just before.

import { bench } from "../bench/bench.js";
import { measure } from "../bench/units.js";
import { EYES } from "../see/eyes.js";
import { shownFindings } from "../see/names.js";
import { pictureOf, underIt } from "../see/picture.js";
import { make } from "./make.js";

export function printing(stage) {
  let sheet = null;
  addEventListener("beforeprint", () => {
    sheet?.remove();
    if (!bench.scene) return;
    sheet = made(stage);
    document.body.append(sheet);
  });
  addEventListener("afterprint", () => {
    sheet?.remove();
    sheet = null;
  });
}

function made(stage) {
  const small = Object.keys(EYES).filter((eye) => eye !== stage.big);
  const found = shownFindings();
  return make("section.printed", {},
    make("h1", {}, bench.state.title),
    make("p", {}, `${document.querySelector(".stamp span")?.textContent ?? ""} (${bench.state.file ?? "not saved"})`),
    make("figure", {}, pictureOf(stage, stage.big), make("figcaption", {}, `${stage.big === "turn" ? "" : `${EYES[stage.big]}. `}${underIt()}`)),
    make("div.small", {}, small.map((eye) => make("figure", {}, pictureOf(stage, eye), make("figcaption", {}, eye === "turn" ? "As it was turned" : EYES[eye])))),
    make("ol", {}, found.map(({ finding, also, number }) => make("li", {},
      make("b", {}, `${number}. ${finding.check}: ${measure(finding.value, finding.unit)}, ${finding.at_most ? "at most" : "at least"} ${measure(finding.limit, finding.unit)} (${finding.verdict}). `),
      `${finding.branch ?? ""}, ${finding.place}; ${finding.pose_in_words}. ${finding.advice}`,
      also.length ? ` Also with ${also.map((one) => one.pose_in_words).join("; ")}.` : ""))),
    make("ul", {}, (bench.scene.cautions ?? []).map((one) => make("li", {}, one))));
}
