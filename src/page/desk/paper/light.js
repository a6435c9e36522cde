// Day for the sun, shed for the evening. The first time the system decides.

const KEY = "neckloom light";

export function lightAtStart() {
  const dark = matchMedia("(prefers-color-scheme: dark)").matches;
  set(localStorage.getItem(KEY) ?? (dark ? "shed" : "day"));
}

export function changeLight() {
  const next = document.documentElement.dataset.light === "day" ? "shed" : "day";
  localStorage.setItem(KEY, next);
  set(next);
}

export const lightNow = () => document.documentElement.dataset.light;

function set(light) {
  document.documentElement.dataset.light = light;
}
