// The limits with their sources. One's own goes before, with its reason; the default can always be taken back.

import { bench } from "../bench/bench.js";
import { textField } from "../paper/field.js";
import { form } from "../paper/form.js";
import { button, make } from "../paper/make.js";

export function limitsPanel() {
  return make("details", {}, make("summary", {}, `Limits (${bench.scene.limits.length}) and where they come from`),
    make("div.rows", {}, bench.scene.limits.map(one)));
}

function one(limit) {
  const now = `${Number(limit.value?.toPrecision?.(4) ?? limit.value)} ${limit.unit ?? ""}`.trim();
  const said = form(`limit of ${limit.name}`);
  const value = textField("Your own", limit.own ? now : "", null, { form: said });
  const why = textField("Why", limit.own ?? "", null, { form: said });
  const set = () => {
    if (!value.read() || !why.read()) return why.input.focus();
    const own = `(value: ${JSON.stringify(value.read())}, why: ${JSON.stringify(why.read())})`;
    said.use(() => bench.edit([{ set: { path: limit.path, to: own } }], `limit of ${limit.name}`));
  };
  return make("details", {},
    make("summary", {}, `${limit.name}${limit.own ? " (your own)" : ""}`),
    make("p", {}, make("b", {}, now), limit.rule?.kind ? ` (${limit.rule.kind})` : ""),
    make("p.fine", {}, [limit.reason, `${limit.source}, ${limit.status ?? ""}`].filter(Boolean).join(" ")),
    make("div.two", {}, value, why),
    make("p.quiet", {}, "Such as 12 OD for twelve diameters, or 60 mm, 20 N, 105 degC."),
    make("div.buttons", {}, button("Use my own", set),
      limit.own ? button("Back to the default", () => (said.clear(), bench.edit([{ set: { path: limit.path, to: null } }], `default limit of ${limit.name}`))) : null));
}
