//! Fluid lines: the least gap to every line that carries a fluid, over all poses.
//!
//! From a line that carries what burns the rule asks for 152 mm, and the wiring above the line, where what leaks
//! does not drip on it. Where that cannot be had, 51 mm are enough if the branch is held so that it cannot touch
//! the line even with a tie missing. Both are aircraft practice; a motorcycle has seldom room for the first, so
//! the second is called close, not over. A missing tie is looked at by what the length between its two neighbours
//! can be drawn to ([`Reach`](crate::geometry::Reach)); a clamp is not taken to be missing. The ends of a broken
//! wire are taken to stay in its bundle.
//!
//! A line that does not burn must be as far away as a smooth part.

use crate::harness::{BranchId, FixingKind};
use crate::machine::{Edge, Fluid, PartId};
use crate::quantity::Kind;

use super::job::{Job, Measured, Outcome};
use super::within_reach::{between, can_touch, reach};
use super::{Finding, LeastGap, LimitKey, Verdict};

const CHECK: &str = "fluid lines";

/// A line further away than so many limits is not worth a line of the report.
const WORTH_A_LINE: f64 = 2.0;

pub(super) fn fluid_lines(job: &Job<'_>) -> Outcome {
    let mut findings = Vec::new();
    for &branch in job.branches {
        for gap in &job.nearest[branch.0] {
            let carries = job.route.machine.parts[gap.part.0].carries;
            findings.extend(carries.and_then(|fluid| {
                if fluid.is_flammable() {
                    flammable(job, branch, gap, fluid)
                } else {
                    harmless(job, branch, gap)
                }
            }));
        }
    }
    Outcome {
        findings,
        blanks: Vec::new(),
    }
}

fn measured<'j>(job: &Job<'j>, branch: BranchId, gap: &LeastGap, limit: LimitKey) -> Measured<'j> {
    let name = &job.route.machine.parts[gap.part.0].name;
    let from = job.limit(limit);
    Measured {
        check: CHECK,
        subject: name.clone(),
        branch,
        place: format!("{}, beside {name}", job.place_words(branch, gap.at)),
        at: gap.at,
        pose: gap.pose,
        value: gap.gap,
        limit: from.value(),
        kind: Kind::Length,
        at_most: false,
        from,
    }
}

fn flammable(job: &Job<'_>, branch: BranchId, gap: &LeastGap, fluid: Fluid) -> Option<Finding> {
    let (full, clamped) = (
        job.limit(LimitKey::FluidDistance).value(),
        job.limit(LimitKey::FluidDistanceClamped).value(),
    );
    if gap.gap > WORTH_A_LINE * full {
        return None;
    }
    // Of a nudged route only the value is looked at.
    if !job.is_whole() {
        let near = measured(job, branch, gap, LimitKey::FluidDistance);
        return Some(near.judged(String::new, String::new));
    }
    let name = &job.route.machine.parts[gap.part.0].name;
    let line = format!("{name} ({})", fluid.name());
    let clear = job.show(gap.gap);
    let above = is_above(job, branch, gap);
    if gap.gap >= full && above {
        let fine = measured(job, branch, gap, LimitKey::FluidDistance);
        return Some(fine.judged(String::new, || {
            format!("{clear} from {line}, and above it.")
        }));
    }
    let below = if above {
        ""
    } else {
        " What leaks drips on the branch: lead it above the line."
    };
    if gap.gap < clamped {
        let near = measured(job, branch, gap, LimitKey::FluidDistanceClamped);
        let missing = job.show_up(clamped - gap.gap);
        return Some(near.judged(
            || format!("Only {clear} from {line}: move it at least {missing} away.{below}"),
            String::new,
        ));
    }
    if let Some(loose) = may_touch(job, branch, gap.part) {
        let limit = if gap.gap < full { full } else { gap.gap };
        let near = Measured {
            limit,
            ..measured(job, branch, gap, LimitKey::FluidDistance)
        };
        let mut finding = near.judged(String::new, String::new);
        finding.verdict = Verdict::Over;
        finding.advice = format!(
            "{clear} from {line}, and {loose}: clamp it closer together so that it cannot touch, or move it {} away.{below}",
            job.show(full)
        );
        return Some(finding);
    }
    let mut finding =
        measured(job, branch, gap, LimitKey::FluidDistanceClamped).judged(String::new, String::new);
    finding.verdict = Verdict::Close;
    finding.advice = format!(
        "{clear} from {line}: less than the {} of aircraft practice, but held so that it cannot touch.{below}",
        job.show(full)
    );
    if gap.gap >= full {
        finding.advice = format!("{clear} from {line}, but not above it.{below}");
    }
    Some(finding)
}

fn harmless(job: &Job<'_>, branch: BranchId, gap: &LeastGap) -> Option<Finding> {
    let limit = job.limit(LimitKey::EdgeDistance).from_edge(Edge::Rolled);
    let name = &job.route.machine.parts[gap.part.0].name;
    (gap.gap <= WORTH_A_LINE * limit).then(|| {
        let near = measured(job, branch, gap, LimitKey::EdgeDistance);
        Measured { limit, ..near }.judged(
            || {
                format!(
                    "Too near to {name}, which may rub on it or leak: move it at least {} away.",
                    job.show_up(limit - gap.gap)
                )
            },
            || format!("{} from {name}.", job.show(gap.gap)),
        )
    })
}

/// Whether the branch is higher than the line where it comes nearest.
fn is_above(job: &Job<'_>, branch: BranchId, gap: &LeastGap) -> bool {
    let stance = &job.solution.stances[gap.pose];
    let position = job.solved(branch).shapes[gap.pose].curve.position(gap.at);
    let contact = job.surroundings.slope(stance, gap.part, &position);
    contact.normal.z > 0.0
}

/// What lets the branch touch a line: a span that is loose, or a tie without which it would be; `None` where it cannot.
fn may_touch(job: &Job<'_>, branch: BranchId, part: PartId) -> Option<String> {
    let radius = 0.5 * job.branch(branch).diameter;
    let (bundle, spans) = (job.branch(branch), &job.solved(branch).spans);
    let mut found = None;
    for (pose, stance) in job.solution.stances.iter().enumerate() {
        for (index, span) in spans.iter().enumerate() {
            if can_touch(job, stance, &reach(job, branch, span, pose), part, radius) {
                return Some(format!(
                    "the slack of {} can be drawn against it",
                    job.span_words(branch, span)
                ));
            }
            let Some(next) = spans.get(index + 1).filter(|_| found.is_none()) else {
                continue;
            };
            let tie = &bundle.lay[next.from].fixing;
            let states = &job.solved(branch).shapes[pose].spans;
            let length = states[index].length + states[index + 1].length;
            let room = between(job, branch, (span.from, next.from + 1), length, pose);
            if matches!(tie.kind, FixingKind::Tie { .. })
                && can_touch(job, stance, &room, part, radius)
            {
                found = Some(format!("with {} missing it can touch it", tie.name));
            }
        }
    }
    found
}
