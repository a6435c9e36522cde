//! A strand resolved: elements cut and contact stiffened until both are good enough, and what error is left.

use crate::machine::Sweep;

use super::cluster::{Cluster, Solved};
use super::newton::Scratch;
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
    /// The accuracy worth resolving for strand `i`: where parts press on the branch, contact itself is no finer than this.
    fn worth(&self, i: usize, accuracy: f64) -> f64 {
        let touching = self.measured[i]
            .iter()
            .any(|m| m.stations.iter().any(|s| s.contact > 0.0));
        if touching {
            accuracy.max(TOUCHING)
        } else {
            accuracy
        }
    }
}

impl Cluster<'_> {
    /// Whether nobody wants the answer any more.
    pub(super) fn halted(&self) -> bool {
        self.pieces
            .first()
            .is_some_and(|piece| piece.stop.halt.asked())
    }

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
            if self.halted() {
                break;
            }
            let converged = solved.converged();
            let mut finer = Vec::new();
            let mut any_deep = false;
            for (i, piece) in self.pieces.iter_mut().enumerate() {
                let measured = &solved.measured[i];
                let deepest = measured.iter().map(|m| m.depth).fold(0.0, f64::max);
                if deepest >= DEEPEST && piece.contact < LAST_CONTACT {
                    piece.contact = (piece.contact * STIFFER).min(LAST_CONTACT);
                    any_deep = true;
                }
                finer.push(refine::finer(
                    &solved.strands[i],
                    &converged,
                    measured,
                    solved.worth(i, accuracy),
                    piece.branch.diameter,
                ));
            }
            if !any_deep && finer.iter().all(Option::is_none) {
                break;
            }
            self.cut(solved, &finer, sweep, scratch);
        }
        solved.radius_error = vec![0.0; self.pieces.len()];
        for round in 0..=MORE_ROUNDS {
            if self.halted() {
                break;
            }
            let converged = solved.converged();
            let mut finer = Vec::new();
            for (i, piece) in self.pieces.iter().enumerate() {
                let halved = self.change_on_halving(i, solved, sweep, scratch);
                let (strand, measured) = (&solved.strands[i], &solved.measured[i]);
                let local = refine::error(strand, &converged, measured);
                solved.radius_error[i] = halved.max(local);
                let enough = halved <= solved.worth(i, accuracy) || round == MORE_ROUNDS;
                let all = || refine::all_finer(strand, piece.branch.diameter);
                finer.push(if enough { None } else { all() });
            }
            if finer.iter().all(Option::is_none) {
                break;
            }
            self.cut(solved, &finer, sweep, scratch);
        }
    }

    /// Every pose again on finer elements.
    fn cut(
        &mut self,
        solved: &mut Solved,
        finer: &[Option<Finer>],
        sweep: &Sweep,
        scratch: &mut Scratch,
    ) {
        let seeds = solved
            .reached
            .iter()
            .map(|reached| {
                let mut seed = reached.whole.clone();
                for (i, finer) in finer.iter().enumerate() {
                    if let Some(finer) = finer {
                        let state = &reached.whole.strands[i];
                        seed.strands[i] = finer.prolong(&solved.strands[i], state);
                    }
                }
                seed
            })
            .collect();
        for (strand, finer) in solved.strands.iter_mut().zip(finer) {
            if let Some(finer) = finer {
                *strand = finer.strand(strand);
            }
        }
        let jumps: Vec<_> = solved.reached.iter().map(|r| r.jump).collect();
        solved.reached = self.again(&mut solved.strands, sweep, seeds, scratch);
        for (reached, jump) in solved.reached.iter_mut().zip(jumps) {
            reached.jump = jump;
        }
        solved.steps += solved.reached.iter().map(|r| r.steps).sum::<usize>();
        solved.measured = self.measure(&solved.strands, &sweep.poses, &solved.reached);
    }

    /// By how much the tightest curvature of a span of strand `i` changes, relative to it, when every element is halved:
    /// solved again, with its ends where they are, for the pose in which each span is tightest. The local estimate of
    /// [`refine`] does not see errors that gather along a span and show at one clamp.
    fn change_on_halving(
        &self,
        i: usize,
        solved: &Solved,
        sweep: &Sweep,
        scratch: &mut Scratch,
    ) -> f64 {
        let (piece, strand, measured) = (&self.pieces[i], &solved.strands[i], &solved.measured[i]);
        let Some(finer) = refine::all_finer(strand, piece.branch.diameter) else {
            return 0.0;
        };
        let fine = finer.strand(strand);
        let mut worst = 0.0_f64;
        for (pose, spans) in refine::tightest_poses(strand, &solved.converged(), measured) {
            let whole = &solved.reached[pose].whole;
            let state = finer.prolong(strand, &whole.strands[i]);
            let stance = self.stance(&sweep.poses[pose].joints, whole);
            let target = piece.target(&stance);
            let (state, outcome) = piece.relax(&fine, state, (&target, &stance), false, scratch);
            if !(outcome.converged && outcome.stable) {
                return UNKNOWN;
            }
            let halved = piece.measure_one(&fine, &stance, &state);
            for span in spans {
                let coarse = measured[pose].spans[span].curvature;
                worst = worst.max(refine::change(coarse, halved.spans[span].curvature));
            }
        }
        worst
    }
}
