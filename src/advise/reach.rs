//! How far a change can go: the first limit that it breaks, and the next one that would decide if that were cured.
//!
//! Every finding keeps its identity from one share of the change to the next, so the share at which it reaches its limit
//! is the root of a smooth function: looked for by the secant through both ends of a bracket, with the end that stays
//! too long weighted down (the Illinois variant of regula falsi; Dowell & Jarratt, BIT 11, 1971). A finding that is
//! there on one side alone is bracketed by halving.

use crate::check::{Finding, Options, Verdict, pose_in_words};
use crate::quantity::Kind;
use crate::route::{Change, ChangeError};

use super::Solved;
use super::margin::{Amount, Identity, amount, excess, identity};

/// How to look.
#[derive(Debug, Clone, Copy)]
pub struct ReachOptions {
    /// How to check; `spread` says whether the spread of the reach is worked out.
    pub check: Options,
    /// The greatest share of the change that is looked at.
    pub most: f64,
    /// A share is found to this, or to a thousandth of the deciding limit, whichever comes first.
    pub accuracy: f64,
}

impl Default for ReachOptions {
    fn default() -> Self {
        Self {
            check: Options::default(),
            most: 3.0,
            accuracy: 1e-3,
        }
    }
}

/// A limit that a change reaches.
#[derive(Debug, Clone, PartialEq)]
pub struct Limiting {
    /// The share of the change at which it is reached.
    pub share: f64,
    /// The finding there.
    pub finding: Finding,
    /// Name of its branch.
    pub branch: String,
    /// Its pose in words.
    pub pose: String,
}

/// How far a change can go.
#[derive(Debug, Clone, PartialEq)]
pub struct Reach {
    /// Name of the change.
    pub change: String,
    /// How large the whole change is.
    pub of: Amount,
    /// The share at which the first limit is reached; where none is, the greatest that was looked at.
    pub share: f64,
    /// The limit that decides; `None` where none is broken up to that share.
    pub decided_by: Option<Limiting>,
    /// Whether that limit is broken before anything is changed.
    pub already: bool,
    /// The limit that would decide if the first were cured.
    pub next: Option<Limiting>,
    /// One standard deviation of the share, where it was asked for and can be told.
    pub spread: Option<f64>,
    /// The share up to which the deciding limit holds at 95 %, solved and checked there.
    pub sure: Option<f64>,
    /// Shares between which some limit is broken, as far as looked at, where it holds again beyond.
    pub over_between: Vec<(f64, f64)>,
    /// Where the change can no longer be made: the share, and why.
    pub ends: Option<(f64, String)>,
    /// How many routes were solved and checked.
    pub solved: usize,
}

/// Shares that are looked at in any case: a limit may be broken in between only.
const SCAN: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];
/// And beyond, as long as something is still looked for.
const BEYOND: [f64; 3] = [1.5, 2.0, 3.0];
/// Steps of the root finder.
const STEPS: usize = 14;
/// A finding this near to its limit is at it, as a share of the limit.
const AT_LIMIT: f64 = 1e-3;
/// Slopes are taken over at least this share.
const APART: f64 = 0.02;
/// So many standard deviations leave 5 % beyond.
const SURE: f64 = 1.644_854;

/// How far a change of a solved route can go.
///
/// # Errors
/// The change cannot be made at all.
pub fn reach(base: &Solved, change: &Change, options: &ReachOptions) -> Result<Reach, ChangeError> {
    let mut search = Search::new(base, change, options);
    // A change that cannot be made at any share is an error; one that can be made in part ends there.
    base.route.changed(change, 1e-3)?;
    search.scan(&SCAN);
    let ignored: Vec<Identity> = Vec::new();
    let mut first = search.first(&ignored);
    search.go_on(&mut first, &ignored);
    let already = first.as_ref().is_some_and(|found| found.share <= 0.0);
    let mut next = None;
    if let Some(found) = &first {
        // What is cured with the first: itself, all that is broken already, and what follows from either.
        let mut ignored = vec![search.identity_of(found)];
        if already {
            ignored.extend(search.over_at_start());
        }
        next = search.first(&ignored);
        search.go_on(&mut next, &ignored);
    }
    let (mut spread, mut sure) = (None, None);
    if let (Some(found), true, false) = (&first, options.check.spread, already) {
        (spread, sure) = search.spread(found);
    }
    let share = first.as_ref().map_or(search.most(), |found| found.share);
    Ok(Reach {
        change: change.name.clone(),
        of: amount(change),
        share,
        already,
        next,
        spread,
        sure,
        over_between: search.over_between(share),
        ends: search.ends.clone(),
        solved: search.trials.len() - 1,
        decided_by: first,
    })
}

/// The route with one share of the change.
pub(super) struct Trial {
    pub(super) share: f64,
    pub(super) solved: Solved,
}

pub(super) struct Search<'a> {
    base: &'a Solved,
    change: &'a Change,
    options: &'a ReachOptions,
    quick: Options,
    /// By share, rising.
    pub(super) trials: Vec<Trial>,
    pub(super) ends: Option<(f64, String)>,
}

impl<'a> Search<'a> {
    pub(super) fn new(base: &'a Solved, change: &'a Change, options: &'a ReachOptions) -> Self {
        Self {
            base,
            change,
            options,
            quick: Options {
                spread: false,
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
    pub(super) fn most(&self) -> f64 {
        self.trials.last().map_or(0.0, |trial| trial.share)
    }

    pub(super) fn scan(&mut self, shares: &[f64]) {
        for &share in shares {
            if share <= self.options.most && !self.look(share) {
                return;
            }
        }
    }

    /// Looks at a share; false where the change cannot be made there.
    fn look(&mut self, share: f64) -> bool {
        let place = self.trials.partition_point(|trial| trial.share < share);
        let known = self.trials.get(place);
        if known.is_some_and(|trial| (trial.share - share).abs() < 1e-9) {
            return true;
        }
        match self.base.route.changed(self.change, share) {
            Ok(route) => {
                let solved = self.base.with(route, &self.quick);
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
    fn go_on(&mut self, found: &mut Option<Limiting>, ignored: &[Identity]) {
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
    pub(super) fn first(&mut self, ignored: &[Identity]) -> Option<Limiting> {
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

    fn identity_of(&self, found: &Limiting) -> Identity {
        let finding = &found.finding;
        (finding.check, found.branch.clone(), finding.subject.clone())
    }

    fn over_at_start(&self) -> Vec<Identity> {
        let start = &self.trials[0];
        let findings = start.solved.findings.findings.iter();
        findings
            .filter(|finding| finding.verdict == Verdict::Over)
            .map(|finding| identity(&start.solved, finding))
            .collect()
    }

    /// Stretches of shares in which some limit is broken, where a share beyond holds again.
    fn over_between(&self, first: f64) -> Vec<(f64, f64)> {
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

    /// Standard deviation of the share at which a limit is reached, and the share up to which it holds at 95 %.
    fn spread(&self, found: &Limiting) -> (Option<f64>, Option<f64>) {
        let none = (None, None);
        let Some(slope) = self.slope(found) else {
            return none;
        };
        let Some((_, deviation)) = self.deviation(found, found.share) else {
            return none;
        };
        let spread = deviation / slope;
        let mut sure = found.share - SURE * spread;
        // The spread is another there, and the slope: once more from what is found.
        for _ in 0..3 {
            if sure <= 0.0 {
                return (Some(spread), Some(0.0));
            }
            let Some((room, deviation)) = self.deviation(found, sure) else {
                return (Some(spread), None);
            };
            let short = SURE * deviation - room;
            if short <= 0.02 * deviation {
                return (Some(spread), Some(sure));
            }
            sure -= short / slope;
        }
        (Some(spread), None)
    }

    /// Room to the limit and standard deviation of the deciding value at a share, in the unit of the value.
    fn deviation(&self, found: &Limiting, share: f64) -> Option<(f64, f64)> {
        let route = self.base.route.changed(self.change, share).ok()?;
        let solved = self.base.with(route, &self.quick);
        let full = Options {
            spread: true,
            ..self.options.check
        };
        let branch = solved
            .route
            .branches
            .iter()
            .position(|b| b.name == found.branch)?;
        let branch = crate::harness::BranchId(branch);
        // What is summed over all branches needs them all.
        let with_spread = if found.finding.check == "steering drag" {
            let findings = crate::check::check(&solved.route, &solved.solution, &full);
            Solved { findings, ..solved }
        } else {
            solved.alone(branch, &full).0
        };
        let findings = &with_spread.findings.findings;
        let same = findings.iter().find(|f| {
            f.check == found.finding.check
                && f.subject == found.finding.subject
                && with_spread.route.branches[f.branch.0].name == found.branch
        })?;
        let room = if same.at_most {
            same.limit - same.value
        } else {
            same.value - same.limit
        };
        Some((room, same.spread?))
    }

    /// How fast the deciding value changes with the share, in its unit.
    fn slope(&self, found: &Limiting) -> Option<f64> {
        let value = |trial: &Trial| {
            let findings = trial.solved.findings.findings.iter();
            let mut same = findings.filter(|f| {
                f.check == found.finding.check
                    && f.subject == found.finding.subject
                    && trial.solved.route.branches[f.branch.0].name == found.branch
            });
            same.next().map(|f| f.value)
        };
        let above = self.trials.iter().find(|t| t.share >= found.share)?;
        let below = self
            .trials
            .iter()
            .rev()
            .filter(|t| t.share <= above.share - APART)
            .find_map(|t| Some((t.share, value(t)?)))?;
        let slope = ((value(above)? - below.1) / (above.share - below.0)).abs();
        (slope > 0.0).then_some(slope)
    }
}

impl Reach {
    /// A share of the change as an amount of its own motion, in the SI unit of the amount's kind.
    pub fn along(&self, share: f64) -> f64 {
        share * self.of.value
    }

    /// Unit of the amounts in reports, and the factor from SI.
    pub fn unit(&self) -> (f64, &'static str) {
        match self.of.kind {
            Kind::Length => (1e3, "mm"),
            Kind::Angle => (1.0_f64.to_degrees(), "deg"),
            _ => (100.0, "%"),
        }
    }
}
