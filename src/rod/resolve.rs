//! A strand resolved: elements cut and contact stiffened until both are good enough, and what error is left.

use crate::machine::Sweep;

use super::again::TRIES;
use super::cluster::{Cluster, Solved};
use super::newton::{Scratch, Stop};
use super::refine::{self, Finer};
use super::walk::Reached;

/// Contact stiffness \[N/m²\]: where the branch sinks in deeper than [`DEEPEST`] \[m\] it grows by [`STIFFER`], up to the
/// last one, which still gives way where parts squeeze the branch: they must meet somewhere.
pub(super) const FIRST_CONTACT: f64 = 2e6;
const STIFFER: f64 = 8.0;
const LAST_CONTACT: f64 = 1024e6;
const DEEPEST: f64 = 0.2e-3;

/// Most rounds of halving every element after the local refinement.
const MORE_ROUNDS: usize = 2;

/// Greatest force left, relative to EI/L², where a state only tells how to go on. (Fewer steps than ever, six, let a squeezed
/// branch fall to another side.)
const ROUGHLY: f64 = 1e-3;

/// Relative error of the radius that counts where the halved elements could not be solved: it may be anything.
const UNKNOWN: f64 = 1.0;

/// What is not fine enough yet.
struct Wanting {
    /// For each strand the elements to cut.
    finer: Vec<Option<Finer>>,
    /// Whether contact is stiffer than what was last solved with.
    stiffened: bool,
}

impl Solved {
    /// Whether any part presses on a strand in a pose.
    fn touches(&self, pose: usize) -> bool {
        let mut measured = self.measured.iter().map(|poses| &poses[pose]);
        measured.any(|m| m.depth > 0.0 || m.stations.iter().any(|s| s.contact > 0.0))
    }

    /// Of some poses those that were found.
    fn converged_in(&self, poses: &[bool]) -> Vec<bool> {
        let converged = self.converged().into_iter();
        converged
            .zip(poses)
            .map(|(found, of)| found && *of)
            .collect()
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
    ///
    /// A few poses tell how fine the elements must be; the others are solved on what those ask for, and looked at in turn.
    pub(super) fn resolve(
        &mut self,
        solved: &mut Solved,
        sweep: &Sweep,
        accuracy: f64,
        scratch: &mut Scratch,
    ) {
        let all = vec![true; sweep.poses.len()];
        let mut rounds = 0..refine::ROUNDS;
        while rounds.next().is_some()
            && !self.halted()
            && let Some(first) = self.wanting(solved, accuracy, &all)
        {
            let mut poses = self.telling(solved, sweep);
            let mut next = Some(first);
            while let Some(Wanting { finer, stiffened }) = next {
                if stiffened {
                    // Each step of the stiffness begins where the one before ended.
                    for (pose, looked_at) in poses.iter_mut().enumerate() {
                        *looked_at |= solved.touches(pose);
                    }
                }
                self.roughly(|rough| rough.cut(solved, &finer, sweep, &poses, scratch));
                let goes_on = rounds.next().is_some() && !self.halted();
                next = if goes_on {
                    self.wanting(solved, accuracy, &poses)
                } else {
                    None
                };
            }
            self.solve_again(solved, sweep, &all, scratch);
        }
        solved.radius_error = vec![0.0; self.pieces.len()];
        let mut looked_at = all.clone();
        for round in 0..=MORE_ROUNDS {
            if self.halted() {
                break;
            }
            let converged = solved.converged_in(&looked_at);
            let mut finer = Vec::new();
            for (i, piece) in self.pieces.iter().enumerate() {
                let (halved, counts) =
                    self.change_on_halving(i, solved, sweep, &converged, scratch);
                let (strand, measured) = (&solved.strands[i], &solved.measured[i]);
                let local = refine::error(strand, &converged, measured);
                solved.radius_error[i] = halved.max(local);
                let enough = counts <= accuracy || round == MORE_ROUNDS;
                let all = || refine::all_finer(strand, piece.branch.diameter);
                finer.push(if enough { None } else { all() });
            }
            if finer.iter().all(Option::is_none) {
                break;
            }
            if round == 0 {
                looked_at = self.telling(solved, sweep);
            }
            self.cut(solved, &finer, sweep, &looked_at, scratch);
        }
        if looked_at != all {
            self.solve_again(solved, sweep, &all, scratch);
            let converged = solved.converged();
            for (i, error) in solved.radius_error.iter_mut().enumerate() {
                let (strand, measured) = (&solved.strands[i], &solved.measured[i]);
                *error = error.max(refine::error(strand, &converged, measured));
            }
        }
    }

    /// Does what only tells how to go on, or is begun from: no nearer to equilibrium than that needs.
    fn roughly(&mut self, work: impl FnOnce(&mut Self)) {
        let stops: Vec<Stop> = self.pieces.iter().map(|piece| piece.stop).collect();
        for piece in &mut self.pieces {
            piece.stop = Stop {
                residual: ROUGHLY.max(piece.stop.residual),
                prove: false,
                ..piece.stop
            };
        }
        self.rough = true;
        work(self);
        self.rough = false;
        for (piece, stop) in self.pieces.iter_mut().zip(stops) {
            piece.stop = stop;
        }
    }

    /// Which elements are to be cut, told by some of the poses; stiffens contact where they sink in too deep. `None` where all
    /// is fine enough.
    fn wanting(&mut self, solved: &Solved, accuracy: f64, poses: &[bool]) -> Option<Wanting> {
        let converged = solved.converged_in(poses);
        let mut stiffened = false;
        let mut finer = Vec::new();
        let meant: Vec<f64> = (0..self.pieces.len())
            .map(|i| self.least_meant(i))
            .collect();
        for (i, piece) in self.pieces.iter_mut().enumerate() {
            let (strand, measured) = (&solved.strands[i], &solved.measured[i]);
            let deepest = measured.iter().zip(poses).filter(|(_, looked)| **looked);
            let deepest = deepest.map(|(m, _)| m.depth).fold(0.0, f64::max);
            if deepest >= DEEPEST && piece.contact < LAST_CONTACT {
                piece.contact = (piece.contact * STIFFER).min(LAST_CONTACT);
                stiffened = true;
            }
            let diameter = piece.branch.diameter;
            let cut = refine::finer(strand, &converged, measured, accuracy, diameter, meant[i]);
            finer.push(cut);
        }
        let wanting = stiffened || finer.iter().any(Option::is_some);
        wanting.then_some(Wanting { finer, stiffened })
    }

    /// The poses that tell how fine the elements must be: rest, those in which a span is tightest or least resolved, and
    /// those in which a strand is pressed deepest into a part.
    fn telling(&self, solved: &Solved, sweep: &Sweep) -> Vec<bool> {
        let converged = solved.converged();
        let mut telling = vec![false; sweep.poses.len()];
        telling[sweep.rest] = true;
        for (strand, measured) in solved.strands.iter().zip(&solved.measured) {
            for pose in refine::telling_poses(strand, &converged, measured) {
                telling[pose] = true;
            }
            let depth = |pose: &usize| measured[*pose].depth;
            let deepest = (0..measured.len()).max_by(|a, b| depth(a).total_cmp(&depth(b)));
            if let Some(deepest) = deepest.filter(|pose| depth(pose) > 0.0) {
                telling[deepest] = true;
            }
        }
        telling
    }

    /// Finer elements, and some poses again on them; what is known of the others is carried over to them.
    fn cut(
        &mut self,
        solved: &mut Solved,
        finer: &[Option<Finer>],
        sweep: &Sweep,
        poses: &[bool],
        scratch: &mut Scratch,
    ) {
        for reached in &mut solved.reached {
            for (i, finer) in finer.iter().enumerate() {
                if let Some(finer) = finer {
                    let state = &reached.whole.strands[i];
                    reached.whole.strands[i] = finer.prolong(&solved.strands[i], state);
                }
            }
        }
        for (strand, finer) in solved.strands.iter_mut().zip(finer) {
            if let Some(finer) = finer {
                *strand = finer.strand(strand);
            }
        }
        self.solve_again(solved, sweep, poses, scratch);
    }

    /// Some poses, rest among them, again from where they lie.
    fn solve_again(
        &mut self,
        solved: &mut Solved,
        sweep: &Sweep,
        poses: &[bool],
        scratch: &mut Scratch,
    ) {
        let some: Vec<usize> = (0..poses.len()).filter(|&pose| poses[pose]).collect();
        let part = Sweep {
            poses: some.iter().map(|&pose| sweep.poses[pose].clone()).collect(),
            rest: some.partition_point(|&pose| pose < sweep.rest),
            walk: Vec::new(),
        };
        let seeds = some.iter().map(|&pose| solved.reached[pose].whole.clone());
        let patient = !scratch.patience.is_lost();
        let tried = |&pose: &usize| if patient { solved.tried[pose] } else { TRIES };
        let tried: Vec<u32> = some.iter().map(tried).collect();
        let again = self.again(&mut solved.strands, &part, seeds.collect(), &tried, scratch);
        for (&pose, new) in some.iter().zip(&again) {
            let tried = &mut solved.tried[pose];
            *tried = match (new.converged, self.rough) {
                (true, _) => 0,
                (false, true) => *tried,
                (false, false) => *tried + 1,
            };
        }
        solved.steps += again.iter().map(|r| r.steps).sum::<usize>();
        let measured = self.measure(&solved.strands, &part.poses, &again);
        for (all, new) in solved.measured.iter_mut().zip(measured) {
            for (&pose, new) in some.iter().zip(new) {
                all[pose] = new;
            }
        }
        for (&pose, new) in some.iter().zip(again) {
            let jump = solved.reached[pose].jump;
            solved.reached[pose] = Reached { jump, ..new };
        }
    }

    /// By how much the tightest curvature of a span of strand `i` changes, relative to it, when every element is halved:
    /// solved again, with its ends where they are, for the pose in which each span is tightest. The local estimate of
    /// [`refine`] does not see errors that gather along a span and show at one clamp. Gives also what of it counts.
    fn change_on_halving(
        &self,
        i: usize,
        solved: &Solved,
        sweep: &Sweep,
        converged: &[bool],
        scratch: &mut Scratch,
    ) -> (f64, f64) {
        let (piece, strand, measured) = (&self.pieces[i], &solved.strands[i], &solved.measured[i]);
        let Some(finer) = refine::all_finer(strand, piece.branch.diameter) else {
            return (0.0, 0.0);
        };
        let fine = finer.strand(strand);
        let (mut worst, mut counts) = (0.0_f64, 0.0_f64);
        for (pose, spans) in refine::tightest_poses(strand, converged, measured) {
            let whole = &solved.reached[pose].whole;
            let state = finer.prolong(strand, &whole.strands[i]);
            let stance = self.stance(&sweep.poses[pose].joints, whole);
            let target = piece.target(&stance);
            let (state, outcome) = piece.relax(&fine, state, (&target, &stance), false, scratch);
            if !(outcome.converged && outcome.stable) {
                return (UNKNOWN, UNKNOWN);
            }
            let halved = piece.measure_one(&fine, &stance, &state);
            for span in spans {
                let coarse = measured[pose].spans[span].curvature;
                let change = refine::change(coarse, halved.spans[span].curvature);
                worst = worst.max(change);
                let less = refine::beyond_meaning(coarse, self.least_meant(i));
                counts = counts.max(change / less);
            }
        }
        (worst, counts)
    }
}
