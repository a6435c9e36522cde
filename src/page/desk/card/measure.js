import { make } from "../paper/make.js";
export function measureLeaf() { return [make("h2", {}, "measure")]; }
