import { make } from "../paper/make.js";
export function changeLeaf() { return [make("h2", {}, "change")]; }
