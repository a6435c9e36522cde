// Calls of the server. All addresses are relative, so the token in the page's address is kept.

import { early, tooLate } from "./early.js";

// Why a call was refused, in the server's words.
export class Refused extends Error {
  constructor(status, told) {
    const error = told?.error ?? {};
    super(error.says ?? `the program answered ${status}`);
    this.status = status;
    this.says = this.message;
    this.cure = error.cure ?? "";
    this.faults = error.faults ?? [];
    this.state = told?.state ?? error.state ?? null;
  }
}

const gone = () =>
  new Refused(0, { error: { says: "the program does not answer", cure: "Is it still running? What you did until here is in its draft." } });

async function answered(promise) {
  let answer;
  try {
    answer = await promise;
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw gone();
  }
  if (!answer.ok) throw new Refused(answer.status, await answer.json().catch(() => null));
  return answer;
}

export async function get(name) {
  return (await answered(early(name) ?? fetch(`api/${name}`))).json();
}

// A file to keep, refused in words like any call.
export async function fetched(name) {
  return (await answered(fetch(`api/${name}`))).blob();
}

export async function post(name, body = {}) {
  return (await answered(sent(name, body))).json();
}

function sent(name, body, signal) {
  tooLate();
  return fetch(`api/${name}`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
    signal,
  });
}

// One JSON value a line, as they come in.
export async function* lines(name, { body = null, signal } = {}) {
  const answer = await answered(body ? sent(name, body, signal) : fetch(`api/${name}`, { signal }));
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { value, done } = await reader.read();
    rest += value ?? "";
    const whole = rest.split("\n");
    rest = whole.pop();
    for (const line of whole) if (line.trim()) yield JSON.parse(line);
    if (done) break;
  }
  if (rest.trim()) yield JSON.parse(rest);
}
