// The head of the sheet: which machine, what the check says, undo, redo, save, units, light.

import { bench } from "../bench/bench.js";
import { gathered } from "../bench/gathered.js";
import { units } from "../bench/units.js";
import { changeLight, lightNow } from "./light.js";
import { button, empty, make } from "./make.js";
import { save } from "./saving.js";

const VERDICTS = {
  within: ["\u2713", "Every limit holds"],
  close: ["~", "Holds, but it is close"],
  over: ["\u2715", "A limit is broken"],
};

// Whether what is shown is tried and was not checked: the last check is then of something else.
const unchecked = () => Boolean(bench.tried?.shapes && !bench.tried.checked);

export function head(root) {
  let waits = false;
  const paint = () => {
    waits = unchecked();
    const { state } = bench;
    const report = waits ? null : bench.shownReport;
    const open = Boolean(bench.scene || state?.faults?.length);
    const [sign, words] = VERDICTS[report?.verdict] ?? ["", waits ? "not checked yet" : bench.busy ? "being checked" : ""];
    const over = gathered(report?.findings.filter((one) => one.verdict === "over" && !one.follows_from) ?? []).length;
    const told = report?.verdict === "over" && over > 1 ? `${over} limits are broken` : words;
    empty(root,
      make("div.whose", {}, make("h1", {}, state?.title || "neckloom"), make("span.file", {}, fileWords(state))),
      open && (report || waits || bench.busy) ? make("div.stamp", { "data-verdict": report?.verdict ?? "", role: "status" },
        make("b", { "aria-hidden": "true" }, sign), make("span", {}, bench.tried ? `Trying: ${told}` : told)) : null,
      make("div.tools", {},
        open ? [
          button("Undo", () => bench.undo(), { disabled: !state?.undo, "aria-label": state?.undo ? `Undo ${state.undo_says ?? ""}` : "Undo: nothing to undo", "aria-keyshortcuts": "Control+Z" }),
          button("Redo", () => bench.redo(), { disabled: !state?.redo, "aria-label": state?.redo ? `Redo ${state.redo_says ?? ""}` : "Redo: nothing to redo", "aria-keyshortcuts": "Control+Y" }),
          button(state?.dirty ? "Save" : "Saved", () => save(), { disabled: !state?.dirty, class: state?.dirty ? "main" : "", "aria-keyshortcuts": "Control+S" }),
        ] : null,
        button(pair(["mm", "inch"], units.inch), () => bench.otherUnits(), { "aria-label": `mm inch: lengths are in ${units.inch ? "inches" : "millimetres"}` }),
        button(pair(["Day", "Shed"], lightNow() === "shed"), () => { changeLight(); bench.tell("look"); }, { "aria-label": `Day Shed: the light is for ${lightNow() === "day" ? "day" : "the shed"}` })));
  };
  for (const name of ["state", "report", "scene", "look", "busy"]) bench.on(name, paint);
  bench.on("shapes", () => waits !== unchecked() && paint());
  paint();
}

// Both of two, the one that holds underlined and bold.
const pair = ([first, second], other) => [make(other ? "span.off" : "b.on", {}, first), " ", make(other ? "b.on" : "span.off", {}, second)];

function fileWords(state) {
  if (!state) return "";
  const at = [state.file ?? ""];
  if (state.dirty) at.push(!state.has_file ? "not saved, in no file yet" : state.draft_fault ? "not saved, and no draft can be kept" : "not saved, kept in a draft");
  if (state.draft) at.push("draft from last time taken up");
  if (state.changed_on_disk) at.push("the file was changed elsewhere");
  return at.filter(Boolean).join(" · ");
}

export function shortcuts() {
  addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey)) return;
    // In a field these keys belong to the field.
    const typing = event.target.closest?.("input[type=text], textarea");
    const key = event.key.toLowerCase();
    if (key === "s") {
      event.preventDefault();
      document.activeElement?.blur?.();
      save();
    } else if (!typing && key === "z") {
      event.preventDefault();
      event.shiftKey ? bench.redo() : bench.undo();
    } else if (!typing && key === "y") {
      event.preventDefault();
      bench.redo();
    }
  });
}
