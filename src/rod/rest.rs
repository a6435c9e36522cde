//! Rest: where the walk begins, and what untwisted means.

use nalgebra::Vector3;

use crate::machine::{Stance, Sweep};

use super::cluster::{Cluster, Whole};
use super::newton::{Outcome, Scratch, Stop};
use super::piece::Piece;
use super::strand::{State, Strand};
use super::twist;
use super::walk::Reached;

/// How often breakouts may fall to another equilibrium while rest is looked for.
const FALLS: usize = 2;

impl Cluster<'_> {
    /// Rest from the smooth paths: each strand with the breakouts where they are drawn, then all together.
    pub(super) fn rest(
        &mut self,
        strands: &mut [Strand],
        sweep: &Sweep,
        scratch: &mut Scratch,
    ) -> Reached {
        let joints = &sweep.poses[sweep.rest].joints;
        let drawn = self.route.machine.stance(joints);
        let mut whole = Whole {
            strands: Vec::new(),
            floats: self
                .floats
                .iter()
                .map(|float| drawn.bodies[float.body.0])
                .collect(),
            slid: vec![0.0; self.slides.len()],
        };
        self.pin(joints, &mut whole);
        let stance = self.stance(joints, &whole);
        let mut sum = Outcome::NONE;
        for (piece, strand) in self.pieces.iter_mut().zip(strands.iter_mut()) {
            let guess = piece.guess(strand, &stance);
            let mut rest = piece.rest(strand, guess.clone(), &stance, true, scratch);
            if !piece.is_free(strand, &stance, &rest) {
                rest = piece.freed(strand, guess, rest, &stance, scratch);
            }
            sum.add(&rest.1);
            whole.strands.push(rest.0);
        }
        if self.stands_alone() {
            return Reached::from(whole, sum);
        }
        self.share_length(&mut whole);
        self.hang(strands, whole, sweep, true, scratch)
            .after(sum.steps)
    }

    /// Rest from a state close to it.
    pub(super) fn rest_again(
        &mut self,
        strands: &mut [Strand],
        mut whole: Whole,
        sweep: &Sweep,
        scratch: &mut Scratch,
    ) -> Reached {
        let joints = &sweep.poses[sweep.rest].joints;
        self.pin(joints, &mut whole);
        if let Some(&tangent) = self.tangents.get(sweep.rest)
            && let Some(rest) = self.follow_rest(strands, &whole, joints, tangent, scratch)
        {
            return rest;
        }
        if !self.stands_alone() {
            return self.hang(strands, whole, sweep, false, scratch);
        }
        let stance = self.stance(joints, &whole);
        let mut sum = Outcome::NONE;
        for (i, (piece, strand)) in self.pieces.iter_mut().zip(strands.iter_mut()).enumerate() {
            let seed = whole.strands[i].clone();
            let rest = piece.rest(strand, seed, &stance, false, scratch);
            sum.add(&rest.1);
            whole.strands[i] = rest.0;
        }
        Reached::from(whole, sum)
    }

    /// Strands that hang together: an equilibrium that carries no twist, stable with the twist that the fixings then hold.
    fn hang(
        &mut self,
        strands: &mut [Strand],
        mut whole: Whole,
        sweep: &Sweep,
        from_afar: bool,
        scratch: &mut Scratch,
    ) -> Reached {
        let joints = &sweep.poses[sweep.rest].joints;
        let stop = self.pieces.first().map_or(Stop::FINE, |piece| piece.stop);
        let mut steps = 0;
        let mut best = Reached::from(whole.clone(), Outcome::FAILED);
        for fall in 0..FALLS {
            let held: Vec<Option<f64>> = strands.iter_mut().map(|s| s.compliance.take()).collect();
            for state in &mut whole.strands {
                (state.moment, state.angle) = (0.0, 0.0);
            }
            let mut flat = whole.clone();
            // Full steps from afar wander, and rounding decides where they end; downhill is one way.
            let mut outcome = if from_afar {
                self.fall(strands, &mut flat, joints, 0..1, scratch)
            } else {
                self.equilibrium(strands, &mut flat, joints, scratch)
            };
            steps += outcome.steps;
            if self.near_only && !outcome.converged && flat.is_finite() {
                for (strand, held) in strands.iter_mut().zip(held) {
                    strand.compliance = held;
                }
                return Reached::from(flat, outcome).after(steps - outcome.steps);
            }
            // A planar tree may be kept in its plane by its twist alone; one that falls even so lies where it falls to
            // without any.
            if !outcome.converged || (fall > 0 && !outcome.stable) {
                if !outcome.converged && !from_afar {
                    flat.clone_from(&whole);
                }
                let attempts = u32::from(from_afar)..2;
                outcome = self.fall(strands, &mut flat, joints, attempts, scratch);
                steps += outcome.steps;
            }
            for (strand, held) in strands.iter_mut().zip(held) {
                strand.compliance = held;
            }
            let stance = self.stance(joints, &flat);
            for (i, piece) in self.pieces.iter_mut().enumerate() {
                piece.untwist(&strands[i], &mut flat.strands[i], &stance);
            }
            let prove = Stop {
                prove: true,
                ..stop
            };
            let outcome = self.equilibrium_to(strands, &mut flat, joints, &prove, scratch);
            steps += outcome.steps;
            best = Reached {
                steps,
                ..Reached::from(flat, outcome)
            };
            if best.converged || self.near_only || fall + 1 == FALLS {
                break;
            }
            // What would fall from here falls first; the twist that it then carries is let go again.
            whole = best.whole.clone();
            let fallen = self.downhill(strands, &mut whole, joints, scratch);
            steps += fallen.steps;
        }
        best
    }
}

impl Piece<'_> {
    /// Rest: an equilibrium that carries no twist, stable with the twist that the fixings then hold. The
    /// directors at the ends become those that make it so.
    pub(super) fn rest(
        &mut self,
        strand: &mut Strand,
        mut seed: State,
        stance: &Stance,
        from_afar: bool,
        scratch: &mut Scratch,
    ) -> (State, Outcome) {
        let mut steps = 0;
        if from_afar || strand.compliance.is_none() {
            self.untwist(strand, &mut seed, stance);
            let there = (&self.target(stance), stance);
            let (near, outcome) = self.relax(strand, seed, there, from_afar, scratch);
            if strand.compliance.is_none() {
                return (near, outcome);
            }
            steps = outcome.steps;
            seed = near;
        }
        // An equilibrium without twist that the twist then stabilises will do (a planar loop that would roll out of
        // its plane if it could); failing that, a minimum even without the twist.
        let mut best = None;
        for free in [false, true] {
            let compliance = strand.compliance.take();
            let mut flat = seed.clone();
            (flat.moment, flat.angle) = (0.0, 0.0);
            let target = self.target(stance);
            let there = (&target, stance);
            let outcome = if free {
                let (relaxed, outcome) = self.relax(strand, flat, there, true, scratch);
                flat = relaxed;
                outcome
            } else {
                self.equilibrium(strand, &mut flat, there, &self.stop, scratch)
            };
            strand.compliance = compliance;
            steps += outcome.steps;
            if !free && !outcome.converged {
                continue;
            }
            let mut state = flat;
            self.untwist(strand, &mut state, stance);
            let target = self.target(stance);
            let prove = Stop {
                prove: true,
                ..self.stop
            };
            let outcome = self.equilibrium(strand, &mut state, (&target, stance), &prove, scratch);
            steps += outcome.steps;
            let rest = (state, Outcome { steps, ..outcome });
            if outcome.converged && outcome.stable {
                return rest;
            }
            best = Some(rest);
        }
        best.unwrap_or((seed, Outcome::FAILED))
    }

    /// Sets the directors so that this state carries no twist.
    pub(super) fn untwist(&mut self, strand: &Strand, state: &mut State, stance: &Stance) {
        state.moment = 0.0;
        state.angle = 0.0;
        if strand.compliance.is_none() {
            return;
        }
        let mut target = self.target(stance);
        let ends = (0, strand.fixings.len() - 1);
        let across = |end: usize| {
            let held = target.holds[end]
                .facing
                .map_or_else(|| state.nodes[strand.fixings[end]].t, |f| f.into_inner());
            twist::any_across(&held)
        };
        target.directors = (across(ends.0), across(ends.1));
        let end = strand.untwisted_end(state, &target);
        let back = |lay: usize, d: &Vector3<f64>| {
            stance.bodies[self.branch.lay[lay].fixing.on.0].inverse() * d
        };
        self.directors = (
            back(self.first, &target.directors.0),
            back(self.first + ends.1, &end),
        );
    }
}
