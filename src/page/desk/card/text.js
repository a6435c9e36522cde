// The text of the route file, to write in. What is written stays with the revision that it was written on.

import { bench } from "../bench/bench.js";
import { get } from "../link/call.js";
import { form } from "../paper/form.js";
import { make } from "../paper/make.js";

const said = form("text");

export function textArea() {
  const { rev } = bench.state;
  const area = make("textarea.text", { spellcheck: "false", "aria-label": "Text of the route file", oninput: () => said.put(rev, area.value) });
  area.load = () => get("text").then(({ text }) => (area.value = said.get(rev) ?? text)).catch(() => {});
  area.use = (says) => said.use(() => bench.edit([{ text: area.value }], says));
  return area;
}
