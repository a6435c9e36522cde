// A question that takes its time: how far it has come, a way to stop it, and what came of it.

import { bench } from "../bench/bench.js";
import { lines, post } from "../link/call.js";
import { sayFault } from "../paper/say.js";

// One question at a time is shown; it lives on while other leaves are open.
export const job = { what: null, says: [], done: null, running: false, result: null, cancelled: false, fault: null, rev: null };
let id = null;
let listening = null;
let stopping = false;

const tell = () => bench.tell("job");

export async function ask(what, options, words) {
  await stop();
  Object.assign(job, { what, words, options, says: ["begun"], done: null, running: true, result: null, cancelled: false, fault: null, rev: bench.state.rev });
  id = null;
  stopping = false;
  tell();
  try {
    ({ job: id } = await post("ask", { what, options }));
    // It was stopped before its number came.
    if (stopping) await stop();
    listening = new AbortController();
    for await (const line of lines(`job/${id}`, { signal: listening.signal })) heard(line);
  } catch (error) {
    if (error.name !== "AbortError") {
      job.fault = error.says ?? error.message;
      if (error.status === 0) sayFault(error);
    }
  } finally {
    job.running = false;
    tell();
  }
}

function heard(line) {
  if (line.progress) job.says.push(line.progress);
  if (typeof line.done === "number") job.done = line.done;
  if (line.best) job.result = line.best;
  if (line.result) job.result = line.result;
  if (line.cancelled) job.cancelled = true;
  if (line.error) job.fault = [line.error.says, line.error.cure].filter(Boolean).join(". ");
  tell();
}

export async function stop() {
  if (!job.running) return;
  stopping = true;
  job.says.push("being stopped");
  tell();
  if (id === null) return;
  await post(`job/${id}/cancel`).catch(sayFault);
}
