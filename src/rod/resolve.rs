//! A strand resolved: elements cut and contact stiffened until both are good enough, and what error is left.

use crate::machine::Sweep;

use super::newton::Scratch;
use super::piece::{Piece, Solved};
use super::refine::{self, Finer};

/// Contact stiffness \[N/m²\]: where the branch sinks in deeper than [`DEEPEST`] \[m\] it grows by [`STIFFER`], up to the
/// last one, which still gives way where parts squeeze the branch: they must meet somewhere.
pub(super) const FIRST_CONTACT: f64 = 2e6;
const STIFFER: f64 = 8.0;
const LAST_CONTACT: f64 = 1024e6;
const DEEPEST: f64 = 0.2e-3;

/// Relative error of the radius that is enough where parts press on the branch.
const TOUCHING: f64 = 2e-3;

/// Most rounds of halving every element after the local refinement.
const MORE_ROUNDS: usize = 2;

/// Relative error of the radius that counts where the halved elements could not be solved: it may be anything.
const UNKNOWN: f64 = 1.0;

impl Solved {
    /// The accuracy worth resolving: where parts press on the branch, contact itself is no finer than this.
    fn worth(&self, accuracy: f64) -> f64 {
        let touching = self
            .measured
            .iter()
            .any(|m| m.stations.iter().any(|s| s.contact > 0.0));
        if touching {
            accuracy.max(TOUCHING)
        } else {
            accuracy
        }
    }
}

impl Piece<'_> {
    /// Cuts elements, and stiffens contact, until both are good enough; then halves every element once to learn what
    /// error is left, and once or twice more where that shows it to be too great.
    pub(super) fn resolve(
        &mut self,
        solved: &mut Solved,
        sweep: &Sweep,
        accuracy: f64,
        scratch: &mut Scratch,
    ) {
        for _ in 0..refine::ROUNDS {
            let accuracy = solved.worth(accuracy);
            let deepest = solved.measured.iter().map(|m| m.depth).fold(0.0, f64::max);
            let deep = deepest >= DEEPEST && self.contact < LAST_CONTACT;
            let finer = refine::finer(
                &solved.strand,
                &solved.reached,
                &solved.measured,
                accuracy,
                self.branch.diameter,
            );
            if finer.is_none() && !deep {
                break;
            }
            if deep {
                self.contact = (self.contact * STIFFER).min(LAST_CONTACT);
            }
            self.cut(solved, finer.as_ref(), sweep, scratch);
        }
        for round in 0..=MORE_ROUNDS {
            let halved = self.change_on_halving(solved, sweep, scratch);
            let local = refine::error(&solved.strand, &solved.reached, &solved.measured);
            solved.radius_error = halved.max(local);
            if halved <= solved.worth(accuracy) || round == MORE_ROUNDS {
                break;
            }
            let finer = refine::all_finer(&solved.strand, self.branch.diameter);
            if finer.is_none() {
                break;
            }
            self.cut(solved, finer.as_ref(), sweep, scratch);
        }
    }

    /// Every pose again on finer elements.
    fn cut(
        &mut self,
        solved: &mut Solved,
        finer: Option<&Finer>,
        sweep: &Sweep,
        scratch: &mut Scratch,
    ) {
        let states = solved.reached.iter().map(|r| &r.state);
        let seeds = match finer {
            Some(finer) => states
                .map(|state| finer.prolong(&solved.strand, state))
                .collect(),
            None => states.cloned().collect(),
        };
        if let Some(finer) = finer {
            solved.strand = finer.strand(&solved.strand);
        }
        let jumps: Vec<_> = solved.reached.iter().map(|r| r.jump).collect();
        solved.reached = self.again(&mut solved.strand, sweep, seeds, scratch);
        for (reached, jump) in solved.reached.iter_mut().zip(jumps) {
            reached.jump = jump;
        }
        solved.steps += solved.reached.iter().map(|r| r.steps).sum::<usize>();
        solved.measured = self.measure(&solved.strand, sweep, &solved.reached);
    }

    /// By how much the tightest curvature of a span changes, relative to it, when every element is halved: solved
    /// again for the pose in which each span is tightest. The local estimate of [`refine`] does not see errors that
    /// gather along a span and show at one clamp.
    fn change_on_halving(&self, solved: &Solved, sweep: &Sweep, scratch: &mut Scratch) -> f64 {
        let Some(finer) = refine::all_finer(&solved.strand, self.branch.diameter) else {
            return 0.0;
        };
        let fine = finer.strand(&solved.strand);
        let mut worst = 0.0_f64;
        for (pose, spans) in
            refine::tightest_poses(&solved.strand, &solved.reached, &solved.measured)
        {
            let state = finer.prolong(&solved.strand, &solved.reached[pose].state);
            let (target, stance) = self.at(&sweep.poses[pose].joints);
            let halved = self.relax(&fine, state, (&target, &stance), false, scratch);
            if !halved.converged {
                return UNKNOWN;
            }
            let halved = self.measure_one(&fine, sweep, pose, &halved);
            for span in spans {
                let coarse = solved.measured[pose].spans[span].curvature;
                worst = worst.max(refine::change(coarse, halved.spans[span].curvature));
            }
        }
        worst
    }
}
