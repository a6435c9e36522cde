//! How far hand measuring may put the share off at which a limit is reached, and up to where the limit surely holds.

use crate::advise::Solved;
use crate::check::Options;
use crate::harness::BranchId;

use super::search::Trial;
use super::{Limiting, Search};

/// Slopes are taken over at least this share.
const APART: f64 = 0.02;
/// So many standard deviations leave 5 % beyond.
const SURE: f64 = 1.644_854;

impl Search<'_> {
    /// Standard deviation of the share at which a limit is reached, and the share up to which it holds at 95 %.
    pub(super) fn spread(&self, found: &Limiting) -> (Option<f64>, Option<f64>) {
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
        let branch = BranchId(branch);
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
