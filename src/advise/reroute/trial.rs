//! A way with its clamps, solved and checked; mended a little where it just misses; read again before it counts.

use std::collections::BTreeSet;

use nalgebra::{UnitVector3, Vector3};

use crate::check::{self, Finding, Findings, LimitKey, Limits, Verdict};
use crate::harness::BranchId;
use crate::quantity::Kind;
use crate::rod;
use crate::route::Route;

use super::fixings::{Clamp, laid};
use super::{Hooks, Options, Proposal, on_part};

/// Trials of one way beside the first.
const MENDINGS: usize = 26;
/// Different changes that are tried for one finding.
const KINDS: usize = 15;
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
    route: &'r Route,
    options: &'r Options,
    group: Vec<BranchId>,
    /// Index of the branch in its group.
    own: BranchId,
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

    fn checks(options: &Options, spread: bool) -> check::Options {
        check::Options {
            spread,
            units: options.units,
            settings: options.settings,
        }
    }

    fn laid(&self, clamps: &[Clamp]) -> Route {
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
        let solution = rod::solve(&part, &self.options.settings);
        let found = check::check(&part, &solution, &Self::checks(self.options, false));
        found
            .findings
            .into_iter()
            .filter(|f| self.is_ours(f, self.own))
            .collect()
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
        if let Some(worst) = worst(&found).filter(|_| missed > 0.0) {
            return Tried::Fails(self.why(worst));
        }
        self.confirmed(words, &clamps, hooks)
    }

    /// A little change that may mend a finding: another of each kind.
    fn mended(&self, clamps: &[Clamp], worst: &Finding, kind: usize) -> Option<Vec<Clamp>> {
        let limits = Limits::new(&self.route.limits);
        let longest = limits.get(LimitKey::SupportDistance).value();
        let mut new = clamps.to_vec();
        let crossing = clamps.iter().position(|clamp| clamp.length.is_some());
        if worst.check == "elongation" && !worst.at_most {
            let length = new[crossing?].length.as_mut()?;
            *length = (*length + worst.limit - worst.value + 0.001).min(longest);
            return Some(new);
        }
        if worst.check == "slack most" && worst.at_most {
            let length = new[crossing?].length.as_mut()?;
            *length -= worst.value - worst.limit + 0.001;
            return Some(new);
        }
        // The clamp before the place of the finding, and the one behind it.
        let route = self.laid(clamps);
        let rest = route.machine.stance(&route.machine.rest());
        let spans = route.spans(&route.branches[self.options.branch.0], &rest);
        let span = spans
            .iter()
            .rposition(|span| span.start <= worst.at + 1e-6)?;
        let behind = span.checked_sub(self.options.from);
        let moving = spans[span].moving;
        // The nearer of the two clamps of the span, and the other one; and which way each leads out of the span.
        let nearer_end = worst.at - spans[span].start > 0.5 * spans[span].length;
        let (own, other) = (behind?, behind?.checked_sub(1));
        let (first, second) = if nearer_end {
            (Some(own), other)
        } else {
            (other, Some(own))
        };
        let branch = &route.branches[self.options.branch.0];
        let [start, end] = [span, span + 1].map(|lay| route.fixing_position(branch, lay, &rest));
        let chord = UnitVector3::try_new(end - start, 1e-9)?;
        let stretch = |new: &mut Vec<Clamp>, by: f64| -> Option<()> {
            let length = new[crossing.filter(|_| moving)?].length.as_mut()?;
            *length = (*length + by).min(longest);
            Some(())
        };
        let pick = if matches!(kind, 3 | 6 | 9 | 11 | 13) {
            second
        } else {
            first
        };
        // What is pulled taut bends at its ends however they are turned: length first.
        let by = [0.012, 0.03, -0.008];
        if let Some(way) = [0, 4, 8].iter().position(|own| *own == kind) {
            stretch(&mut new, by[way])?;
            return Some(new);
        }
        let clamp = new.get_mut(pick?).filter(|clamp| clamp.keeps.is_none())?;
        let outward = if pick == Some(own) { 1.0 } else { -1.0 };
        let side = UnitVector3::try_new(clamp.along.cross(&Vector3::z()), 1e-3)
            .unwrap_or_else(Vector3::y_axis);
        let up = clamp.along.cross(&side);
        match kind {
            1 | 3 => clamp.along = UnitVector3::new_normalize(*clamp.along + *chord * 0.3),
            2 => clamp.along = UnitVector3::new_normalize(*clamp.along + *chord * 0.8),
            5 | 6 => clamp.at += *clamp.along * (0.02 * outward),
            7 | 9 => clamp.along = UnitVector3::new_normalize(*clamp.along - *chord * 0.3),
            10 | 11 => clamp.at += up * 0.008,
            12 | 13 => clamp.at -= up * 0.008,
            _ => clamp.at += *side * 0.008,
        }
        Some(new)
    }

    /// The whole route written, read again, solved and checked with its spread.
    fn confirmed(&self, words: &str, clamps: &[Clamp], hooks: &Hooks<'_>) -> Tried {
        let mut clamps = clamps.to_vec();
        for round in 0..3 {
            let (text, route) = match (hooks.written)(&self.laid(&clamps)) {
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
            let new = |f: &&Finding| {
                over(f)
                    && !self
                        .before
                        .contains(&(f.check, f.branch.0, f.subject.clone()))
            };
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
                length: spans.last().map_or(0.0, crate::route::Span::end),
                ties: clamps.len(),
                heat: heat(&found, self.options.branch),
                changes: self.changes(&route, &clamps),
                text,
                route,
            }));
        }
        Tried::Fails("its slack did not settle".to_owned())
    }

    fn why(&self, finding: &Finding) -> String {
        format!("{} at {}: {}", finding.check, finding.place, finding.advice)
    }

    /// What to do, in words.
    fn changes(&self, route: &Route, clamps: &[Clamp]) -> Vec<String> {
        let (from, to) = (self.options.from, self.options.to);
        let old = &self.route.branches[self.options.branch.0].lay;
        let branch = &route.branches[self.options.branch.0];
        let units = self.options.units;
        let show = |value: f64| units.show_to(value, Kind::Length, 0);
        let mut changes: Vec<String> = (from + 1..to)
            .filter(|lay| !clamps.iter().any(|clamp| clamp.keeps == Some(*lay)))
            .map(|lay| format!("take off {}", old[lay].fixing.name))
            .collect();
        let rest = route.machine.stance(&route.machine.rest());
        let spans = route.spans(branch, &rest);
        for (nth, clamp) in clamps.iter().enumerate() {
            let entry = &branch.lay[from + 1 + nth];
            let length = show(spans[from + nth].length);
            let before = &branch.lay[from + nth].fixing.name;
            changes.push(if clamp.keeps.is_some() {
                format!(
                    "keep {}, {length} of branch after {before}",
                    entry.fixing.name
                )
            } else {
                let at = route.places[entry.fixing.place].at;
                format!(
                    "clamp {} on {} at x {}, y {}, z {}{}, {length} of branch after {before}",
                    entry.fixing.name,
                    route.machine.bodies[clamp.body.0].name,
                    show(at.x),
                    show(at.y),
                    show(at.z),
                    on_part(route, clamp.part)
                )
            });
        }
        if let Some(span) = spans.get(from + clamps.len()) {
            let last = &branch.lay[from + clamps.len() + 1].fixing.name;
            changes.push(format!(
                "{} of branch from there to {last}",
                show(span.length)
            ));
        }
        changes
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
