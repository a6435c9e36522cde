// A field for a number with its unit. What cannot be read is said beneath it, and nothing is changed.

import { bare, readLength, units } from "../bench/units.js";
import { make } from "./make.js";

let count = 0;

// A length. onset(mm) is called when it was changed and can be read.
export function lengthField(label, mm, onset, { least = -Infinity, note = "", places = 1 } = {}) {
  const read = (text) => readLength(text);
  const cure = units.inch ? "write a length such as 7 3/8, 7.4 or 188 mm" : "write a length such as 188, 18.5 cm or 7 3/8 in";
  return field(label, bare(mm, places), units.sign, read, cure, onset, { least, note });
}

export function numberField(label, value, unit, onset, { least = -Infinity, note = "" } = {}) {
  const read = (text) => {
    const tidy = text.trim().replace(",", ".").replace("\u2212", "-");
    return tidy !== "" && Number.isFinite(Number(tidy)) ? Number(tidy) : null;
  };
  return field(label, value === null || value === undefined ? "" : String(value), unit, read, "write a number", onset, { least, note });
}

export function textField(label, value, onset, { note = "" } = {}) {
  return field(label, value ?? "", "", (text) => text, "", onset, { note });
}

function field(label, value, unit, read, cure, onset, { least = -Infinity, note }) {
  const id = `field-${(count += 1)}`;
  const wrong = make("span.wrong", { id: `${id}-wrong`, role: "alert" });
  const input = make("input", { type: "text", id, value, autocomplete: "off", inputmode: unit ? "text" : null, "aria-describedby": `${id}-wrong` });
  const set = () => {
    if (input.value === value) return;
    const found = read(input.value);
    const low = typeof found === "number" && found < least;
    const bad = found === null || low;
    input.setAttribute("aria-invalid", bad);
    wrong.textContent = bad ? (low ? `at least ${least}` : cure) : "";
    if (bad) return;
    value = input.value;
    onset?.(found);
  };
  input.addEventListener("change", set);
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") set();
  });
  const whole = make("div.field", {},
    make("label.label", { for: id }, label),
    make("div.with", {}, input, unit ? make("span.unit", { "aria-hidden": "true" }, unit) : null),
    wrong, note ? make("span.quiet", {}, note) : null);
  whole.read = () => (input.value.trim() === "" ? null : read(input.value));
  whole.input = input;
  return whole;
}

export function choice(label, options, value, onset) {
  const select = make("select", { onchange: (event) => onset?.(event.target.value) }, options.map(([key, words]) => make("option", { value: key }, words)));
  if (value !== null && value !== undefined) select.value = value;
  const whole = make("label.field", {}, make("span.label", {}, label), select);
  whole.read = () => select.value;
  return whole;
}
