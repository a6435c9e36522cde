import { make } from "../paper/make.js";
export function printLeaf() { return [make("h2", {}, "print")]; }
