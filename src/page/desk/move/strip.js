// A strip chart: one line against a scale, its limit dashed with its number, the present place marked.

import { draw, make } from "../paper/make.js";

// So many times beyond the greatest value what may be at most is told and not drawn: the curve would lie flat.
const FAR = 4;

// lines: [{values, name, dash}], at: the scale's values; limit: number, or a value per place; both: it holds below zero too;
// label: the limit in words, at its line; now: where the mark stands.
export function strip({ at, lines, limit = null, both = false, label = null, now = null, low = null, high = null, says, show, height = 74, words, onpick }) {
  const W = 600;
  const finite = lines.flatMap((line) => line.values).filter((v) => v !== null && Number.isFinite(v));
  if (both && Math.abs(limit) > FAR * Math.max(...finite.map(Math.abs))) limit = null;
  const limits = Array.isArray(limit) ? limit.filter(Number.isFinite) : limit === null ? [] : [limit];
  if (!finite.length) return draw("svg", { class: "strip", viewBox: `0 0 ${W} 24`, role: "img", "aria-label": `${says}: straight everywhere` },
    draw("text", { x: 4, y: 16, class: "quiet" }, "straight everywhere"));
  const top = high ?? topOf(finite, limits);
  const bottom = low ?? Math.min(0, ...finite, ...(both ? limits.map((v) => -1.2 * v) : []));
  const x0 = at[0];
  const x1 = at.at(-1);
  const x = (v) => ((v - x0) / (x1 - x0 || 1)) * W;
  const y = (v) => height - 3 - ((Math.min(Math.max(v ?? top, bottom), top) - bottom) / (top - bottom || 1)) * (height - 8);
  const path = (values) => values.map((v, i) => `${i ? "L" : "M"}${x(at[i]).toFixed(1)} ${y(v).toFixed(1)}`).join("");
  const least = Math.min(...finite);
  const svg = draw("svg", { class: "strip", viewBox: `0 0 ${W} ${height}`, preserveAspectRatio: "none", role: "img", "aria-label": `${says}: from ${show(least)} to ${show(Math.max(...finite))}${words ? `; ${words}` : ""}` },
    draw("line", { x1: 0, x2: W, y1: y(0), y2: y(0), class: "zero" }),
    limits.length ? draw("path", { d: Array.isArray(limit) ? path(limit) : `M0 ${y(limit)}H${W}`, class: "limit" }) : null,
    limits.length && both ? draw("path", { d: `M0 ${y(-limit)}H${W}`, class: "limit" }) : null,
    lines.map((line) => draw("path", { d: path(line.values), class: line.dash ? "curve dashed" : "curve" })),
    now === null ? null : draw("line", { x1: x(now), x2: x(now), y1: 0, y2: height, class: "now" }));
  if (onpick) svg.addEventListener("click", (event) => {
    const box = svg.getBoundingClientRect();
    onpick(x0 + ((event.clientX - box.left) / box.width) * (x1 - x0));
  });
  if (!label || limit === null) return svg;
  return make("div.limited", {}, svg, make("span", { class: `limit-words ${placed(lines[0].values.map((v) => y(v) - y(limit)))}`, "aria-hidden": "true", style: { top: `${(100 * y(limit)) / height}%` } }, label));
}

// Where the limit's words stand: they break its line at the end where the curve is farther off. Where it is near at both, on
// the other side of the line. `off`: how far the curve is below the line, from place to place.
const NEAR = 16;

function placed(off) {
  const third = Math.ceil(off.length / 3);
  const nearest = (part) => part.reduce((a, b) => (Math.abs(b) < Math.abs(a) ? b : a));
  const [first, last] = [nearest(off.slice(0, third)), nearest(off.slice(-third))];
  const left = Math.abs(first) > Math.abs(last);
  const near = left ? first : last;
  return `${left ? "left " : ""}${Math.abs(near) > NEAR ? "" : near <= 0 ? "under" : "over"}`;
}

// Where values run away to nearly straight, the scale ends well above the limit.
function topOf(finite, limits) {
  const sorted = [...finite].sort((a, b) => a - b);
  const usual = sorted[Math.floor(sorted.length * 0.6)];
  return Math.max(Math.min(sorted.at(-1), usual * 2.5), ...limits.map((v) => v * 1.4), sorted[0] + 1e-9);
}
