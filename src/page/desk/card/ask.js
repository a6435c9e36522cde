import { make } from "../paper/make.js";
export function askLeaf() { return [make("h2", {}, "ask")]; }
