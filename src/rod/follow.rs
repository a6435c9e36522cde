//! From a solution to what a small displacement makes of it.
//!
//! The first step is the tangent of the solution (`tangent.rs`). Each strand is then corrected by Newton steps of its own,
//! while what the breakouts and holes feel of all strands together keeps the stiffness of the solution (a chord, or modified
//! Newton, method: Ortega, Rheinboldt, "Iterative Solution of Nonlinear Equations in Several Variables", 1970, 7.1; from
//! memory). Where that does not lead there soon the cluster is not followed, and is looked for like any other.

use nalgebra::DVector;

use crate::machine::Stance;

use super::cluster::{Cluster, Whole};
use super::contact::Contacts;
use super::near::REACH;
use super::newton::{self, Outcome, Scratch, Stop};
use super::response::{Asks, Follows, asks};
use super::step;
use super::strand::Strand;
use super::tangent::Tangent;
use super::walk::{Reached, displaced};

/// When a strand has followed, and after how many steps it is given up. What is then left is a small part of what a nudge of
/// a tape's tolerance does.
const FOLLOWED: Stop = Stop {
    residual: 1e-3,
    strain_gap: 1e-6,
    place: 1e-8,
    twist: 1e-5,
    steps: 6,
    ..Stop::NEAR
};

/// Forces at the breakouts balance well enough where no more than this fraction of the greatest is left over.
const LEFT: f64 = 1e-4;

/// A step after which far more is left than before ran into a part: it is made shorter by this factor, until this part of it
/// is left.
const SHORTER: f64 = 0.4;
const SHORTEST: f64 = 0.05;

/// Where no more force than this many EI/L² is left the search goes on from there, else from where it began.
const HANDED_ON: f64 = 1.0;

/// How far the strands are from equilibrium, and what leads there.
struct Answers {
    residual: f64,
    settled: bool,
    /// Whether each strand whose matrix was worked out is at a minimum of its energy.
    stable: bool,
    /// The step of each strand by itself.
    polish: Vec<Follows>,
    /// What each asks after that, where strands meet.
    asked: Vec<Asks>,
}

/// A step taken, or a part of it.
struct Taken<'t> {
    from: Whole,
    /// Of the breakouts and lengths.
    step: Vec<DVector<f64>>,
    /// Of the strands.
    follows: Vec<Follows>,
    /// Whose stiffness it was taken with, if not its own.
    tangent: Option<&'t Tangent>,
    /// What was left before it.
    left: f64,
    part: f64,
}

impl Cluster<'_> {
    /// Follows what holds the cluster from a state in which the tangent is known. Where that does not lead to an equilibrium
    /// soon, or leads further than parts were looked for, what comes is where to look for one from.
    pub(super) fn follow(
        &self,
        strands: &[Strand],
        start: &Whole,
        joints: &[f64],
        tangent: &Tangent,
        scratch: &mut Scratch,
    ) -> Result<Reached, Whole> {
        let mut whole = start.clone();
        self.pin(joints, &mut whole);
        let mut assembly = tangent.assembly.clone();
        let mut last: Option<Taken<'_>> = None;
        let (mut steps, mut stable) = (0, true);
        // No part stands on what floats.
        let contacts = self.contacts_like(strands, &whole, &self.stance(joints, &whole), tangent);
        loop {
            let stance = self.stance(joints, &whole);
            let there = (&stance, contacts.as_slice());
            let first = (steps == 0).then_some(tangent);
            let Some(mut answers) = self.answers(strands, &mut whole, there, first, scratch) else {
                return Err(start.clone());
            };
            // What the fixings still have to go is not seen in the forces before the first step.
            if steps > 1
                && let Some(taken) = &mut last
                && answers.residual > newton::WILD * taken.left.max(1.0)
            {
                taken.part *= SHORTER;
                if taken.part < SHORTEST {
                    return Err(start.clone());
                }
                whole.clone_from(&taken.from);
                self.advance(strands, &mut whole, taken);
                continue;
            }
            let mut step = Vec::new();
            if !self.stands_alone() {
                assembly.forget_gradient();
                let left = self.gradient(strands, &answers.asked, &mut assembly);
                // Written so that what is not a number is not near.
                answers.settled &= left < LEFT;
                step = assembly.descent(0.0, self.neutral(strands)).step;
            }
            if answers.settled && !stable {
                return Err(start.clone());
            }
            if answers.settled {
                let steps = steps * strands.len();
                let found = (whole, steps, answers.residual);
                return self.followed(strands, start, tangent, found);
            }
            if steps == FOLLOWED.steps || self.room(strands, &whole, &step) < 1.0 {
                let near = answers.residual < HANDED_ON;
                return Err(if near { whole } else { start.clone() });
            }
            let follows = answers.polish.into_iter().enumerate().map(|(i, mut sum)| {
                let follows = tangent.follows.get(i).into_iter().flatten();
                for (way, follows) in self.ways(i).into_iter().zip(follows) {
                    let (row, column) = self.column(way);
                    sum.add(follows, step[row][column]);
                }
                sum
            });
            let taken = Taken {
                from: whole.clone(),
                follows: follows.collect(),
                step,
                tangent: first,
                left: answers.residual,
                part: 1.0,
            };
            self.advance(strands, &mut whole, &taken);
            // As in any other search, the last matrix tells.
            stable = answers.stable;
            last = Some(taken);
            steps += 1;
        }
    }

    /// How far each strand is from equilibrium, and its step there: with the stiffness of `tangent`, or its own. `None` where
    /// that is not a number.
    fn answers(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        (stance, contacts): (&Stance, &[Option<Contacts<'_>>]),
        tangent: Option<&Tangent>,
        scratch: &mut Scratch,
    ) -> Option<Answers> {
        let mut answers = Answers {
            residual: 0.0,
            settled: true,
            stable: true,
            polish: Vec::new(),
            asked: Vec::new(),
        };
        for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
            let target = piece.target(stance);
            let laid = strand.laid(&whole.strands[i].slid.clone()).into_owned();
            let state = &mut whole.strands[i];
            let near = contacts[i].as_ref();
            let look = newton::look(&laid, state, &target, near, &FOLLOWED, scratch);
            if !look.residual.is_finite() {
                return None;
            }
            answers.residual = answers.residual.max(look.residual);
            answers.settled &= look.settled;
            if self.stands_alone() && look.settled {
                continue;
            }
            let held = tangent.map(|tangent| &tangent.strands[i]);
            let moment = if let Some(held) = held {
                held.step(&laid, state, look.gap, scratch)
            } else if look.settled {
                step::stay(&laid, scratch)
            } else {
                laid.stiffness(state, &scratch.pushed, &mut scratch.chain);
                let (stable, moment) = step::solve(&laid, &target, look.gap, scratch);
                answers.stable &= stable;
                moment
            };
            let nodes = scratch.step.clone();
            if !self.stands_alone() {
                let mut moved = state.clone();
                let at = held.map_or(&*state, |held| &held.at);
                step::apply_from(&laid, at, &mut moved, &nodes, moment);
                answers.asked.push(asks(strand, &moved, near));
            }
            answers.polish.push(Follows { nodes, moment });
        }
        Some(answers)
    }

    /// The equilibrium that was followed to, if it is not beyond where parts were looked for.
    fn followed(
        &self,
        strands: &[Strand],
        start: &Whole,
        tangent: &Tangent,
        (mut whole, steps, residual): (Whole, usize, f64),
    ) -> Result<Reached, Whole> {
        // Of parts that are farther off than that nothing listed is used.
        let parts = if self.shifted < REACH {
            self.shifted
        } else {
            0.0
        };
        let beyond = strands.iter().enumerate().any(|(i, strand)| {
            let now = &whole.strands[i].nodes;
            // The parts were listed around the one or the other.
            let from = [&start.strands[i].nodes, &tangent.strands[i].at.nodes];
            from.iter()
                .any(|from| displaced(strand, from, now).0 + parts >= REACH)
        });
        if beyond {
            return Err(start.clone());
        }
        for (strand, state) in strands.iter().zip(&mut whole.strands) {
            let compliance = strand.laid(&state.slid).compliance;
            state.angle = state.moment * compliance.unwrap_or(0.0);
        }
        let outcome = Outcome {
            converged: true,
            stable: true,
            steps,
            residual,
        };
        Ok(Reached::from(whole, outcome))
    }

    /// Takes a step, or a part of it.
    fn advance(&self, strands: &[Strand], whole: &mut Whole, taken: &Taken<'_>) {
        self.step(whole, &taken.step, taken.part);
        for (i, follows) in taken.follows.iter().enumerate() {
            let state = &mut whole.strands[i];
            let mut sum = Follows::still(state.nodes.len());
            sum.add(follows, taken.part);
            let laid = strands[i].laid(&state.slid.clone()).into_owned();
            match taken.tangent {
                Some(tangent) => {
                    let at = &tangent.strands[i].at;
                    step::apply_from(&laid, at, state, &sum.nodes, sum.moment);
                }
                None => step::apply(&laid, state, &sum.nodes, sum.moment),
            }
        }
    }

    /// Rest near by: an equilibrium without twist, which is then what untwisted means.
    pub(super) fn follow_rest(
        &mut self,
        strands: &mut [Strand],
        start: &Whole,
        joints: &[f64],
        tangent: &Tangent,
        scratch: &mut Scratch,
    ) -> Option<Reached> {
        let held: Vec<Option<f64>> = strands.iter_mut().map(|s| s.compliance.take()).collect();
        let mut flat = start.clone();
        for state in &mut flat.strands {
            (state.moment, state.angle) = (0.0, 0.0);
        }
        let found = self.follow(strands, &flat, joints, tangent, scratch);
        for (strand, held) in strands.iter_mut().zip(held) {
            strand.compliance = held;
        }
        let mut rest = found.ok()?;
        let stance = self.stance(joints, &rest.whole);
        for (i, piece) in self.pieces.iter_mut().enumerate() {
            piece.untwist(&strands[i], &mut rest.whole.strands[i], &stance);
        }
        Some(rest)
    }

    /// The contacts of each strand, with the parts that were listed as near where it started.
    fn contacts_like<'c>(
        &'c self,
        strands: &[Strand],
        start: &Whole,
        stance: &Stance,
        tangent: &Tangent,
    ) -> Vec<Option<Contacts<'c>>> {
        let each = self.pieces.iter().zip(strands).enumerate();
        each.map(|(i, (piece, strand))| {
            let state = &start.strands[i];
            let lists = tangent.lists(i, strand, state, self.shifted);
            let lists = lists.zip(Some(self.shifted));
            piece.contacts_listed(&strand.laid(&state.slid), state, stance, lists)
        })
        .collect()
    }
}
