//! Shares of a change that are looked at, and where among them a limit is reached.

use crate::advise::Solved;
use crate::advise::margin::{Identity, excess, identity};
use crate::check::{Finding, Options, Verdict, pose_in_words};
use crate::route::Change;

use super::{BEYOND, Limiting, ReachOptions};

/// Steps of the root finder.
const STEPS: usize = 14;
/// A finding this near to its limit is at it, as a share of the limit.
const AT_LIMIT: f64 = 1e-3;

/// The route with one share of the change.
pub(super) struct Trial {
    pub(super) share: f64,
    pub(super) solved: Solved,
}

pub(in crate::advise) struct Search<'a> {
    pub(super) base: &'a Solved,
    pub(super) change: &'a Change,
    pub(super) options: &'a ReachOptions,
    pub(super) quick: Options,
    say: &'a (dyn Fn(&str) + Sync),
    /// By share, rising.
    pub(super) trials: Vec<Trial>,
    pub(super) ends: Option<(f64, String)>,
}

impl<'a> Search<'a> {
    pub(in crate::advise) fn new(
        base: &'a Solved,
        change: &'a Change,
        options: &'a ReachOptions,
        say: &'a (dyn Fn(&str) + Sync),
    ) -> Self {
        Self {
            base,
            change,
            options,
            say,
            quick: Options {
                spread: false,
                charts: false,
                ..options.check
            },
            trials: vec![Trial {
                share: 0.0,
                solved: base.clone(),
            }],
            ends: None,
        }
    }

    /// The greatest share that was looked at.
    pub(in crate::advise) fn most(&self) -> f64 {
        self.trials.last().map_or(0.0, |trial| trial.share)
    }

    pub(in crate::advise) fn scan(&mut self, shares: &[f64]) {
        for &share in shares {
            if share <= self.options.most && !self.look(share) {
                return;
            }
        }
    }

    /// How many shares were looked at, the route as it is not among them.
    pub(in crate::advise) fn count(&self) -> usize {
        self.trials.len() - 1
    }

    /// Whether the search was asked to leave off.
    pub(in crate::advise) fn stopped(&self) -> bool {
        self.quick.settings.halt.asked()
    }

    /// The greatest share that was looked at up to which every limit holds, and what is broken at the next.
    pub(super) fn so_far(&self) -> (f64, Option<Limiting>) {
        let broken = self.trials.iter().enumerate();
        let mut broken = broken.filter_map(|(b, trial)| {
            let finding = Self::over(trial, &[]).first().map(|f| (*f).clone());
            finding.map(|finding| (b, finding))
        });
        match broken.next() {
            None => (self.most(), None),
            Some((b, finding)) => {
                let limit = self.limiting(b, self.trials[b].share, finding);
                (self.trials[b.saturating_sub(1)].share, Some(limit))
            }
        }
    }

    /// Looks at a share; false where the change cannot be made there, or the search was stopped.
    fn look(&mut self, share: f64) -> bool {
        let place = self.trials.partition_point(|trial| trial.share < share);
        let known = self.trials.get(place);
        if known.is_some_and(|trial| (trial.share - share).abs() < 1e-9) {
            return true;
        }
        if self.stopped() {
            return false;
        }
        (self.say)(&format!(
            "trying {:.0} % of the change, {} tried",
            100.0 * share,
            self.count()
        ));
        match self.base.route.changed(self.change, share) {
            Ok(route) => {
                let solved = self.base.with(route, &self.quick);
                // What was left off is no answer.
                if self.stopped() {
                    return false;
                }
                self.trials.insert(place, Trial { share, solved });
                true
            }
            Err(error) => {
                let earlier = self.ends.as_ref().is_none_or(|(end, _)| share < *end);
                if earlier {
                    self.ends = Some((share, error.to_string()));
                }
                false
            }
        }
    }

    /// Looks further out for a limit that was not found yet.
    pub(super) fn go_on(&mut self, found: &mut Option<Limiting>, ignored: &[Identity]) {
        for share in BEYOND {
            if found.is_some() || share > self.options.most || self.ends.is_some() {
                return;
            }
            if self.most() + 1e-9 < share && !self.look(share) {
                return;
            }
            *found = self.first(ignored);
        }
    }

    /// The findings of a trial that are over and count.
    fn over<'t>(trial: &'t Trial, ignored: &[Identity]) -> Vec<&'t Finding> {
        let findings = trial.solved.findings.findings.iter();
        findings
            .filter(|finding| {
                let follows = !ignored.is_empty() && finding.follows_from.is_some();
                finding.verdict == Verdict::Over
                    && !follows
                    && !ignored.contains(&identity(&trial.solved, finding))
            })
            .collect()
    }

    /// The first limit that is broken, those ignored apart.
    pub(in crate::advise) fn first(&mut self, ignored: &[Identity]) -> Option<Limiting> {
        let mut b = self
            .trials
            .iter()
            .position(|t| !Self::over(t, ignored).is_empty())?;
        if b == 0 {
            let finding = Self::over(&self.trials[0], ignored)[0].clone();
            return Some(self.limiting(0, 0.0, finding));
        }
        // Weights of the excess at either end, by which an end that stays too long is weighted down.
        let (mut low, mut high) = (1.0, 1.0);
        let mut last_high = None;
        for _ in 0..STEPS {
            let (share, _) = self.crossing(b, ignored, (low, high));
            let (from, to) = (self.trials[b - 1].share, self.trials[b].share);
            let least = Self::over(&self.trials[b], ignored)
                .into_iter()
                .map(excess)
                .fold(f64::INFINITY, f64::min);
            if to - from <= self.options.accuracy || (least <= AT_LIMIT && low >= 1.0) {
                break;
            }
            if !self.look(share) {
                break;
            }
            // The new trial stands at b; what was over stands behind it.
            if Self::over(&self.trials[b], ignored).is_empty() {
                b += 1;
                low = 1.0;
                high = if last_high == Some(false) {
                    0.5 * high
                } else {
                    1.0
                };
                last_high = Some(false);
            } else {
                high = 1.0;
                low = if last_high == Some(true) {
                    0.5 * low
                } else {
                    1.0
                };
                last_high = Some(true);
            }
        }
        let (share, finding) = self.crossing(b, ignored, (1.0, 1.0));
        Some(self.limiting(b, share, finding))
    }

    /// Where the first finding that is over at trial `b` reaches its limit, by the secant from the trial before.
    fn crossing(&self, b: usize, ignored: &[Identity], (low, high): (f64, f64)) -> (f64, Finding) {
        let (before, after) = (&self.trials[b - 1], &self.trials[b]);
        let (from, to) = (before.share, after.share);
        let mut best: Option<(f64, &Finding)> = None;
        let over = Self::over(after, ignored);
        for finding in &over {
            let beyond = high * excess(finding);
            let old = before.solved.like(&after.solved, finding);
            let part = match old.map(|old| -low * excess(old)) {
                Some(room) if room + beyond > 0.0 => room / (room + beyond),
                _ => 0.5,
            };
            // Never at an end: either would be looked at twice.
            let share = from + (to - from) * part.clamp(0.02, 0.98);
            let sooner = best.is_none_or(|(other, of)| {
                share < other - 1e-9
                    || (share < other + 1e-9
                        && of.follows_from.is_some()
                        && finding.follows_from.is_none())
            });
            if sooner {
                best = Some((share, finding));
            }
        }
        best.map_or_else(
            || (to, after.solved.findings.findings[0].clone()),
            |(share, finding)| (share, finding.clone()),
        )
    }

    fn limiting(&self, trial: usize, share: f64, finding: Finding) -> Limiting {
        let solved = &self.trials[trial].solved;
        Limiting {
            share,
            branch: solved.route.branches[finding.branch.0].name.clone(),
            pose: pose_in_words(
                &solved.route.machine,
                &solved.solution.sweep,
                finding.pose,
                self.options.check.units,
            ),
            finding,
        }
    }

    pub(super) fn identity_of(&self, found: &Limiting) -> Identity {
        let finding = &found.finding;
        (finding.check, found.branch.clone(), finding.subject.clone())
    }

    pub(super) fn over_at_start(&self) -> Vec<Identity> {
        let start = &self.trials[0];
        let findings = start.solved.findings.findings.iter();
        findings
            .filter(|finding| finding.verdict == Verdict::Over)
            .map(|finding| identity(&start.solved, finding))
            .collect()
    }

    /// Stretches of shares in which some limit is broken, where a share beyond holds again.
    pub(super) fn over_between(&self, first: f64) -> Vec<(f64, f64)> {
        let mut stretches = Vec::new();
        let mut begun: Option<(f64, f64)> = None;
        for trial in &self.trials {
            if Self::over(trial, &[]).is_empty() {
                stretches.extend(begun.take());
            } else {
                let from = begun.map_or(trial.share.min(first.max(0.0)), |(from, _)| from);
                let from = if stretches.is_empty() {
                    from
                } else {
                    begun.map_or(trial.share, |(from, _)| from)
                };
                begun = Some((from, trial.share));
            }
        }
        stretches
    }
}
