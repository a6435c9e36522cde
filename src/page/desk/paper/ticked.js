// Names to tick. A long list has a field above it that leaves those names that hold what is written there; what is ticked
// stays in sight whatever is written, so that nothing is asked unseen.

import { empty, make } from "./make.js";

// So many names are looked through at a glance.
const FEW = 12;

let count = 0;

export function ticked(legend, names, chosen, form) {
  chosen = form.get(legend) ?? chosen;
  const ticks = names.map((name) => make("label.tick", {}, make("input", { type: "checkbox", value: name, checked: chosen.includes(name) }), make("span", {}, name)));
  const box = (tick) => tick.querySelector("input");
  const long = names.length > FEW;
  const list = make("div.ticks", {}, ticks);
  const whole = make("fieldset", {}, make("legend", {}, legend), long ? narrowed(ticks, box, list, form) : null, list);
  list.addEventListener("change", () => form.put(legend, whole.read()));
  whole.read = () => ticks.map(box).filter((one) => one.checked).map((one) => one.value);
  return whole;
}

// What is written to narrow the list stays beside what is ticked.
const NARROW = "names with";

function narrowed(ticks, box, list, form) {
  const id = `narrow-${(count += 1)}`;
  const told = make("span.quiet", { id: `${id}-told`, role: "status" });
  const input = make("input", { type: "text", id, value: form.get(NARROW) ?? "", autocomplete: "off", spellcheck: "false", "data-keep": "narrow", "aria-describedby": `${id}-told` });
  const held = (tick) => {
    const name = plain(box(tick).value);
    return plain(input.value).split(" ").every((word) => name.includes(word));
  };
  const paint = () => {
    form.put(NARROW, input.value);
    const found = ticks.filter(held);
    const kept = ticks.filter((tick) => box(tick).checked);
    // What is ticked comes first, so that it is seen at once among many.
    empty(list, kept, found.filter((tick) => !kept.includes(tick)));
    const hold = input.value.trim() === "" ? `${ticks.length} names` : found.length ? `${found.length} of ${ticks.length} names` : "No name holds that";
    told.textContent = `${hold}, ${kept.length || "none"} ticked`;
  };
  input.addEventListener("input", paint);
  input.addEventListener("keydown", (event) => {
    const first = list.querySelector("label.tick input:not(:checked)") ?? list.querySelector("input");
    // On to the names with Enter or the arrow; all of them again with Escape.
    if (event.key === "Escape" && input.value) input.value = "";
    else if ((event.key === "Enter" || event.key === "ArrowDown") && first) return event.preventDefault(), first.focus();
    else return;
    event.preventDefault();
    paint();
  });
  // A name that is ticked keeps its place until something else is written: it does not slip away under the finger.
  list.addEventListener("change", () => (told.textContent = told.textContent.replace(/[^,]*$/, ` ${ticks.filter((tick) => box(tick).checked).length || "none"} ticked`)));
  paint();
  return make("div.field", {}, make("label.label", { for: id }, "Show only names with"), make("div.with", {}, input), told);
}

// As one types it: without capitals, accents or underscores.
const plain = (text) => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase().replace(/[_\s-]+/g, " ").trim();
