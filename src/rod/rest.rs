//! Rest: where the walk begins, and what untwisted means.

use nalgebra::Vector3;

use crate::machine::{Stance, Sweep};

use super::contact::REACH;
use super::newton::{Outcome, Scratch, Stop};
use super::piece::Piece;
use super::strand::{State, Strand};
use super::twist;
use super::walk::Reached;

/// The first guess may run through parts; contact grows from this stiffness \[N/m²\] by this factor, so that the branch is
/// pushed out to one side as a whole.
const SOFT_CONTACT: f64 = 2e3;
const HARDER: f64 = 10.0;

impl Piece<'_> {
    /// Rest: an equilibrium that carries no twist, stable with the twist that the fixings then hold. The
    /// directors at the ends become those that make it so.
    pub(super) fn rest(
        &mut self,
        strand: &mut Strand,
        mut seed: State,
        sweep: &Sweep,
        from_afar: bool,
        scratch: &mut Scratch,
    ) -> Reached {
        let stance = self.route.machine.stance(&sweep.poses[sweep.rest].joints);
        let mut steps = 0;
        if from_afar || strand.compliance.is_none() {
            self.untwist(strand, &mut seed, &stance);
            let near = self.relax(
                strand,
                seed,
                (&self.target(&stance), &stance),
                from_afar,
                scratch,
            );
            if strand.compliance.is_none() {
                return near;
            }
            steps = near.steps;
            seed = near.state;
        }
        // An equilibrium without twist that the twist then stabilises will do (a planar loop that would roll out of
        // its plane if it could); failing that, a minimum even without the twist.
        let mut best = None;
        for free in [false, true] {
            let compliance = strand.compliance.take();
            let mut flat = seed.clone();
            (flat.moment, flat.angle) = (0.0, 0.0);
            let target = self.target(&stance);
            let flat = if free {
                self.relax(strand, flat, (&target, &stance), true, scratch)
            } else {
                let there = (&target, &stance);
                let outcome = self.equilibrium(strand, &mut flat, there, &self.stop, scratch);
                if !outcome.converged {
                    strand.compliance = compliance;
                    steps += outcome.steps;
                    continue;
                }
                Reached::from(flat, outcome)
            };
            strand.compliance = compliance;
            steps += flat.steps;
            let mut state = flat.state;
            self.untwist(strand, &mut state, &stance);
            let target = self.target(&stance);
            let prove = Stop {
                prove: true,
                ..self.stop
            };
            let outcome = self.equilibrium(strand, &mut state, (&target, &stance), &prove, scratch);
            steps += outcome.steps;
            let rest = Reached {
                steps,
                ..Reached::from(state, outcome)
            };
            if rest.converged {
                return rest;
            }
            best = Some(rest);
        }
        best.unwrap_or_else(|| Reached::from(seed, Outcome::FAILED))
    }

    /// Sets the directors so that this state carries no twist.
    fn untwist(&mut self, strand: &Strand, state: &mut State, stance: &Stance) {
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

    /// Whether rest was found, and without a kink: a guess that runs through a part may end up caught on both of its
    /// sides.
    pub(super) fn plausible(&self, strand: &Strand, sweep: &Sweep, rest: &Reached) -> bool {
        let measured = self.measure_one(strand, sweep, sweep.rest, rest);
        let tightest = measured
            .spans
            .iter()
            .map(|s| s.curvature)
            .fold(0.0, f64::max);
        rest.converged && tightest * 0.5 * self.branch.diameter < 1.0
    }

    /// Rest from a guess that runs through parts, with the parts soft at first; `hard` is what was found with them
    /// hard at once, and stays where it lies lower.
    pub(super) fn rest_through_soft_parts(
        &mut self,
        strand: &mut Strand,
        mut state: State,
        hard: Reached,
        sweep: &Sweep,
        scratch: &mut Scratch,
    ) -> Reached {
        let stance = self.route.machine.stance(&sweep.poses[sweep.rest].joints);
        let full = self.contact;
        self.contact = SOFT_CONTACT;
        while self.contact < full && self.touches(strand, &state, &stance) {
            state = self.rest(strand, state, sweep, true, scratch).state;
            self.contact *= HARDER;
        }
        self.contact = full;
        let soft = self.rest(strand, state, sweep, true, scratch);
        let lies_at = |rest: &Reached| {
            let contacts = self.contacts_around(strand, &rest.state, &stance, REACH);
            strand.energy(&rest.state, &self.target(&stance), contacts.as_ref())
        };
        if hard.converged && (!soft.converged || lies_at(&hard) < lies_at(&soft)) {
            return self.rest(strand, hard.state, sweep, false, scratch);
        }
        soft
    }

    /// Whether any part presses on the strand.
    fn touches(&self, strand: &Strand, state: &State, stance: &Stance) -> bool {
        let contacts = self.contacts_around(strand, state, stance, REACH);
        contacts.is_some_and(|contacts| {
            strand.each(state).any(|(j, element)| {
                contacts.touches(j) && contacts.energy(j, strand.at[j], &element) > 0.0
            })
        })
    }
}
