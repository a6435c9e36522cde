// A question that takes its time: what is being tried and since when, a way to stop it, and what came of it.

import { bench } from "../bench/bench.js";
import { units } from "../bench/units.js";
import { get, lines, post } from "../link/call.js";
import { sayFault } from "../paper/say.js";

// One question at a time is shown; it lives on while other leaves are open.
// kept: {rev, says}, the proposal that was taken. says: [{words, at}], with seconds since it began; begun: by the page's clock; best: it gives the best so far when stopped.
export const job = blank();
let now = null;

// Questions that have something to show when they are stopped in the middle.
const HAVE_BEST = new Set(["reach", "lengthen", "retie", "reroute"]);

const tell = () => bench.tell("job");

// What was last said to fail: the bench sheet can say where to open it first, whatever was asked since.
export const symptom = { options: null };

// Another route: what was asked of the one before is no answer here.
bench.on("opened", () => {
  leave();
  symptom.options = null;
  Object.assign(job, blank());
});

function blank() {
  return { what: null, words: "", options: {}, says: [], begun: 0, took: 0, running: false, stopping: false, result: null, cancelled: false, fault: null, rev: null, kept: null };
}

export async function ask(what, options, words) {
  leave();
  if (what === "locate" && options.failing?.length) symptom.options = options;
  const mine = (now = { id: null, abort: new AbortController() });
  Object.assign(job, blank(), { what, words, options, begun: performance.now(), running: true, rev: bench.state.rev });
  tell();
  await followed(mine, async () => {
    ({ job: mine.id } = await post("ask", { what, options: { ...options, units: units.name } }));
    sessionStorage.setItem(OWN, mine.id);
    // It was stopped before its number came.
    if (mine.left || job.stopping) await cancel(mine);
  });
}

// The number of the question that this tab asked last.
const OWN = "neckloom question";

// What was asked before the page was loaded: by this tab, or else what was asked last. It goes on as it was.
export async function takeUp(isKnown) {
  const { jobs } = await get("jobs").catch(() => ({ jobs: [] }));
  const known = jobs.filter((one) => isKnown(one.what));
  const own = known.find((one) => one.job === Number(sessionStorage.getItem(OWN)));
  const found = own ?? known.at(-1);
  if (!found || now) return;
  const { what, options, rev, running, at_s: at } = found;
  // Another tab's question is not ended by what is asked here.
  const mine = (now = { id: found.job, abort: new AbortController(), others: !own });
  if (what === "locate" && options.failing?.length) symptom.options = options;
  Object.assign(job, blank(), { what, options, rev, running: true, begun: performance.now() - 1000 * at, took: running ? 0 : 1000 * at });
  await followed(mine, async () => {});
}

// Listens until all is told.
async function followed(mine, first) {
  try {
    await first();
    for await (const line of lines(`job/${mine.id}`, { signal: mine.abort.signal })) if (mine === now) heard(line);
  } catch (error) {
    if (mine === now && error.name !== "AbortError") {
      job.fault = [error.says ?? error.message, error.cure].filter(Boolean).join(". ");
      if (error.status === 0) sayFault(error);
    }
  } finally {
    if (mine === now) ended();
  }
}

function ended() {
  if (job.running) job.took ||= performance.now() - job.begun;
  job.running = job.stopping = false;
  tell();
}

function heard(line) {
  if (line.progress) job.says.push({ words: line.progress, at: line.at_s ?? 0 });
  if (line.best) job.result = line.best;
  if (line.result) job.result = line.result;
  if (line.cancelled) job.cancelled = true;
  if (line.error) job.fault = [line.error.says, line.error.cure].filter(Boolean).join(". ");
  tell();
}

// Answers at once. Where there is a best so far it is waited for, and a second press waits no longer.
export function stop() {
  if (!job.running) return;
  const waits = HAVE_BEST.has(job.what) && !job.stopping;
  job.stopping = true;
  if (now.id !== null) cancel(now);
  if (waits) return tell();
  job.cancelled = true;
  leave();
  ended();
}

// Nobody looks at the answer any more; the program is told so.
function leave() {
  if (!now) return;
  now.left = true;
  if (job.running && now.id !== null && !now.others) cancel(now);
  if (now.id !== null) now.abort.abort();
  now = null;
}

const cancel = ({ id }) => post(`job/${id}/cancel`).catch(sayFault);
