// Paper: the bench sheet to work from, the picture as it is seen now, the tables.

import { bench } from "../bench/bench.js";
import { units } from "../bench/units.js";
import { fetched, get } from "../link/call.js";
import { choice, textField } from "../paper/field.js";
import { form } from "../paper/form.js";
import { button, make } from "../paper/make.js";
import { say, sayFault } from "../paper/say.js";
import { pictureOf, underIt } from "../see/picture.js";
import { symptom } from "./job.js";

const LISTS = [["ties", "Ties"], ["cuts", "Cut list"], ["splices", "Splices"], ["voltage_drops", "Voltage drops"], ["look_first", "Where to look first"], ["hand_checks", "Hand checks"], ["measure_points", "Points to measure"], ["measure_slack", "Slack to measure"]];
const TABLES = [["findings", "Findings"], ["spans", "Spans in every pose"], ["shapes", "Shapes"], ["charts_along", "Charts along"], ["charts_against", "Charts against angle"], ["poses", "Poses"]];

const said = form("print");
const ROUTE = "Of the route";
const changed = (name) => `change ${name}`;

// The sheet that is printed next is that of a named change, or of the route as it is; without a word of the step that is
// offered.
export const printed = (change) => said.put(ROUTE, change ? changed(change) : change);

export function printLeaf(card) {
  const own = { form: said };
  const paper = choice("Paper", [["a4", "A4"], ["letter", "Letter"]], units.inch ? "letter" : "a4", null, own);
  const order = textField("Work order", "", null, own);
  const query = (more) => new URLSearchParams({ units: units.name, ...more }).toString();
  const stem = () => (bench.state.file ?? "route").replace(/\.ron$/, "").replace(/^.*\//, "");
  // The sheet of the route as it is, or of what a named change makes of it, lengthened where that is needed.
  const changes = bench.scene.changes.map((one) => one.name);
  const of = choice(ROUTE, [["", "as it is now"], ...changes.map((name) => [changed(name), `changed: ${name}`])], "", null, own);
  offerSteps(of.querySelector("select"), changes, said.get(ROUTE));
  // What was last said to fail, with where to open it first.
  const fails = symptom.options;
  const broken = fails ? choice("Where to look first", [["", "what calls for it in the checks"], ["yes", `for what fails: ${fails.failing.join(", ")}`]], "yes", null, own) : null;
  const seenFailing = () => ({ failing: fails.failing.join("\n"), ...(fails.at ? { at: fails.at } : {}), ...(fails.hot ? { hot: "true" } : {}) });
  const sheet = () => query({ ...(broken?.read() ? seenFailing() : {}), paper: paper.read(), ...(order.read() ? { "work-order": order.read() } : {}), ...asked(of.read()) });
  return [
    make("h2", {}, "Print"),
    make("h3", {}, "Bench sheet"),
    make("p", {}, "Work order, drawing, the harness straightened at true size, tie, cut and splice lists, hand checks. Print at 100\u00a0% and measure the bar at the foot of each page."),
    of, broken, make("div.two", {}, paper, order),
    make("div.buttons", {}, button("Bench sheet, PDF", () => handOut(`sheet.pdf?${sheet()}`, `${stem()}-sheet.pdf`), { class: "main" })),
    make("details", {}, make("summary", {}, "Its lists for a spreadsheet"),
      make("div.buttons", {}, [...LISTS, ...(fails ? [["where_broken", "Where to look for what fails"]] : [])].map(([name, words]) => button(words, () => handOut(`sheet/${name}.csv?${sheet()}`, `${stem()}-${name}.csv`))))),
    make("h3", {}, "Picture"),
    make("div.buttons", {},
      button("Print as seen", () => print()),
      button("As seen, PNG", () => seen(card.stage, `${stem()}-seen.png`)),
      button("Drawing, SVG", () => handOut(`picture.svg?${query({})}`, `${stem()}.svg`)),
      button("Drawing, PNG", () => handOut(`picture.png?${query({})}`, `${stem()}.png`))),
    make("h3", {}, "Tables for a spreadsheet"),
    make("div.buttons", {}, TABLES.map(([name, words]) => button(words, () => handOut(`tables/${name}.csv?${query({})}`, `${stem()}-${name}.csv`)))),
    make("h3", {}, "Route file"),
    make("div.buttons", {}, button("Route file, RON", async () => {
      try {
        const { text } = await get("text");
        keep(new Blob([text], { type: "text/plain" }), `${stem()}.ron`);
      } catch (error) {
        sayFault(error);
      }
    })),
  ].filter(Boolean);
}

// What was made longer is cut by the sheet of the harness as it was: that step is offered, and taken unless said otherwise.
async function offerSteps(select, changes, chosen) {
  if (!bench.state.undo) return;
  const { steps, now } = await get("steps").catch(() => ({ steps: [], now: 0 }));
  const done = steps.slice(0, 1 + steps.findIndex((step) => step.rev === now));
  const nth = done.findLastIndex((step) => LENGTHENED.test(step.says));
  if (nth < 1) return;
  const change = changes.find((name) => done[nth].says.startsWith(`${name}, `));
  const key = JSON.stringify({ of: done[nth - 1].rev, ...(change ? { change } : {}) });
  select.append(make("option", { value: `step ${key}` }, "as it was before: what to cut and splice"));
  if (chosen === undefined || chosen === `step ${key}`) select.value = `step ${key}`;
}

const LENGTHENED = /(^|, )lengthened/;

// What is asked of the sheet by the choice of the route.
function asked(choice) {
  const [, kind, rest] = /^(change|step) (.*)$/s.exec(choice) ?? [];
  return kind === "step" ? JSON.parse(rest) : kind === "change" ? { change: rest } : {};
}

// What takes a while says so; a sheet that cannot be made is refused in words.
async function handOut(address, name) {
  say(`${name} is being made.`, { stays: true });
  try {
    keep(await fetched(address), name);
    say(`${name} was handed to the browser to keep.`);
  } catch (error) {
    sayFault(error);
  }
}

function keep(blob, name) {
  const address = URL.createObjectURL(blob);
  const link = make("a", { href: address, download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 5000);
}

// The large view with its names, and beneath it what it shows.
function seen(stage, name) {
  if (!stage.renderer) return say("nothing is drawn in this browser.", { cure: "Take the drawing instead: it is made by the program.", fault: true });
  const picture = pictureOf(stage, stage.big);
  const foot = 44 * (stage.renderer?.getPixelRatio() ?? 1);
  const canvas = make("canvas", { width: picture.width, height: picture.height + foot });
  const at = canvas.getContext("2d");
  const style = getComputedStyle(document.documentElement);
  at.fillStyle = style.getPropertyValue("--paper");
  at.fillRect(0, 0, canvas.width, canvas.height);
  at.drawImage(picture, 0, 0);
  at.fillStyle = style.getPropertyValue("--ink");
  at.textBaseline = "middle";
  at.font = `${foot * 0.4}px "Workshop Sheet", sans-serif`;
  at.fillText(underIt(), foot / 3, picture.height + foot / 2);
  return canvas.toBlob((blob) => {
    keep(blob, name);
    say("The picture was handed to the browser to keep.");
  });
}
