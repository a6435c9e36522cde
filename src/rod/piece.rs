//! One strand on its machine: how it is cut into elements, where its fixings are, and one solve in one pose.

use nalgebra::Vector3;

use crate::harness::Branch;
use crate::machine::{Stance, Surroundings, Sweep};
use crate::route::{Route, Span};

use super::contact::{Contacts, REACH, Seated};
use super::descend::settle;
use super::element::Material;
use super::guess::guess;
use super::measure::{Measured, measure};
use super::newton::{Outcome, Scratch, Stop, newton};
use super::solution::BranchSolution;
use super::strand::{HeldAt, State, Strand, Target};
use super::walk::{Reached, farthest, walk};
use super::{Settings, refine, twist};

/// Acceleration of free fall \[m/s²\].
const GRAVITY: f64 = 9.80665;

/// Most times the parts nearby are listed for one solve.
const LISTINGS: usize = 3;

/// A strand with all that it needs to know of its branch and machine.
pub(super) struct Piece<'r> {
    pub(super) route: &'r Route,
    pub(super) branch: &'r Branch,
    /// Index in the lay of the strand's first fixing.
    pub(super) first: usize,
    pub(super) fixings: usize,
    pub(super) surroundings: &'r Surroundings<'r>,
    pub(super) seated: &'r [Seated],
    pub(super) contact: f64,
    /// When an equilibrium is good enough.
    pub(super) stop: Stop,
    /// Directors at the ends as drawn, riding on the bodies of the end fixings.
    pub(super) directors: (Vector3<f64>, Vector3<f64>),
}

impl<'r> Piece<'r> {
    /// Where the fixings and the bodies are when the joints have these values.
    pub(super) fn at(&self, joints: &[f64]) -> (Target, Stance) {
        let stance = self.route.machine.stance(joints);
        (self.target(&stance), stance)
    }

    pub(super) fn target(&self, stance: &Stance) -> Target {
        let holds = (self.first..self.first + self.fixings)
            .map(|lay| HeldAt {
                position: self.route.fixing_position(self.branch, lay, stance).coords,
                facing: self.route.fixing_facing(self.branch, lay, stance),
            })
            .collect();
        let turn =
            |lay: usize, d: &Vector3<f64>| stance.bodies[self.branch.lay[lay].fixing.on.0] * d;
        let last = self.first + self.fixings - 1;
        Target {
            holds,
            directors: (
                turn(self.first, &self.directors.0),
                turn(last, &self.directors.1),
            ),
        }
    }
}

/// A strand in every pose.
pub(super) struct Solved {
    pub(super) strand: Strand,
    pub(super) reached: Vec<Reached>,
    pub(super) measured: Vec<Measured>,
    pub(super) radius_error: f64,
    /// Contact stiffness in the end \[N/m²\].
    pub(super) contact: f64,
    pub(super) steps: usize,
}

impl<'r> Piece<'r> {
    /// Solves the strand in every pose: from the smooth path, or from a solution close by.
    pub(super) fn solve(
        mut self,
        spans: &[Span],
        sweep: &Sweep,
        near: Option<&BranchSolution>,
        settings: &Settings,
    ) -> Solved {
        let mut scratch = Scratch::default();
        let mut strand = self.strand(spans, near, settings);
        let reached = match near {
            Some(near) => {
                let shapes = near.shapes.iter();
                let seeds = shapes
                    .map(|shape| self.seed(&strand, near, shape))
                    .collect();
                self.again(&mut strand, sweep, seeds, &mut scratch)
            }
            None => self.first(&mut strand, sweep, settings.accuracy, &mut scratch),
        };
        let measured = self.measure(&strand, sweep, &reached);
        let mut solved = Solved {
            radius_error: refine::error(&strand, &reached, &measured),
            contact: self.contact,
            steps: reached.iter().map(|r| r.steps).sum(),
            strand,
            reached,
            measured,
        };
        if near.is_none() {
            self.resolve(&mut solved, sweep, settings.accuracy, &mut scratch);
            solved.contact = self.contact;
        }
        solved
    }

    /// Cuts the spans into elements: as the solved neighbour is cut, or evenly.
    pub(super) fn strand(
        &self,
        spans: &[Span],
        near: Option<&BranchSolution>,
        settings: &Settings,
    ) -> Strand {
        let mut at = vec![spans[0].start];
        let mut fixings = vec![0];
        for (i, span) in spans.iter().enumerate() {
            let old = near.map(|near| (&near.spans[self.first + i], near.shapes[0].curve.knots()));
            if let Some((old, knots)) = old {
                let inside = knots
                    .iter()
                    .map(|k| k.at)
                    .filter(|at| *at > old.start + 1e-9 && *at < old.end() - 1e-9);
                at.extend(
                    inside.map(|at| span.start + (at - old.start) / old.length * span.length),
                );
                at.push(span.end());
            } else {
                let fine = if self.route.machine.parts.is_empty() {
                    f64::INFINITY
                } else {
                    2.0 * self.branch.diameter
                };
                let pieces = settings.elements.max(count(span.length / fine));
                at.extend((1..pieces).map(|k| span.start + span.length * ratio(k, pieces)));
                at.push(span.end());
            }
            fixings.push(at.len() - 1);
        }
        let stiffness = self.branch.stiffness;
        let held = |lay: usize| self.branch.lay[lay].fixing.holds_direction();
        let both = held(self.first) && held(self.first + self.fixings - 1);
        let length = at[at.len() - 1] - at[0];
        Strand {
            material: Material {
                bend: stiffness.bend,
                stretch: stiffness.stretch,
                weight: Vector3::new(0.0, 0.0, -stiffness.mass * GRAVITY),
            },
            at,
            fixings,
            compliance: both.then(|| length / stiffness.twist),
        }
    }

    /// Rest from the smooth path, resolved, then the walk.
    fn first(
        &mut self,
        strand: &mut Strand,
        sweep: &Sweep,
        accuracy: f64,
        scratch: &mut Scratch,
    ) -> Vec<Reached> {
        let stance = self.route.machine.stance(&sweep.poses[sweep.rest].joints);
        let (path, knots) = self.route.smooth_path(self.branch, &stance);
        let target = self.target(&stance);
        let knots = &knots[self.first..self.first + self.fixings];
        let state = guess(strand, &path, knots, &target);
        let mut rest = self.rest(strand, state.clone(), sweep, true, scratch);
        if !self.plausible(strand, sweep, &rest) {
            rest = self.rest_through_soft_parts(strand, state, rest, sweep, scratch);
        }
        for _ in 0..refine::ROUNDS {
            let measured = self.measure_one(strand, sweep, sweep.rest, &rest);
            let one = (std::slice::from_ref(&rest), std::slice::from_ref(&measured));
            let Some(finer) = refine::finer(strand, one.0, one.1, accuracy, self.branch.diameter)
            else {
                break;
            };
            let state = finer.prolong(strand, &rest.state);
            *strand = finer.strand(strand);
            rest = self
                .rest(strand, state, sweep, false, scratch)
                .after(rest.steps);
        }
        walk(self, strand, sweep, rest, scratch)
    }

    /// Every pose again from a state close to it.
    pub(super) fn again(
        &mut self,
        strand: &mut Strand,
        sweep: &Sweep,
        seeds: Vec<State>,
        scratch: &mut Scratch,
    ) -> Vec<Reached> {
        let rest = self.rest(strand, seeds[sweep.rest].clone(), sweep, false, scratch);
        let solved = seeds.into_iter().enumerate().map(|(pose, state)| {
            if pose == sweep.rest {
                return rest.clone();
            }
            let (target, stance) = self.at(&sweep.poses[pose].joints);
            self.relax(strand, state, (&target, &stance), false, scratch)
        });
        solved.collect()
    }

    /// Straight to equilibrium. Where the strand moved beyond the parts that were listed as near, they are listed anew
    /// and it is looked at again: a part that nobody looked at is not clear.
    pub(super) fn equilibrium(
        &self,
        strand: &Strand,
        state: &mut State,
        (target, stance): (&Target, &Stance),
        stop: &Stop,
        scratch: &mut Scratch,
    ) -> Outcome {
        let mut steps = 0;
        let mut outcome = Outcome::FAILED;
        for _ in 0..LISTINGS {
            let contacts = self.contacts_around(strand, state, stance, REACH);
            let start = state.nodes.clone();
            outcome = newton(strand, state, target, contacts.as_ref(), stop, scratch);
            steps += outcome.steps;
            let stays = contacts.is_none() || farthest(strand, &start, &state.nodes).0 < REACH;
            // From a saddle far away the next one would be as far: that is for going downhill.
            if stays || !(outcome.converged && outcome.stable) {
                break;
            }
        }
        Outcome { steps, ..outcome }
    }

    /// Downhill to equilibrium; `room` \[m\] is how far the strand may have to go.
    pub(super) fn downhill(
        &self,
        strand: &Strand,
        state: &mut State,
        (target, stance): (&Target, &Stance),
        room: f64,
        scratch: &mut Scratch,
    ) -> Outcome {
        let mut steps = 0;
        let mut outcome = Outcome::FAILED;
        for room in [room, REACH] {
            let contacts = self.contacts_around(strand, state, stance, room);
            let start = state.nodes.clone();
            outcome = settle(
                strand,
                state,
                target,
                contacts.as_ref(),
                &self.stop,
                scratch,
            );
            steps += outcome.steps;
            if contacts.is_none() || farthest(strand, &start, &state.nodes).0 < REACH {
                break;
            }
            outcome = self.equilibrium(strand, state, (target, stance), &self.stop, scratch);
            steps += outcome.steps;
            if outcome.converged && outcome.stable {
                break;
            }
        }
        Outcome { steps, ..outcome }
    }

    /// One solve with everything tried: straight to equilibrium (unless `from_afar`), else downhill.
    pub(super) fn relax(
        &self,
        strand: &Strand,
        mut state: State,
        there: (&Target, &Stance),
        from_afar: bool,
        scratch: &mut Scratch,
    ) -> Reached {
        state.pole = twist::pole(state.nodes.iter().map(|n| n.t), Some(state.pole));
        let length = strand.at[strand.at.len() - 1] - strand.at[0];
        let mut steps = 0;
        let mut outcome = Outcome::FAILED;
        let mut start = state.clone();
        if !from_afar {
            outcome = self.equilibrium(strand, &mut state, there, &self.stop, scratch);
            steps += outcome.steps;
        }
        if !(outcome.converged && outcome.stable) {
            if !outcome.converged {
                std::mem::swap(&mut state, &mut start);
            }
            let room = if from_afar { length.max(REACH) } else { REACH };
            outcome = self.downhill(strand, &mut state, there, room, scratch);
            steps += outcome.steps;
        }
        Reached {
            steps,
            ..Reached::from(state, outcome)
        }
    }

    /// The contacts of a stance with the parts listed that the strand may meet before it has moved by `room` \[m\].
    pub(super) fn contacts_around(
        &self,
        strand: &Strand,
        state: &State,
        stance: &Stance,
        room: f64,
    ) -> Option<Contacts<'r>> {
        if self.route.machine.parts.is_empty() {
            return None;
        }
        let radius = 0.5 * self.branch.diameter;
        let (stance, stiffness) = (stance.clone(), self.contact);
        let mut contacts = Contacts::new(self.surroundings, stance, radius, stiffness, self.seated);
        contacts.look_around(strand.each(state).map(|(_, element)| element), room);
        Some(contacts)
    }

    pub(super) fn measure(
        &self,
        strand: &Strand,
        sweep: &Sweep,
        reached: &[Reached],
    ) -> Vec<Measured> {
        reached
            .iter()
            .enumerate()
            .map(|(pose, reached)| self.measure_one(strand, sweep, pose, reached))
            .collect()
    }

    pub(super) fn measure_one(
        &self,
        strand: &Strand,
        sweep: &Sweep,
        pose: usize,
        reached: &Reached,
    ) -> Measured {
        let stance = self.route.machine.stance(&sweep.poses[pose].joints);
        let contacts = self.contacts_around(strand, &reached.state, &stance, REACH);
        measure(strand, &reached.state, contacts.as_ref())
    }
}

/// Number of pieces of at most unit size; at least one.
fn count(size: f64) -> usize {
    // A span of more than a million diameters does not exist.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 1…1e6"
    )]
    let pieces = size.ceil().clamp(1.0, 1e6) as usize;
    pieces
}

fn ratio(k: usize, of: usize) -> f64 {
    #[allow(clippy::cast_precision_loss, reason = "a few thousand at most")]
    let ratio = k as f64 / of as f64;
    ratio
}
