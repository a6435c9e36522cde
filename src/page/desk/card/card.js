// The job card: one leaf at a time. Without a route there is only the beginning.

import { bench } from "../bench/bench.js";
import { keepTried, letGo, offer } from "../bench/trying.js";
import { button, empty, make } from "../paper/make.js";
import { askAbout, askLeaf, askedBefore } from "./ask.js";
import { beginLeaf } from "./begin.js";
import { changeLeaf } from "./change.js";
import { faultsLeaf } from "./faults.js";
import { findingsLeaf } from "./findings.js";
import { measureLeaf } from "./measure.js";
import { printLeaf } from "./print.js";

const LEAVES = [
  ["look", "Findings", findingsLeaf, "scene report look chosen pose-jump"],
  ["change", "Change", changeLeaf, "scene chosen look report"],
  ["measure", "Measure", measureLeaf, "scene look"],
  ["ask", "Ask", askLeaf, "scene look"],
  ["print", "Print", printLeaf, "scene look"],
  ["route", "Route", beginLeaf, "state look"],
];

const LEAF = "neckloom leaf";

// A route is open, even if it is only just being read.
const isBegun = () => Boolean(bench.scene) || !bench.state || bench.state.open !== false;

export class Card {
  // Loaded anew the page opens at the leaf that it was left at.
  #open = LEAVES.some(([key]) => key === sessionStorage.getItem(LEAF)) ? sessionStorage.getItem(LEAF) : "look";

  constructor(root, stage) {
    this.root = root;
    this.stage = stage;
    this.tabs = make("div.tabs", { role: "tablist", "aria-label": "Leaves of the job card", onkeydown: (event) => this.#step(event) });
    this.leaf = make("div.leaf", { role: "tabpanel", id: "leaf", tabindex: "0" });
    // What is being tried stands over every leaf, to be kept or put back from there.
    this.tried = make("div.tried", { role: "status" });
    // What is said has its own place at the foot of the card.
    root.prepend(this.tabs, this.tried, this.leaf);
    for (const name of ["report", "shapes", "scene"]) bench.on(name, () => this.#offer());
    this.buttons = LEAVES.map(([key, words]) => button(words, () => this.turnTo(key), { role: "tab", id: `tab-${key}`, "aria-controls": "leaf" }));
    this.tabs.append(...this.buttons);
    for (const name of ["state", "scene", "report", "chosen", "look"]) bench.on(name, () => this.#heard(name));
    // What was chosen before stays so in a new scene, which turns no leaf.
    bench.on("picked", () => {
      if (this.#open !== "change" && this.#open !== "measure") this.#turn("change");
    });
    // What is held under a finger stays: the leaf is painted when it is let go, after the click that follows.
    this.leaf.addEventListener("pointerdown", () => (this.held = true));
    // So does what is being written, until it is said or left.
    this.leaf.addEventListener("input", ({ target }) => (this.writes = target.matches("input[type=text]")));
    for (const end of ["change", "focusout"]) this.leaf.addEventListener(end, () => setTimeout(() => {
      this.writes = false;
      this.#release();
    }));
    for (const end of ["pointerup", "pointercancel"]) addEventListener(end, () => setTimeout(() => {
      this.held = false;
      this.#release();
    }));
    // While the hand drags something in a view, the leaf waits.
    bench.on("rests", () => this.#release());
    this.paint();
    askedBefore(this);
  }

  #release() {
    if (!this.waits || this.#busy || this.#stays()) return;
    this.paint();
    if (this.turned) this.leaf.scrollTop = 0;
    this.turned = false;
  }

  #offer() {
    const says = bench.tried && offer?.says();
    if (this.offered === says) return;
    this.offered = says;
    const top = this.leaf.getBoundingClientRect().top;
    empty(this.tried, says ? [make("span", {}, make("b", {}, "Trying: "), says), button("Keep it", keepTried, { class: "main" }), button("Put it back", () => { letGo(); this.paint(); })] : []);
    // What is under the finger stays there.
    this.leaf.scrollTop += this.leaf.getBoundingClientRect().top - top;
  }

  // A leaf that listens is painted again, unless a field of it is just being written in.
  #heard(name) {
    const broken = Boolean(bench.state?.faults?.length);
    const begun = isBegun() || broken;
    if (this.begun !== begun || this.broken !== broken) return this.paint();
    const [, , , events] = LEAVES.find(([key]) => key === this.#open);
    if (!events.split(" ").includes(name)) return;
    if (this.#busy) this.waits = true;
    else if (name === "look" || !this.#stays()) this.paint();
  }

  get #busy() {
    return this.held || this.writes || bench.moves;
  }

  // While something is tried out, only the findings follow.
  #stays() {
    return bench.tried && this.#open !== "look" && this.scene === bench.scene && !this.turned;
  }

  // Where this leaf is open.
  paintIf(key) {
    if (this.#open === key) this.paint();
  }

  turnTo(key) {
    this.#turn(key, false);
  }

  #turn(key, canWait = true) {
    this.#open = key;
    sessionStorage.setItem(LEAF, key);
    this.turned = this.waits = true;
    if (canWait && bench.moves) return;
    this.paint();
    this.leaf.scrollTop = 0;
    this.turned = false;
  }

  // A leaf, unfolded where its heading begins so.
  show(key, heading) {
    this.turnTo(key);
    const found = heading && [...this.leaf.querySelectorAll("details")].find((one) => one.querySelector("summary").textContent.startsWith(heading));
    if (!found) return;
    found.open = true;
    found.scrollIntoView({ block: "start" });
    found.querySelector("input, select, button")?.focus({ preventScroll: true });
  }

  // A question from another leaf.
  ask(what, change) {
    askAbout(this, what, change);
  }

  #step(event) {
    const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!by) return;
    const at = LEAVES.findIndex(([key]) => key === this.#open);
    this.turnTo(LEAVES[(at + by + LEAVES.length) % LEAVES.length][0]);
    this.buttons.find((one) => one.getAttribute("aria-selected") === "true").focus();
  }

  paint() {
    this.waits = this.writes = false;
    this.scene = bench.scene;
    this.broken = Boolean(bench.state?.faults?.length);
    this.begun = isBegun() || this.broken;
    this.tabs.hidden = !this.begun;
    document.body.dataset.leaf = this.#open;
    // Without a machine to show, the card has the whole sheet.
    document.body.dataset.sheet = !this.begun ? "begin" : this.broken ? "text" : "machine";
    this.buttons.forEach((one, i) => {
      const on = LEAVES[i][0] === this.#open;
      one.setAttribute("aria-selected", on);
      one.tabIndex = on ? 0 : -1;
    });
    this.leaf.setAttribute("aria-labelledby", `tab-${this.#open}`);
    const [, , leaf] = LEAVES.find(([key]) => key === this.#open);
    const same = this.painted === this.#open;
    const folded = same ? foldsOf(this.leaf) : new Map();
    this.painted = this.#open;
    const scroll = this.leaf.scrollTop;
    const { activeElement: at } = document;
    const focus = at?.dataset?.keep;
    const caret = focus && at.matches("input[type=text]") ? [at.selectionStart, at.selectionEnd] : null;
    const made = !this.begun ? beginLeaf(this) : !bench.scene && !this.broken ? findingsLeaf(this) : this.broken && this.#open !== "route" ? faultsLeaf(this) : leaf(this);
    empty(this.leaf, made);
    for (const [words, one] of folds(this.leaf)) if (folded.has(words)) one.open = folded.get(words);
    this.leaf.scrollTop = scroll;
    const again = focus && this.leaf.querySelector(`[data-keep="${CSS.escape(focus)}"]`);
    again?.focus();
    if (again && caret) again.setSelectionRange(...caret);
  }
}

// What is unfolded stays so when a leaf is painted again, by its words without their numbers.
const folds = (leaf) => [...leaf.querySelectorAll("details")].map((one) => [one.querySelector("summary").textContent.replace(/[\d.]+/g, ""), one]);
const foldsOf = (leaf) => new Map(folds(leaf).map(([words, one]) => [words, one.open]));
