//! The search: trials of branches that hang together, in whole steps of length.

use std::collections::BTreeMap;

use crate::check::{self, Finding, Verdict, check as check_all};
use crate::harness::BranchId;
use crate::rod::{self, Solution};
use crate::route::Route;

use super::{Add, calls, is_about_length, longer, same};

/// A limit must be held with less than this chance of being broken; the quantile of the normal distribution that goes with
/// it, as in the checks.
const SURE: f64 = 1.645;
/// More than this share of a span, and more than [`MOST`], is no repair any more.
const MOST_SHARE: f64 = 0.6;
/// See [`MOST_SHARE`] \[m\].
const MOST: f64 = 0.25;
/// Rounds over the findings; far fewer are needed.
const ROUNDS: usize = 16;

type SpanId = (BranchId, usize);
/// Whole steps by span.
type Steps = BTreeMap<SpanId, u32>;

/// A trial's findings about length that call for something, worst first, and the spans of its branches.
struct Trial {
    calling: Vec<Finding>,
    solution: Solution,
}

/// Trials on a group of branches.
pub(super) struct Trials<'r> {
    part: Route,
    group: &'r [BranchId],
    checks: &'r check::Options,
    step: f64,
    most: Vec<Vec<u32>>,
}

impl<'r> Trials<'r> {
    pub(super) fn new(
        route: &'r Route,
        group: &'r [BranchId],
        checks: &'r check::Options,
        step: f64,
    ) -> Self {
        let part = route.only(group);
        let rest = part.machine.stance(&part.machine.rest());
        let most = part.branches.iter().map(|branch| {
            let spans = part.spans(branch, &rest);
            let of = |length: f64| whole((MOST_SHARE * length).max(MOST) / step);
            spans.iter().map(|span| of(span.length)).collect()
        });
        let most = most.collect();
        Self {
            part,
            group,
            checks,
            step,
            most,
        }
    }

    fn adds(&self, steps: &Steps) -> Vec<Add> {
        let adds = steps.iter().filter(|(_, steps)| **steps > 0);
        adds.map(|(&(branch, span), &steps)| Add {
            branch,
            span,
            by: f64::from(steps) * self.step,
        })
        .collect()
    }

    fn try_out(&self, steps: &Steps) -> Trial {
        let route = longer(&self.part, &self.adds(steps));
        let solution = rod::solve(&route, &self.checks.settings);
        let findings = check_all(&route, &solution, self.checks);
        let calling = findings.findings.into_iter();
        Trial {
            calling: calling.filter(|f| calls(f) && is_about_length(f)).collect(),
            solution,
        }
    }

    /// The least steps with which every finding that length cures holds.
    pub(super) fn settle(&self) -> Vec<Add> {
        let mut steps = Steps::new();
        let mut now = self.try_out(&steps);
        let mut given_up: Vec<Finding> = Vec::new();
        for _ in 0..ROUNDS {
            // Slack first: what is taut says nothing yet about how it bends.
            let open = |finding: &&Finding| !given_up.iter().any(|old| same(old, finding));
            let next = now
                .calling
                .iter()
                .filter(open)
                .max_by_key(|finding| finding.check == "elongation")
                .cloned();
            let Some(finding) = next else { break };
            match self.cure(&steps, &now, &finding) {
                Some((better, trial)) => (steps, now) = (better, trial),
                None => given_up.push(finding),
            }
        }
        self.spare_steps(&mut steps, &now);
        let back = |add: Add| Add {
            branch: self.group[add.branch.0],
            ..add
        };
        self.adds(&steps).into_iter().map(back).collect()
    }

    /// More steps in the span of one finding until it holds; `None` where no length does it.
    fn cure(&self, from: &Steps, now: &Trial, finding: &Finding) -> Option<(Steps, Trial)> {
        let span = span_of(&now.solution, finding);
        let most = self.most[span.0.0][span.1];
        let old = from.get(&span).copied().unwrap_or(0);
        let with = |count: u32| {
            let mut steps = from.clone();
            steps.insert(span, count);
            steps
        };
        let holds = |trial: &Trial| !trial.calling.iter().any(|new| same(new, finding));
        let (mut short, mut jump) = (old, self.first_jump(finding));
        let mut found;
        loop {
            let count = short.saturating_add(jump).min(most);
            if count <= short {
                return None;
            }
            let trial = self.try_out(&with(count));
            if holds(&trial) {
                found = (count, trial);
                break;
            }
            (short, jump) = (count, 2 * jump);
        }
        while found.0 > short + 1 {
            let middle = short + (found.0 - short) / 2;
            let trial = self.try_out(&with(middle));
            if holds(&trial) {
                found = (middle, trial);
            } else {
                short = middle;
            }
        }
        Some((with(found.0), found.1))
    }

    /// Steps to try first: what a slack lacks to its limit with its spread, which is exact; for anything else one.
    fn first_jump(&self, finding: &Finding) -> u32 {
        let slack = finding.check == "elongation" && !finding.at_most;
        if !slack {
            return 1;
        }
        let sure = SURE * finding.spread.unwrap_or(0.0);
        whole((finding.limit + sure - finding.value) / self.step).max(1)
    }

    /// Takes steps back, one span after the other, as long as nothing that held calls again.
    fn spare_steps(&self, steps: &mut Steps, now: &Trial) {
        let worst = |trial: &Trial| -> Vec<(String, Verdict)> {
            let calling = trial.calling.iter();
            calling.map(|f| (format!("{} {} {}", f.check, f.branch.0, f.subject), f.verdict)).collect()
        };
        let allowed = worst(now);
        let several = steps.values().filter(|count| **count > 0).count() > 1;
        if !several {
            return;
        }
        let spans: Vec<SpanId> = steps.keys().copied().collect();
        for span in spans {
            while let Some(count) = steps.get(&span).copied().filter(|count| *count > 0) {
                let mut fewer = steps.clone();
                fewer.insert(span, count - 1);
                let trial = self.try_out(&fewer);
                if !worst(&trial).iter().all(|call| allowed.contains(call)) {
                    break;
                }
                *steps = fewer;
            }
        }
    }
}

/// The span that a finding is in.
fn span_of(solution: &Solution, finding: &Finding) -> SpanId {
    let spans = &solution.branches[finding.branch.0].spans;
    let span = spans.iter().position(|span| finding.at <= span.end());
    let last = spans.len().saturating_sub(1);
    let found = span.unwrap_or(last);
    // Beside a fixing the span that moves is the one that lacks length.
    let beside = |other: usize| {
        let near = (finding.at - spans[found].start).abs().min((finding.at - spans[found].end()).abs());
        spans.get(other).is_some_and(|s| s.moving) && near < 0.02
    };
    if spans.get(found).is_some_and(|s| !s.moving) {
        for other in [found + 1, found.wrapping_sub(1)] {
            if beside(other) {
                return (finding.branch, other);
            }
        }
    }
    (finding.branch, found)
}

/// So many whole steps, rounded up.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to a small count just before"
)]
fn whole(steps: f64) -> u32 {
    (steps - 1e-9).ceil().clamp(0.0, 10_000.0) as u32
}
