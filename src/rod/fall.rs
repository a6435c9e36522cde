//! A cluster that is far from balance: downhill in the energy of all its strands together.

use std::ops::Range;

use nalgebra::{DVector, Vector3};

use crate::machine::Stance;

use super::balance::NEUTRAL;
use super::cluster::{Cluster, Whole};
use super::newton::{Outcome, Scratch};
use super::strand::Strand;
use super::walk::Reached;

/// Most steps downhill.
const DOWNHILL: usize = 40;

impl Cluster<'_> {
    /// Energy of all strands \[J\].
    fn energy(&self, strands: &[Strand], whole: &Whole, stance: &Stance) -> f64 {
        let each = self.pieces.iter().zip(strands).zip(&whole.strands);
        each.map(|((piece, strand), state)| piece.energy(strand, state, stance))
            .sum()
    }

    /// Every strand to a minimum with the breakouts and lengths where they are; whether all were found.
    fn settle_strands(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        joints: &[f64],
        scratch: &mut Scratch,
    ) -> Outcome {
        let stance = self.stance(joints, whole);
        let mut sum = Outcome::NONE;
        for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
            let target = piece.target(&stance);
            let state = whole.strands[i].clone();
            let (state, outcome) = piece.relax(strand, state, (&target, &stance), false, scratch);
            whole.strands[i] = state;
            sum.add(&outcome);
        }
        sum
    }

    /// Downhill to equilibrium.
    pub(super) fn downhill(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        joints: &[f64],
        scratch: &mut Scratch,
    ) -> Outcome {
        if self.stands_alone() {
            let stance = self.stance(joints, whole);
            let mut sum = Outcome::NONE;
            for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
                let target = piece.target(&stance);
                let room = piece.room(strand, false);
                let state = &mut whole.strands[i];
                let outcome = piece.downhill(strand, state, (&target, &stance), room, scratch);
                sum.add(&outcome);
            }
            return sum;
        }
        self.fall(strands, whole, joints, 0..2, scratch)
    }

    /// The same for strands that hang together: so many attempts, each but the first after a push off a saddle.
    pub(super) fn fall(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        joints: &[f64],
        attempts: Range<u32>,
        scratch: &mut Scratch,
    ) -> Outcome {
        let mut steps = 0;
        let mut outcome = Outcome::FAILED;
        for attempt in attempts {
            if attempt > 0 {
                self.nudge(whole, attempt);
            }
            steps += self.settle_strands(strands, whole, joints, scratch).steps;
            steps += self.descend(strands, whole, joints, scratch);
            outcome = self.equilibrium(strands, whole, joints, scratch);
            steps += outcome.steps;
            if outcome.converged && outcome.stable {
                break;
            }
        }
        Outcome { steps, ..outcome }
    }

    /// Pushes the breakouts off a saddle, in directions that belong to the machine.
    fn nudge(&self, whole: &mut Whole, attempt: u32) {
        let by = 0.01 * self.scale * f64::from(attempt);
        let [a, b, c] = self.route.axes();
        // A shift is mirrored with the machine, and so is what turns one of its directions into the next.
        let directions = [a, b, c, b.cross(&c), c.cross(&a), a.cross(&b)];
        let of_one = |row: usize| {
            let mut way = [Vector3::zeros(); 2];
            for component in self.components(row) {
                // Not the same in any two directions.
                let size = f64::from(u32::try_from(component + row).unwrap_or(0) % 7 + 1) / 7.0;
                let side = if component % 2 == 0 { size } else { -size };
                way[component / 3] += directions[component] * (by * side);
            }
            let components = self.components(row);
            DVector::from_iterator(components.len(), components.map(|c| way[c / 3][c % 3]))
        };
        let step: Vec<DVector<f64>> = (0..self.floats.len()).map(of_one).collect();
        self.step(whole, &step, 1.0);
    }

    /// Damped Newton steps that lower the energy, until little is left; gives the number of steps inside the strands.
    fn descend(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        joints: &[f64],
        scratch: &mut Scratch,
    ) -> usize {
        let unit = self.neutral(strands) / NEUTRAL;
        let (mut shift, mut steps) = (0.0, 0);
        for _ in 0..DOWNHILL {
            if scratch.patience.is_lost() {
                return steps;
            }
            let stance = self.stance(joints, whole);
            let contacts = self.contacts(strands, whole, &stance);
            let balance = self.balance(strands, whole, &stance, &contacts, scratch);
            steps += self.pieces.len();
            if balance.left < 1e-4 || !balance.left.is_finite() {
                return steps;
            }
            let energy = self.energy(strands, whole, &stance);
            let mut lower = None;
            for _ in 0..12 {
                if scratch.patience.is_lost() {
                    return steps;
                }
                let descent = balance.assembly.descent(shift, 0.0);
                if descent.negative > 0 {
                    shift = f64::max(4.0 * shift, unit);
                    continue;
                }
                let slope: f64 = balance
                    .assembly
                    .gradient
                    .iter()
                    .zip(&descent.step)
                    .map(|(g, s)| g.dot(s))
                    .sum();
                let part = self.room(strands, whole, &descent.step);
                let mut trial = whole.clone();
                self.step(&mut trial, &descent.step, part);
                let settled = self.settle_strands(strands, &mut trial, joints, scratch);
                steps += settled.steps;
                let now = self.energy(strands, &trial, &self.stance(joints, &trial));
                // Whether or not every strand came to rest there: the energy of the whole is lower.
                if now <= energy + 1e-4 * part * slope {
                    shift = if shift < unit { 0.0 } else { 0.1 * shift };
                    lower = Some(trial);
                    break;
                }
                shift = f64::max(8.0 * shift, unit);
            }
            match lower {
                Some(lower) => *whole = lower,
                None => return steps,
            }
        }
        steps
    }

    /// Straight to equilibrium; what is not found there stays where it is.
    pub(super) fn relax_straight(
        &self,
        strands: &[Strand],
        mut whole: Whole,
        joints: &[f64],
        scratch: &mut Scratch,
    ) -> Reached {
        self.pin(joints, &mut whole);
        let seed = whole.clone();
        self.count_from_here(&mut whole);
        let outcome = self.equilibrium(strands, &mut whole, joints, scratch);
        let found = outcome.converged && whole.is_finite();
        Reached::from(if found { whole } else { seed }, outcome)
    }

    /// Counts the twist of each strand from where that is safe.
    pub(super) fn count_from_here(&self, whole: &mut Whole) {
        for (piece, state) in self.pieces.iter().zip(&mut whole.strands) {
            state.pole = piece.pole(&state.nodes, Some(state.pole));
        }
    }

    /// One solve with everything tried: straight to equilibrium, unless that was tried before, else downhill.
    pub(super) fn relax(
        &self,
        strands: &[Strand],
        mut whole: Whole,
        joints: &[f64],
        straight: bool,
        scratch: &mut Scratch,
    ) -> Reached {
        self.pin(joints, &mut whole);
        self.count_from_here(&mut whole);
        let (mut steps, mut outcome) = (0, Outcome::FAILED);
        let mut start = whole.clone();
        let seed = whole.clone();
        if straight {
            outcome = self.equilibrium(strands, &mut whole, joints, scratch);
            steps += outcome.steps;
        }
        if self.rough && !outcome.converged {
            return Reached::from(seed, outcome);
        }
        let stays = self.near_only && !self.stands_alone() && whole.is_finite();
        if !(stays || outcome.converged && outcome.stable) {
            if !outcome.converged {
                std::mem::swap(&mut whole, &mut start);
            }
            outcome = self.downhill(strands, &mut whole, joints, scratch);
            steps += outcome.steps;
            if !whole.is_finite() {
                // What is not a number tells nothing: where it began stands for it, and that nothing was found.
                (whole, outcome) = (seed, Outcome::FAILED);
            }
        }
        Reached {
            steps,
            ..Reached::from(whole, outcome)
        }
    }
}
