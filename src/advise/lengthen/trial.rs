//! The search: trials of branches that hang together, in whole steps of length.
//!
//! A quick trial solves and checks in wide steps between the poses and without the spread, and takes that of the same
//! finding before; when all holds, a full trial with its own spread has the last word.

use std::cell::Cell;
use std::collections::BTreeMap;

use crate::check::{self, Finding, Findings, Verdict, check as check_all};
use crate::harness::BranchId;
use crate::rod;
use crate::route::{Route, Span};

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
/// A fixing this near counts as the place of a finding \[m\].
const BESIDE: f64 = 0.02;

/// Checks that length alone does not cure.
const OTHERS: [&str; 17] = [
    "snap",
    "pinch",
    "heat distance",
    "heat",
    "edge distance",
    "chafe",
    "snag",
    "fluid lines",
    "slack most",
    "twist",
    "support",
    "drip loop",
    "flex life",
    "current",
    "signal pairs",
    "contacts",
    "splice",
];
/// A quick trial has steps between its poses so many times as wide, and this relative error of the tightest radius; so it
/// asks for more room by this share of a limit.
const STRIDE: f64 = 4.0;
const ACCURACY: f64 = 2e-3;
const NARROWER: f64 = 0.004;

type SpanId = (BranchId, usize);
/// Whole steps by span.
type Steps = BTreeMap<SpanId, u32>;

/// Trials on a group of branches.
pub(super) struct Trials<'r> {
    part: Route,
    group: &'r [BranchId],
    checks: &'r check::Options,
    step: f64,
    most: Vec<Vec<u32>>,
    say: &'r (dyn Fn(&str) + Sync),
    tried: Cell<usize>,
}

impl<'r> Trials<'r> {
    pub(super) fn new(
        route: &'r Route,
        group: &'r [BranchId],
        checks: &'r check::Options,
        step: f64,
        say: &'r (dyn Fn(&str) + Sync),
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
            say,
            tried: Cell::new(0),
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

    /// The findings about length of the group, with their spread where that is asked for.
    fn full(&self, steps: &Steps) -> Vec<Finding> {
        let checks = check::Options {
            charts: false,
            without: &OTHERS,
            ..*self.checks
        };
        self.try_out(steps, &checks)
    }

    /// The same with the spreads that `known` findings have.
    fn quick(&self, steps: &Steps, known: &[Finding]) -> Vec<Finding> {
        let checks = check::Options {
            spread: false,
            charts: false,
            without: &OTHERS,
            settings: rod::Settings {
                stride: STRIDE,
                accuracy: ACCURACY,
                ..self.checks.settings
            },
            ..*self.checks
        };
        let mut found = self.try_out(steps, &checks);
        for finding in &mut found {
            let old = known.iter().find(|old| same(old, finding));
            let spread = old.and_then(|old| {
                // Of a bend it is the curvature that follows the fixings, so a wider one is less sure.
                let wider = if finding.measure() == "inside radius" && old.value > 0.0 {
                    (finding.value / old.value).powi(2).clamp(0.1, 10.0)
                } else {
                    1.0
                };
                Some(old.spread? * wider)
            });
            let room = if finding.at_most {
                finding.limit - finding.value
            } else {
                finding.value - finding.limit
            };
            finding.spread = spread;
            let wanted = SURE * spread.unwrap_or(0.0) + NARROWER * finding.limit.abs();
            if finding.verdict == Verdict::Within && room < wanted {
                finding.verdict = Verdict::Close;
            }
        }
        found
    }

    /// Whether the search was asked to leave off; what was tried last is then no answer.
    fn stopped(&self) -> bool {
        self.checks.settings.halt.asked()
    }

    fn try_out(&self, steps: &Steps, checks: &check::Options) -> Vec<Finding> {
        self.tried.set(self.tried.get() + 1);
        (self.say)(&format!(
            "trying lengths until every limit holds, {} tried",
            self.tried.get()
        ));
        let route = longer(&self.part, &self.adds(steps));
        let solution = rod::solve(&route, &checks.settings);
        let findings = check_all(&route, &solution, checks).findings.into_iter();
        findings.filter(is_about_length).collect()
    }

    /// The least steps with which every finding that length cures holds; `first` are the findings of the whole route.
    pub(super) fn settle(&self, first: &Findings) -> Vec<Add> {
        let own = |finding: &Finding| {
            let branch = self.group.iter().position(|b| *b == finding.branch)?;
            Some(Finding {
                branch: BranchId(branch),
                ..finding.clone()
            })
        };
        let about = first
            .findings
            .iter()
            .filter(|finding| is_about_length(finding));
        let mut now: Vec<Finding> = about.filter_map(own).collect();
        let mut steps = Steps::new();
        let mut given_up: Vec<Finding> = Vec::new();
        let (mut sure, mut spared) = (true, false);
        for _ in 0..ROUNDS {
            // Slack first: what is taut says nothing yet about how it bends.
            let open = |f: &&Finding| calls(f) && !given_up.iter().any(|old| same(old, f));
            let next = now
                .iter()
                .filter(open)
                .max_by_key(|f| {
                    (
                        f.check == "elongation" && !f.at_most,
                        f.check == "elongation",
                    )
                })
                .cloned();
            let Some(finding) = next else {
                if sure {
                    break;
                }
                // Once: what a full trial asked for stays.
                if !spared {
                    self.spare_steps(&mut steps, &now);
                    spared = true;
                }
                now = self.full(&steps);
                sure = true;
                if self.stopped() {
                    break;
                }
                continue;
            };
            match self.cure(&steps, &now, &finding) {
                Some(better) => {
                    (steps, now) = better;
                    sure = false;
                }
                None => given_up.push(finding),
            }
            if self.stopped() {
                break;
            }
        }
        let back = |add: Add| Add {
            branch: self.group[add.branch.0],
            ..add
        };
        self.adds(&steps).into_iter().map(back).collect()
    }

    /// More steps in a span of one finding until it holds; `None` where no length does it.
    fn cure(
        &self,
        from: &Steps,
        now: &[Finding],
        finding: &Finding,
    ) -> Option<(Steps, Vec<Finding>)> {
        let mut spans = self.spans_of(from, finding).into_iter();
        spans.find_map(|span| self.cure_in(span, from, now, finding))
    }

    fn cure_in(
        &self,
        span: SpanId,
        from: &Steps,
        now: &[Finding],
        finding: &Finding,
    ) -> Option<(Steps, Vec<Finding>)> {
        let most = self.most[span.0.0][span.1];
        let old = from.get(&span).copied().unwrap_or(0);
        let with = |count: u32| {
            let mut steps = from.clone();
            steps.insert(span, count);
            steps
        };
        let holds = |found: &[Finding]| !found.iter().any(|new| same(new, finding) && calls(new));
        let exact = finding.check == "elongation" && !finding.at_most;
        let (mut short, mut jump) = (old, if exact { self.lacking(finding) } else { 1 });
        let mut best;
        loop {
            let count = short.saturating_add(jump).min(most);
            if count <= short {
                return None;
            }
            let found = self.quick(&with(count), now);
            if self.stopped() {
                return None;
            }
            if holds(&found) {
                best = (count, found);
                break;
            }
            // What is lacking is exact for a slack, so what lacks now is a step at most.
            (short, jump) = (count, if exact { 1 } else { 2 * jump });
        }
        while !exact && best.0 > short + 1 {
            let middle = short + (best.0 - short) / 2;
            let found = self.quick(&with(middle), now);
            if self.stopped() {
                break;
            }
            if holds(&found) {
                best = (middle, found);
            } else {
                short = middle;
            }
        }
        Some((with(best.0), best.1))
    }

    /// Steps that a slack lacks to its limit with its spread.
    fn lacking(&self, finding: &Finding) -> u32 {
        let sure = SURE * finding.spread.unwrap_or(0.0);
        whole((finding.limit + sure - finding.value) / self.step).max(1)
    }

    /// Takes steps back, one span after the other, as long as nothing that held calls again.
    fn spare_steps(&self, steps: &mut Steps, now: &[Finding]) {
        if steps.values().filter(|count| **count > 0).count() < 2 {
            return;
        }
        let called = |new: &Finding| now.iter().any(|old| same(old, new) && calls(old));
        let spans: Vec<SpanId> = steps.keys().copied().collect();
        for span in spans {
            while let Some(count) = steps.get(&span).copied().filter(|count| *count > 0) {
                let mut fewer = steps.clone();
                fewer.insert(span, count - 1);
                let found = self.quick(&fewer, now);
                if self.stopped() {
                    return;
                }
                if found.iter().any(|new| calls(new) && !called(new)) {
                    break;
                }
                *steps = fewer;
            }
        }
    }

    /// The spans that a finding may be mended in: its own, and beside a fixing the other one; first what moves, since that
    /// is what lacks length.
    fn spans_of(&self, steps: &Steps, finding: &Finding) -> Vec<SpanId> {
        let route = longer(&self.part, &self.adds(steps));
        let rest = route.machine.stance(&route.machine.rest());
        let spans = route.spans(&route.branches[finding.branch.0], &rest);
        let near = |span: &Span| {
            (span.start - finding.at)
                .max(finding.at - span.end())
                .max(0.0)
                <= BESIDE
        };
        let mut found: Vec<usize> = (0..spans.len())
            .filter(|&index| near(&spans[index]))
            .collect();
        found.sort_by_key(|&index| !spans[index].moving);
        found
            .into_iter()
            .map(|index| (finding.branch, index))
            .collect()
    }
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
