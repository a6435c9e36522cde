// Saving: under its name; under a first one where there is none yet; over what somebody else wrote only when asked.

import { bench } from "../bench/bench.js";
import { textField } from "./field.js";
import { button, make } from "./make.js";
import { say, sayFault } from "./say.js";

const SAVED = "Saved. Comments and order of the file are as they were.";
const strip = () => document.getElementById("said");

export async function save() {
  if (bench.state?.open && !bench.state.has_file) return firstName();
  try {
    if (await bench.save()) say(SAVED);
  } catch (error) {
    sayFault(error);
    strip().prepend(
      button("Write over it", () => saved({ over: true }, "Saved over the other version.")),
      button("Save under another name", () => {
        const name = named(`${(bench.state.file ?? "route.ron").replace(/\.ron$/, "")}-mine`);
        return saved({ as: name }, `Saved as ${name}.`);
      }));
  }
}

const saved = async (how, words) => (await bench.save(how).catch((error) => (sayFault(error), false))) && say(words);
const named = (name) => (name.endsWith(".ron") ? name : `${name}.ron`);

// What was begun from an example or a blank has no file: it is given a name.
function firstName() {
  say("", { stays: true });
  const field = textField("Name of the file, in this folder", (bench.state.file ?? "my-bike").replace(/\.ron$/, ""));
  const keep = () => {
    const name = field.read()?.trim();
    return name ? saved({ as: named(name) }, `Saved as ${named(name)}.`) : field.input.focus();
  };
  field.input.addEventListener("keydown", (event) => event.key === "Enter" && keep());
  strip().prepend(make("div.naming", {}, field, button("Save it", keep, { class: "main" })));
  field.input.focus();
  field.input.select();
}
