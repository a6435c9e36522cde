// Lengths as people write them: millimetres or inches, fractions too. Inside the page all lengths are millimetres.

const INCH = 25.4;
const KEY = "neckloom units";
let inch = localStorage.getItem(KEY) === "inch";

export const units = {
  get inch() {
    return inch;
  },
  // What the server calls them.
  get name() {
    return inch ? "inch" : "mm";
  },
  get sign() {
    return inch ? "in" : "mm";
  },
  change() {
    inch = !inch;
    localStorage.setItem(KEY, inch ? "inch" : "mm");
  },
};

const minus = (text) => text.replace("-", "\u2212");

// A number alone, to put in a field: a plain minus, no trailing zeros.
export function bare(mm, places = 1) {
  if (mm === null || mm === undefined || !Number.isFinite(mm)) return "";
  const text = inch ? (mm / INCH).toFixed(places + 1) : mm.toFixed(places);
  return text.includes(".") ? text.replace(/\.?0+$/, "").replace(/^-0$/, "0") : text;
}

// A length with its unit, to read: whole millimetres from 10 on, tenths below; hundredths of an inch.
export function length(mm) {
  if (mm === null || mm === undefined) return "none";
  if (!Number.isFinite(mm)) return "no limit";
  if (inch) return minus(`${(mm / INCH).toFixed(2)} in`);
  return minus(`${Math.abs(mm) < 9.95 ? mm.toFixed(1) : mm.toFixed(0)} mm`);
}

// A value of a finding in its own unit.
export function measure(value, unit) {
  if (value === null || value === undefined) return "not known";
  if (unit === "mm") return length(value);
  const sign = { deg: "°", degc: " °C", pct: " %", n: " N", nm: " N m", "N m": " N m", ohm: " Ω", v: " V" }[unit] ?? (unit ? ` ${unit}` : "");
  const size = Math.abs(value);
  return minus(value.toFixed(size >= 10 ? 0 : size >= 1 ? 1 : 2) + sign);
}

// Reads "25", "7 3/8", "7-3/8\"", "18.5cm", "1,5": millimetres, or null where it is no length.
export function readLength(text) {
  const tidy = text.trim().toLowerCase().replace("\u2212", "-").replace(/(\d),(\d)/, "$1.$2");
  const found = /^([+-]?)\s*(?:(\d+(?:\.\d+)?|\.\d+)(?:[\s-]+(\d+)\s*\/\s*(\d+))?|(\d+)\s*\/\s*(\d+))\s*(mm|cm|m|in|inch|inches|"|″|ft|'|′)?$/.exec(tidy);
  if (!found) return null;
  const [, sign, whole, over, under, top, bottom, unit] = found;
  let value = whole !== undefined ? Number(whole) : Number(top) / Number(bottom);
  if (over !== undefined) value += Number(over) / Number(under);
  const size = { mm: 1, cm: 10, m: 1000, in: INCH, inch: INCH, inches: INCH, '"': INCH, "″": INCH, ft: 12 * INCH, "'": 12 * INCH, "′": 12 * INCH };
  value *= unit ? size[unit] : inch ? INCH : 1;
  return Number.isFinite(value) ? (sign === "-" ? -value : value) : null;
}

// A length as the route file takes it, whatever the file's own units are.
export const written = (mm) => `"${Number(mm.toFixed(3))} mm"`;
// The same inside a step, where the numbers of a place stand together.
export const writtenPoint = (p) => `(${p.map(written).join(", ")})`;
