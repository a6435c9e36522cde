//! From a solution to what a small displacement makes of it.
//!
//! The first step is the tangent of the solution (`tangent.rs`), unless parts press in other places than there: what came or
//! went of them the tangent does not know. From where it leads Newton's method goes on, of the strand alone or of all
//! that hangs together. Where that does not lead there soon the cluster is not followed, and is looked for like any other.

use crate::machine::Stance;

use super::cluster::{Cluster, Whole};
use super::contact::Contacts;
use super::near::REACH;
use super::newton::{self, Outcome, Scratch, Stop};
use super::response::{Follows, asks};
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
    steps: 8,
    ..Stop::NEAR
};

/// A strand that stands alone takes so many.
const ALONE: usize = 14;

/// Forces at the breakouts balance well enough where no more than this fraction of the greatest is left over.
const LEFT: f64 = 1e-4;

/// Where no more force than this many EI/L² is left the search goes on from there, else from where it began.
const HANDED_ON: f64 = 1.0;

/// A cluster that was not followed.
#[derive(Debug)]
pub(super) struct Unfollowed {
    /// Where to look for an equilibrium from.
    pub(super) from: Whole,
    /// Whether it may lie straight on from there.
    pub(super) straight: bool,
}

impl From<Whole> for Unfollowed {
    fn from(from: Whole) -> Self {
        let straight = true;
        Self { from, straight }
    }
}

/// What the tangent gave.
enum First {
    /// Everything is where it is to be.
    Stays(f64),
    /// A step, or none where it could not be taken.
    Stepped(usize),
    /// More than the breakouts may go at once.
    TooFar,
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
    ) -> Result<Reached, Unfollowed> {
        let mut whole = start.clone();
        self.pin(joints, &mut whole);
        let stance = self.stance(joints, &whole);
        // No part stands on what floats.
        let contacts = self.contacts_like(strands, &whole, &stance, tangent);
        let outcome = if self.stands_alone() {
            let there = (&stance, contacts.as_slice());
            self.follow_alone(strands, &mut whole, there, tangent, scratch)
        } else {
            let there = (joints, contacts.as_slice());
            self.follow_together(strands, &mut whole, there, tangent, scratch)
        };
        if !outcome.converged {
            let near = outcome.residual < HANDED_ON && whole.is_finite();
            return Err(Unfollowed {
                from: if near { whole } else { start.clone() },
                // A strand that stands alone would only go the same way once more.
                straight: near || !self.stands_alone(),
            });
        }
        if !outcome.stable {
            return Err(Unfollowed {
                from: start.clone(),
                straight: !self.stands_alone(),
            });
        }
        self.followed(strands, start, tangent, (whole, outcome))
    }

    /// Strands that hang together with nothing.
    fn follow_alone(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        (stance, contacts): (&Stance, &[Option<Contacts<'_>>]),
        tangent: &Tangent,
        scratch: &mut Scratch,
    ) -> Outcome {
        let mut sum = Outcome::NONE;
        for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
            let (target, near) = (piece.target(stance), contacts[i].as_ref());
            let (state, held) = (&mut whole.strands[i], &tangent.strands[i]);
            let look = newton::look(strand, state, &target, near, &FOLLOWED, scratch);
            if look.settled {
                sum.residual = sum.residual.max(look.residual);
                continue;
            }
            let by_tangent = held.is_pressed_like(&scratch.pushed);
            if by_tangent {
                let moment = held.step(strand, state, look.gap, scratch);
                step::apply_from(strand, &held.at, state, &scratch.step, moment);
                sum.steps += 1;
            }
            let stop = Stop {
                steps: ALONE - usize::from(by_tangent),
                ..FOLLOWED
            };
            let outcome = newton::newton(strand, state, &target, near, &stop, scratch);
            sum.add(&outcome);
        }
        sum
    }

    /// Strands, breakouts and lengths together.
    fn follow_together(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        (joints, contacts): (&[f64], &[Option<Contacts<'_>>]),
        tangent: &Tangent,
        scratch: &mut Scratch,
    ) -> Outcome {
        let stance = self.stance(joints, whole);
        let there = (&stance, contacts);
        let taken = match self.first_together(strands, whole, there, tangent, scratch) {
            First::Stays(residual) => {
                return Outcome {
                    residual,
                    ..Outcome::NONE
                };
            }
            First::TooFar => return Outcome::FAILED,
            First::Stepped(steps) => steps,
        };
        let stop = Stop {
            steps: FOLLOWED.steps - taken,
            ..FOLLOWED
        };
        let near = Some(contacts);
        let outcome = self.at_once(strands, whole, (joints, near), (&stop, LEFT), scratch);
        Outcome {
            steps: outcome.steps + taken * strands.len(),
            ..outcome
        }
    }

    /// The step that the tangent gives of strands, breakouts and lengths.
    fn first_together(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        (stance, contacts): (&Stance, &[Option<Contacts<'_>>]),
        tangent: &Tangent,
        scratch: &mut Scratch,
    ) -> First {
        let (mut settled, mut residual) = (true, 0.0_f64);
        let (mut polish, mut asked) = (Vec::new(), Vec::new());
        for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
            let (target, near) = (piece.target(stance), contacts[i].as_ref());
            let laid = strand.laid(&whole.strands[i].slid.clone()).into_owned();
            let (state, held) = (&mut whole.strands[i], &tangent.strands[i]);
            let look = newton::look(&laid, state, &target, near, &FOLLOWED, scratch);
            settled &= look.settled;
            residual = residual.max(look.residual);
            if !held.is_pressed_like(&scratch.pushed) {
                return First::Stepped(0);
            }
            let moment = held.step(&laid, state, look.gap, scratch);
            let nodes = scratch.step.clone();
            let mut moved = state.clone();
            step::apply_from(&laid, &held.at, &mut moved, &nodes, moment);
            asked.push(asks(strand, &moved, near));
            polish.push(Follows { nodes, moment });
        }
        let mut assembly = tangent.assembly.clone();
        assembly.forget_gradient();
        let left = self.gradient(strands, &asked, &mut assembly);
        if settled && left < LEFT {
            return First::Stays(residual);
        }
        let step = assembly.descent(0.0, self.neutral(strands)).step;
        if self.room(strands, whole, &step) < 1.0 {
            return First::TooFar;
        }
        self.step(whole, &step, 1.0);
        for (i, mut sum) in polish.into_iter().enumerate() {
            let follows = tangent.follows.get(i).into_iter().flatten();
            for (way, follows) in self.ways(i).into_iter().zip(follows) {
                let (row, column) = self.column(way);
                sum.add(follows, step[row][column]);
            }
            let state = &mut whole.strands[i];
            let laid = strands[i].laid(&state.slid.clone()).into_owned();
            let at = &tangent.strands[i].at;
            step::apply_from(&laid, at, state, &sum.nodes, sum.moment);
        }
        First::Stepped(1)
    }

    /// The equilibrium that was followed to, if it is not beyond where parts were looked for.
    fn followed(
        &self,
        strands: &[Strand],
        start: &Whole,
        tangent: &Tangent,
        (mut whole, outcome): (Whole, Outcome),
    ) -> Result<Reached, Unfollowed> {
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
            return Err(start.clone().into());
        }
        for (strand, state) in strands.iter().zip(&mut whole.strands) {
            let compliance = strand.laid(&state.slid).compliance;
            state.angle = state.moment * compliance.unwrap_or(0.0);
        }
        Ok(Reached::from(whole, outcome))
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
