// Paper: the bench sheet to work from, the picture as it is seen now, the tables.

import { bench } from "../bench/bench.js";
import { units } from "../bench/units.js";
import { choice, textField } from "../paper/field.js";
import { button, make } from "../paper/make.js";
import { say } from "../paper/say.js";

const TABLES = [["findings", "Findings"], ["spans", "Spans in every pose"], ["shapes", "Shapes"], ["charts_along", "Charts along"], ["charts_against", "Charts against angle"], ["poses", "Poses"]];

export function printLeaf(card) {
  const paper = choice("Paper", [["a4", "A4"], ["letter", "Letter"]], units.inch ? "letter" : "a4");
  const order = textField("Work order", "");
  const query = (more) => new URLSearchParams({ units: units.name, ...more }).toString();
  const load = (address, name) => {
    const link = make("a", { href: address, download: name });
    document.body.append(link);
    link.click();
    link.remove();
  };
  const stem = () => (bench.state.file ?? "route").replace(/\.ron$/, "").replace(/^.*\//, "");
  return [
    make("h2", {}, "Print"),
    make("h3", {}, "Bench sheet"),
    make("p", {}, "Work order, drawing, the harness straightened at true size, tie, cut and splice lists, hand checks. Print at 100 % and measure the bar at the foot of each page."),
    make("div.two", {}, paper, order),
    make("div.buttons", {}, button("Bench sheet, PDF", () => load(`api/sheet.pdf?${query({ paper: paper.read(), ...(order.read() ? { "work-order": order.read() } : {}) })}`, `${stem()}-sheet.pdf`), { class: "main" })),
    make("h3", {}, "Picture"),
    make("div.buttons", {},
      button("Print as seen", () => print()),
      button("As seen, PNG", () => seen(card.stage, `${stem()}-seen.png`)),
      button("Drawing, SVG", () => load(`api/picture.svg?${query({})}`, `${stem()}.svg`)),
      button("Drawing, PNG", () => load(`api/picture.png?${query({})}`, `${stem()}.png`))),
    make("h3", {}, "Tables for a spreadsheet"),
    make("div.buttons", {}, TABLES.map(([name, words]) => button(words, () => load(`api/tables/${name}.csv?${query({})}`, `${stem()}-${name}.csv`)))),
    make("h3", {}, "Route file"),
    make("div.buttons", {}, button("Route file, RON", async () => {
      const { text } = await (await fetch("api/text")).json();
      keep(new Blob([text], { type: "text/plain" }), `${stem()}.ron`);
    })),
  ];
}

function keep(blob, name) {
  const address = URL.createObjectURL(blob);
  const link = make("a", { href: address, download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 5000);
}

// The large view with its names, on one canvas.
function seen(stage, name) {
  const { frame } = stage.frameOf(stage.big);
  const [box, all] = [frame.getBoundingClientRect(), stage.root.getBoundingClientRect()];
  const ratio = stage.renderer.getPixelRatio();
  const foot = 44;
  const canvas = make("canvas", { width: box.width * ratio, height: (box.height + foot) * ratio });
  const at = canvas.getContext("2d");
  const style = getComputedStyle(document.documentElement);
  at.scale(ratio, ratio);
  at.fillStyle = style.getPropertyValue("--paper");
  at.fillRect(0, 0, box.width, box.height + foot);
  at.drawImage(stage.canvas, (box.left - all.left) * ratio, (box.top - all.top) * ratio, box.width * ratio, box.height * ratio, 0, 0, box.width, box.height);
  at.textBaseline = "middle";
  for (const label of frame.querySelectorAll(".labels > :not(.leader)")) {
    const place = label.getBoundingClientRect();
    const looks = getComputedStyle(label);
    at.font = `${looks.fontWeight} ${looks.fontSize} ${looks.fontFamily}`;
    if (looks.backgroundColor !== "rgba(0, 0, 0, 0)") {
      at.fillStyle = looks.backgroundColor;
      at.fillRect(place.left - box.left, place.top - box.top, place.width, place.height);
    }
    at.fillStyle = looks.color;
    at.textAlign = "center";
    at.fillText(label.textContent, place.left - box.left + place.width / 2, place.top - box.top + place.height / 2);
  }
  at.fillStyle = style.getPropertyValue("--ink");
  at.textAlign = "left";
  at.font = `17px "Workshop Sheet", sans-serif`;
  at.fillText(`${bench.state.title}: ${document.querySelector(".pose-words b")?.textContent ?? ""}. An estimate, no certificate.`, 14, box.height + foot / 2);
  canvas.toBlob((blob) => {
    keep(blob, name);
    say("The picture was handed to the browser to keep.");
  });
}
