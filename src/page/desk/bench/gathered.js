// Findings that tell of one fault in several motions, gathered: a branch that jumps does so on the way from one pose to the
// next, and each of these jumps is a finding of the check. A person mends them all at once.

const EACH_MOTION = new Set(["snap"]);
const alike = (a, b) => EACH_MOTION.has(a.check) && a.check === b.check && a.branch === b.branch && a.verdict === b.verdict && !a.follows_from === !b.follows_from;

// [{finding, also}]: the first of each kind as the report orders them, which is the worst, and the others like it.
export function gathered(findings) {
  const found = [];
  for (const finding of findings) {
    const one = found.find((group) => alike(group.finding, finding));
    if (one) one.also.push(finding);
    else found.push({ finding, also: [] });
  }
  return found;
}
