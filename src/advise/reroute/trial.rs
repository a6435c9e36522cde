//! A way with its clamps, solved and checked; mended a little where it just misses; read again before it counts.

use std::collections::BTreeSet;

use crate::check::{self, Finding, Findings, Verdict};
use crate::harness::BranchId;
use crate::rod;
use crate::route::{Change, Route};

use crate::advise::solved::LAST;

use super::fixings::{Clamp, laid};
use super::{Hooks, Options, Proposal};

/// Trials of one way beside the first.
const MENDINGS: usize = 26;
/// Different changes that are tried for one finding.
const KINDS: usize = 16;
/// Steps between the poses while a way is looked at and mended, as a multiple of those in which it is confirmed.
const STRIDE: f64 = 4.0;
/// Relative error of the tightest radius meanwhile.
const ACCURACY: f64 = 2e-3;
/// What is missing, as shares of limits, beyond which fixings are not tied anew to mend it.
const RETIED: f64 = 2.5;
/// Chance that a limit does not hold, above which it is called close \[standard deviations\].
const SURE: f64 = 1.645;

/// What became of a way.
#[derive(Debug)]
pub(super) enum Tried {
    Holds(Box<Proposal>),
    Fails(String),
}

/// Trials on one branch.
#[derive(Debug)]
pub(super) struct Trials<'r> {
    pub(super) route: &'r Route,
    pub(super) options: &'r Options,
    pub(super) group: Vec<BranchId>,
    /// Index of the branch in its group.
    pub(super) own: BranchId,
    /// Findings that are over in the route as it is, by check, branch and subject.
    before: BTreeSet<(&'static str, usize, String)>,
}

/// A count as a number.
#[allow(clippy::cast_precision_loss, reason = "a count of fixings")]
pub(super) fn number(count: usize) -> f64 {
    count as f64
}

fn over(finding: &Finding) -> bool {
    finding.verdict == Verdict::Over
}

/// By how much the findings miss, as shares of their limits.
pub(super) fn missing(findings: &[Finding]) -> f64 {
    findings
        .iter()
        .filter(|f| over(f))
        .map(|f| (f.use_of_limit() - 1.0).clamp(0.0, 10.0) + 0.05)
        .sum()
}

impl<'r> Trials<'r> {
    pub(super) fn new(route: &'r Route, options: &'r Options) -> Self {
        let group = route.together(options.branch);
        let own = group.iter().position(|b| *b == options.branch).unwrap_or(0);
        let solution = rod::solve(route, &options.settings);
        let found = check::check(route, &solution, &Self::checks(options, false));
        let before = found.findings.iter().filter(|f| over(f));
        Self {
            route,
            options,
            group,
            own: BranchId(own),
            before: before
                .map(|f| (f.check, f.branch.0, f.subject.clone()))
                .collect(),
        }
    }

    pub(super) fn checks(options: &Options, spread: bool) -> check::Options {
        check::Options {
            spread,
            units: options.units,
            settings: options.settings,
            charts: true,
            without: &[],
        }
    }

    pub(super) fn laid(&self, clamps: &[Clamp]) -> Route {
        laid(
            self.route,
            self.options.branch,
            (self.options.from, self.options.to),
            clamps,
        )
    }

    /// The findings of the branch laid so, without spread.
    pub(super) fn look(&self, clamps: &[Clamp]) -> Vec<Finding> {
        let part = self.laid(clamps).only(&self.group);
        let wide = self.wide();
        let solution = rod::solve(&part, &wide.settings);
        let look = |without| {
            let found = check::check(&part, &solution, &check::Options { without, ..wide });
            let found = found.findings.into_iter();
            found
                .filter(|f| self.is_ours(f, self.own))
                .collect::<Vec<_>>()
        };
        let found = look(&LAST);
        if found.iter().any(over) {
            found
        } else {
            look(&[])
        }
    }

    /// To look quickly: wide steps between the poses, no spread.
    pub(super) fn wide(&self) -> check::Options {
        check::Options {
            settings: rod::Settings {
                stride: STRIDE,
                accuracy: ACCURACY,
                ..self.options.settings
            },
            ..Self::checks(self.options, false)
        }
    }

    /// Whether a finding is of the branch, and of something that its way decides.
    fn is_ours(&self, finding: &Finding, branch: BranchId) -> bool {
        finding.branch == branch && !matches!(finding.check, "current" | "signal pairs")
    }

    /// What decides against a way as it was looked at first.
    pub(super) fn first_why(&self, found: &[Finding]) -> Option<String> {
        worst(found).filter(|f| over(f)).map(|f| self.why(f))
    }

    /// Mends a way that was looked at, and confirms it.
    pub(super) fn try_out(
        &self,
        words: &str,
        mut clamps: Vec<Clamp>,
        mut found: Vec<Finding>,
        hooks: &Hooks<'_>,
    ) -> Tried {
        let mut missed = missing(&found);
        let mut kind = 0;
        for _ in 0..MENDINGS {
            if missed <= 0.0 || missed > 8.0 || kind >= KINDS || (hooks.stop)() {
                break;
            }
            let Some(worst) = worst(&found).filter(|f| over(f)) else {
                break;
            };
            let better = self.mended(&clamps, worst, kind);
            kind += 1;
            let Some(better) = better else { continue };
            let new = self.look(&better);
            let now = missing(&new);
            if now < missed {
                (clamps, found, missed, kind) = (better, new, now, 0);
            }
        }
        let Some(worst) = worst(&found).filter(|_| missed > 0.0) else {
            return self.confirmed(words, &clamps, None, hooks);
        };
        if missed < RETIED
            && !(hooks.stop)()
            && let Some(change) = self.retied(&clamps, hooks.stop)
        {
            return self.confirmed(words, &clamps, Some(&change), hooks);
        }
        Tried::Fails(self.why(worst))
    }

    /// The whole route written, read again, solved and checked with its spread.
    fn confirmed(
        &self,
        words: &str,
        clamps: &[Clamp],
        change: Option<&Change>,
        hooks: &Hooks<'_>,
    ) -> Tried {
        let mut clamps = clamps.to_vec();
        for round in 0..3 {
            let laid = self.laid(&clamps);
            let laid = match change.map(|change| laid.changed(change, 1.0)) {
                None => laid,
                Some(Ok(mended)) => mended,
                Some(Err(why)) => return Tried::Fails(why.to_string()),
            };
            let (text, route) = match (hooks.written)(&laid) {
                Ok(read) => read,
                Err(why) => return Tried::Fails(format!("cannot be written into the file: {why}")),
            };
            let solution = rod::solve(&route, &self.options.settings);
            let found = check::check(&route, &solution, &Self::checks(self.options, true));
            let ours: Vec<Finding> = found
                .findings
                .iter()
                .filter(|f| self.is_ours(f, self.options.branch))
                .cloned()
                .collect();
            // A slack that holds but not surely grows by what is not sure.
            let unsure = ours
                .iter()
                .find(|f| f.check == "elongation" && !f.at_most && f.verdict > Verdict::Within);
            let crossing = clamps.iter_mut().find_map(|clamp| clamp.length.as_mut());
            if let (Some(unsure), Some(length), true) = (unsure, crossing, round < 2) {
                *length += unsure.limit - unsure.value + SURE * unsure.spread.unwrap_or(0.0) + 5e-4;
                continue;
            }
            if let Some(worst) = worst(&ours).filter(|f| over(f)) {
                return Tried::Fails(self.why(worst));
            }
            // What several branches do together is named after the one that does most of it, which may be another now.
            let was = |f: &Finding| {
                let together = f.check == "steering drag";
                self.before.iter().any(|(check, branch, subject)| {
                    *check == f.check
                        && *subject == f.subject
                        && (together || *branch == f.branch.0)
                })
            };
            let new = |f: &&Finding| over(f) && !was(f);
            if let Some(harmed) = found.findings.iter().find(new) {
                return Tried::Fails(format!(
                    "branch {} then fails: {}",
                    route.branches[harmed.branch.0].name,
                    self.why(harmed)
                ));
            }
            if check::exit_status(&solution, &found) == 3 {
                return Tried::Fails("its shape was not found in some pose".to_owned());
            }
            let spans = &solution.branches[self.options.branch.0].spans;
            let decided_by = worst(&ours).cloned();
            return Tried::Holds(Box::new(Proposal {
                way: words.to_owned(),
                margin: decided_by.as_ref().map_or(1.0, |f| 1.0 - f.use_of_limit()),
                decided_by,
                elsewhere: found.findings.iter().filter(|f| over(f)).cloned().collect(),
                length: spans.last().map_or(0.0, crate::route::Span::end),
                ties: self.between(&route).len(),
                heat: heat(&found, self.options.branch),
                changes: self.changes(&route),
                text,
                route,
            }));
        }
        Tried::Fails("its slack did not settle".to_owned())
    }

    fn why(&self, finding: &Finding) -> String {
        format!("{} at {}: {}", finding.check, finding.place, finding.advice)
    }
}

/// The finding that leaves the least of its limit.
fn worst(findings: &[Finding]) -> Option<&Finding> {
    findings.iter().max_by(|a, b| {
        (over(a), a.use_of_limit())
            .partial_cmp(&(over(b), b.use_of_limit()))
            .unwrap_or(std::cmp::Ordering::Equal)
    })
}

/// Least gap to a hot part as a multiple of what is to be kept.
fn heat(found: &Findings, branch: BranchId) -> Option<f64> {
    let hot = found
        .findings
        .iter()
        .filter(|f| f.branch == branch && f.check == "heat distance");
    hot.map(|f| f.value / f.limit).min_by(f64::total_cmp)
}
