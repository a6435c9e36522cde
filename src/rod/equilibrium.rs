//! From a state to equilibrium of all that hangs together: near by with everything at once, else one after the other.

use nalgebra::DVector;

use super::assembly::Assembly;
use super::balance::Balance;
use super::cluster::{Cluster, Whole};
use super::contact::Contacts;
use super::newton::{self, Outcome, Scratch, Stop};
use super::strand::Strand;

/// Most Newton steps on the breakouts and lengths.
const STEPS: usize = 14;
/// Forces and moments balance where less than this fraction of the residual allowed inside a strand is left, of the
/// greatest that meet.
const FINER: f64 = 0.005;
/// Where a step moves nothing by more than this fraction of the scale, what is left is rounding (of taut strands, whose
/// tension is the difference of two lengths times EA): each more step may leave so many times more.
const STILL: f64 = 1e-10;
const NOISIER: f64 = 3.0;
/// Responses serve again where what is left fell below this fraction by the last step.
const FAST: f64 = 0.03;
/// Where more force than this many EI/L² is left after one step and still after the next, all at once strays.
const FAR: f64 = 1e3;
/// A step that some strand cannot follow is made shorter by this factor, until this part of it is left.
const SHORTER: f64 = 0.4;
const SHORTEST: f64 = 0.05;

/// A step taken, or a part of it.
struct Taken {
    from: Whole,
    step: Vec<DVector<f64>>,
    part: f64,
}

impl Cluster<'_> {
    /// Straight to equilibrium.
    pub(super) fn equilibrium(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        joints: &[f64],
        scratch: &mut Scratch,
    ) -> Outcome {
        let stop = self.pieces.first().map_or(Stop::FINE, |piece| piece.stop);
        self.equilibrium_to(strands, whole, joints, &stop, scratch)
    }

    /// Everything at once; where that does not lead there, one by one.
    pub(super) fn equilibrium_to(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        joints: &[f64],
        stop: &Stop,
        scratch: &mut Scratch,
    ) -> Outcome {
        let mut steps = 0;
        if !self.stands_alone() {
            let start = whole.clone();
            let exact = (stop, FINER * stop.residual);
            let outcome = self.at_once(strands, whole, (joints, None), exact, scratch);
            if outcome.converged {
                return outcome;
            }
            steps = outcome.steps;
            *whole = start;
        }
        let outcome = self.one_by_one(strands, whole, joints, stop, scratch);
        Outcome {
            steps: steps + outcome.steps,
            ..outcome
        }
    }

    /// Every strand to equilibrium where the breakouts and lengths are, then a step of those, and so on: from afar this
    /// stays nearer to where it begins.
    fn one_by_one(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        joints: &[f64],
        stop: &Stop,
        scratch: &mut Scratch,
    ) -> Outcome {
        let mut sum = Outcome {
            converged: false,
            ..Outcome::NONE
        };
        // The last responses, and the state and step that they were taken from.
        let mut known: Option<Balance> = None;
        let mut listed: Vec<Option<Contacts<'_>>> = Vec::new();
        let mut last: Option<Taken> = None;
        for _ in 0..STEPS {
            if scratch.patience.is_done() {
                break;
            }
            let stance = self.stance(joints, whole);
            sum.residual = 0.0;
            let alone = Stop {
                prove: stop.prove && self.stands_alone(),
                ..*stop
            };
            let mut converged = true;
            for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
                let target = piece.target(&stance);
                let state = &mut whole.strands[i];
                let outcome = piece.equilibrium(strand, state, (&target, &stance), &alone, scratch);
                sum.steps += outcome.steps;
                sum.residual = sum.residual.max(outcome.residual);
                sum.stable &= outcome.stable;
                converged &= outcome.converged;
                if !converged {
                    break;
                }
            }
            // A strand that cannot follow the whole step may follow a shorter one.
            if !converged
                && let Some(taken) = &mut last
                && taken.part > SHORTEST
            {
                taken.part *= SHORTER;
                whole.clone_from(&taken.from);
                self.step(whole, &taken.step, taken.part);
                sum.stable = true;
                continue;
            }
            if !converged || self.stands_alone() {
                sum.converged = converged;
                return sum;
            }
            // No part stands on what floats.
            if !self.are_listed(strands, whole, &listed) {
                listed = self.contacts(strands, whole, &stance);
            }
            // The responses of the step before serve again while they lead on fast.
            if let (Some(known), Some(taken)) = (&mut known, &last)
                && taken.part >= 1.0
            {
                let before = known.left;
                known.left = self.imbalance(strands, whole, &listed, &mut known.assembly);
                if known.left < FINER * stop.residual {
                    sum.converged = true;
                    return sum;
                }
                if known.left < FAST * before {
                    let step = known.assembly.descent(0.0, self.neutral(strands)).step;
                    let from = whole.clone();
                    self.step(whole, &step, 1.0);
                    let part = 1.0;
                    last = Some(Taken { from, step, part });
                    continue;
                }
            } else if !stop.prove {
                let mut assembly = Assembly::new(&self.sizes());
                let left = self.imbalance(strands, whole, &listed, &mut assembly);
                if left < FINER * stop.residual {
                    sum.converged = true;
                    return sum;
                }
            }
            let balance = self.balance(strands, whole, &stance, &listed, scratch);
            sum.steps += self.pieces.len();
            let descent = balance.assembly.descent(0.0, self.neutral(strands));
            sum.stable = balance.stable && descent.negative == 0;
            if balance.left < FINER * stop.residual {
                sum.converged = true;
                return sum;
            }
            if !balance.left.is_finite() {
                return sum;
            }
            let part = self.room(strands, whole, &descent.step);
            let (from, step) = (whole.clone(), descent.step);
            self.step(whole, &step, part);
            last = Some(Taken { from, step, part });
            known = Some(balance);
        }
        sum
    }

    /// Newton's method on everything at once: breakouts, lengths and strands take each step together, so that no strand has
    /// to be stretched to where its breakout is not yet. What each may press on is listed where it
    /// is not known; forces at the breakouts balance where no more than the fraction `allowed` of the greatest is left over.
    pub(super) fn at_once(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        (joints, near): (&[f64], Option<&[Option<Contacts<'_>>]>),
        (stop, mut allowed): (&Stop, f64),
        scratch: &mut Scratch,
    ) -> Outcome {
        let mut sum = Outcome {
            converged: false,
            ..Outcome::NONE
        };
        let mut known_stable = !stop.prove;
        // The last step, its responses, and what was left before it.
        let mut last: Option<(Taken, Balance, f64)> = None;
        let mut left_steps = stop.steps;
        let mut stands_still = false;
        let mut rough_before = false;
        let mut listed: Vec<Option<Contacts<'_>>> = Vec::new();
        loop {
            let stance = self.stance(joints, whole);
            // No part stands on what floats.
            if near.is_none() && !self.are_listed(strands, whole, &listed) {
                listed = self.contacts(strands, whole, &stance);
            }
            let contacts = near.unwrap_or(&listed);
            let (mut settled, mut rough) = (true, true);
            sum.residual = 0.0;
            for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
                let target = piece.target(&stance);
                let state = &mut whole.strands[i];
                let laid = strand.laid(&state.slid.clone()).into_owned();
                let contacts = contacts[i].as_ref();
                let look = newton::look(&laid, state, &target, contacts, stop, scratch);
                settled &= look.settled;
                rough &= look.rough;
                // `f64::max` would lose what is not a number.
                if !look.residual.is_finite() {
                    return sum;
                }
                sum.residual = sum.residual.max(look.residual);
            }
            settled |= rough && rough_before;
            rough_before = rough;
            if let Some((taken, balance, before)) = &mut last
                && sum.residual > newton::WILD * before.max(1.0)
                && taken.part > SHORTEST
            {
                taken.part *= SHORTER;
                whole.clone_from(&taken.from);
                self.step_all(strands, whole, balance, &taken.step, taken.part);
                continue;
            }
            if settled {
                let mut assembly = Assembly::new(&self.sizes());
                let left = self.imbalance(strands, whole, contacts, &mut assembly);
                settled = left < allowed;
                if stands_still {
                    allowed *= NOISIER;
                }
            }
            if settled && known_stable {
                sum.converged = true;
                break;
            }
            let strays = sum.residual > FAR && last.as_ref().is_some_and(|last| last.2 > FAR);
            if left_steps == 0 || strays || stop.halt.asked() || scratch.patience.is_done() {
                return sum;
            }
            left_steps -= 1;
            let balance = self.balance(strands, whole, &stance, contacts, scratch);
            sum.steps += self.pieces.len();
            let descent = balance.assembly.descent(0.0, self.neutral(strands));
            sum.stable = balance.stable && descent.negative == 0;
            if settled {
                // The state was an equilibrium already; the factorisation only told whether it is a minimum.
                sum.converged = true;
                break;
            }
            if !balance.left.is_finite() {
                return sum;
            }
            known_stable = true;
            let longest = descent.step.iter().map(DVector::norm).fold(0.0, f64::max);
            stands_still = longest < STILL * self.scale;
            let part = self.room(strands, whole, &descent.step);
            let (from, step) = (whole.clone(), descent.step);
            self.step_all(strands, whole, &balance, &step, part);
            last = Some((Taken { from, step, part }, balance, sum.residual));
        }
        for (strand, state) in strands.iter().zip(&mut whole.strands) {
            let compliance = strand.laid(&state.slid).compliance;
            state.angle = state.moment * compliance.unwrap_or(0.0);
        }
        sum
    }
}
