// A field for a number with its unit. What cannot be read is said beneath it, and nothing is changed. What stands in a `form`
// under the field's `key`, its label unless another is given, is shown before what the field is given, and what a person
// writes or chooses is put there.

import { bare, readLength, units } from "../bench/units.js";
import { make } from "./make.js";

let count = 0;

// A length. onset(mm) is called when it was changed and can be read.
export function lengthField(label, mm, onset, { places = 1, ...more } = {}) {
  const cure = units.inch ? "write a length such as 7 3/8, 7.4 or 188 mm" : "write a length such as 188, 18.5 cm or 7 3/8 in";
  return field(label, { text: bare(mm, places), exact: mm ?? null, unit: units.sign, read: readLength, cure }, onset, more);
}

export function numberField(label, value, unit, onset, more = {}) {
  const read = (text) => {
    const tidy = text.trim().replace(",", ".").replace("\u2212", "-");
    return tidy !== "" && Number.isFinite(Number(tidy)) ? Number(tidy) : null;
  };
  return field(label, { text: value === null || value === undefined ? "" : String(value), exact: value ?? null, unit, read, cure: "write a number" }, onset, more);
}

export function textField(label, value, onset, more = {}) {
  return field(label, { text: value ?? "", exact: value ?? "", unit: "", read: (text) => text, cure: "" }, onset, more);
}

// Lengths that were written in the other units are shown to so many places.
const FINE = 3;

function field(label, { text, exact, unit, read, cure }, onset, { least = -Infinity, note = "", form = null, key = label }) {
  const id = `field-${(count += 1)}`;
  const said = form?.get(key);
  if (said) [text, exact] = [said.unit === unit || said.value === null ? said.text : bare(said.value, FINE), said.value];
  const wrong = make("span.wrong", { id: `${id}-wrong`, role: "alert" });
  const input = make("input", { type: "text", id, value: text, autocomplete: "off", inputmode: unit ? "text" : null, "aria-describedby": `${id}-wrong`, "data-keep": form?.mark(key) });
  // As long as the text stands as it was, it says exactly what it was made of.
  const now = () => (input.value === text ? exact : input.value.trim() === "" ? null : read(input.value));
  const isBad = (found) => found === null || (typeof found === "number" && found < least);
  const tell = (found, bad) => {
    input.setAttribute("aria-invalid", bad);
    wrong.textContent = bad ? (found === null ? cure : `at least ${least}`) : "";
  };
  let before = input.value;
  const set = () => {
    if (input.value === before) return;
    const found = input.value === text ? exact : read(input.value);
    tell(found, isBad(found));
    if (isBad(found)) return;
    before = input.value;
    onset?.(found);
  };
  input.addEventListener("input", () => form?.put(key, { text: input.value, value: now(), unit }));
  input.addEventListener("change", set);
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") set();
  });
  if (said && text.trim() !== "") tell(exact, isBad(exact));
  const whole = make("div.field", {},
    make("label.label", { for: id }, label),
    make("div.with", {}, input, unit ? make("span.unit", { "aria-hidden": "true" }, unit) : null),
    wrong, note ? make("span.quiet", {}, note) : null);
  whole.read = now;
  whole.input = input;
  return whole;
}

export function choice(label, options, value, onset, { form = null, key = label } = {}) {
  const choose = (event) => {
    form?.put(key, event.target.value);
    onset?.(event.target.value);
  };
  const select = make("select", { onchange: choose, "data-keep": form?.mark(key) }, options.map(([name, words]) => make("option", { value: name }, words)));
  const said = form?.get(key);
  const shown = options.some(([name]) => name === said) ? said : value;
  if (shown !== null && shown !== undefined) select.value = shown;
  const whole = make("label.field", {}, make("span.label", {}, label), select);
  whole.read = () => select.value;
  return whole;
}

// Something that holds or does not.
export function tick(label, value, { form = null, key = label } = {}) {
  const box = make("input", { type: "checkbox", checked: form?.get(key) ?? value, "data-keep": form?.mark(key), onchange: () => form?.put(key, box.checked) });
  const whole = make("label.tick", {}, box, label);
  whole.read = () => box.checked;
  return whole;
}
