//! One strand on its machine: how it is cut into elements, where its fixings are, and one solve in one pose.

use std::borrow::Cow;
use std::sync::Arc;

use nalgebra::{UnitVector3, Vector3};

use crate::harness::{Branch, BranchId};
use crate::machine::{Stance, Surroundings};
use crate::route::{Route, Span};

use super::Settings;
use super::contact::{Contacts, Seated};
use super::descend::settle;
use super::element::{Material, Node};
use super::guess::guess;
use super::held::{HeldAt, Target};
use super::measure::{Measured, measure};
use super::near::{Lists, REACH};
use super::newton::{Outcome, Scratch, Stop, newton};
use super::solution::{BranchSolution, Solution};
use super::strand::{State, Strand};
use super::twist;
use super::walk::displaced;

/// Acceleration of free fall \[m/s²\].
const GRAVITY: f64 = 9.80665;

/// Most elements that a span is cut into before it is known where they are needed: no span of a motorcycle is longer than so
/// many times two diameters, and one that is, for a mistyped number, is not worth minutes.
const MOST_AT_FIRST: usize = 400;

/// Most times the parts nearby are listed for one solve.
const LISTINGS: usize = 3;

/// A strand with all that it needs to know of its branch and machine.
pub(super) struct Piece<'r> {
    pub(super) route: &'r Route,
    pub(super) branch: &'r Branch,
    pub(super) id: BranchId,
    /// Index in the lay of the strand's first fixing.
    pub(super) first: usize,
    pub(super) fixings: usize,
    pub(super) surroundings: &'r Surroundings<'r>,
    pub(super) seated: &'r [Seated],
    pub(super) contact: f64,
    /// The machine's own directions: [`Route::axes`].
    pub(super) axes: [Vector3<f64>; 3],
    /// When an equilibrium is good enough.
    pub(super) stop: Stop,
    /// Directors at the ends as drawn, riding on the bodies of the end fixings.
    pub(super) directors: (Vector3<f64>, Vector3<f64>),
}

impl<'r> Piece<'r> {
    /// Its branch in a solution.
    pub(super) fn of<'s>(&self, solution: &'s Solution) -> &'s BranchSolution {
        &solution.branches[self.id.0]
    }

    /// How far the strand may have to go \[m\].
    pub(super) fn room(&self, strand: &Strand, from_afar: bool) -> f64 {
        if from_afar {
            strand.length().max(REACH)
        } else {
            REACH
        }
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

impl<'r> Piece<'r> {
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
            if let Some(near) = near {
                let lay = self.first + i;
                let shape = &near.shapes[0];
                let start = near.spans[lay].start + shape.slid_at(lay);
                let end = near.spans[lay].end() + shape.slid_at(lay + 1);
                let knots = shape.curve.knots().iter().map(|k| k.at);
                let inside = knots.filter(|at| *at > start + 1e-9 && *at < end - 1e-9);
                at.extend(inside.map(|at| span.start + (at - start) / (end - start) * span.length));
            } else {
                let fine = if self.route.machine.parts.is_empty() {
                    f64::INFINITY
                } else {
                    2.0 * self.branch.diameter
                };
                let pieces = settings
                    .elements
                    .max(count(span.length / fine).min(MOST_AT_FIRST));
                at.extend((1..pieces).map(|k| span.start + span.length * ratio(k, pieces)));
            }
            at.push(span.end());
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

    /// The state on the smooth path at rest.
    pub(super) fn guess(&self, strand: &Strand, stance: &Stance) -> State {
        let (path, knots) = self.route.smooth_path(self.branch, stance);
        let knots = &knots[self.first..self.first + self.fixings];
        let mut state = guess(strand, &path, knots, &self.target(stance), &self.axes);
        state.pole = self.pole(&state.nodes, None);
        state
    }

    /// From where the twist of a curve through these nodes is counted.
    pub(super) fn pole(
        &self,
        nodes: &[Node],
        current: Option<UnitVector3<f64>>,
    ) -> UnitVector3<f64> {
        twist::pole(nodes.iter().map(|node| node.t), current, &self.axes)
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
        let strand = &*strand.laid(&state.slid);
        let mut steps = 0;
        let mut outcome = Outcome::FAILED;
        for _ in 0..LISTINGS {
            let contacts = self.contacts_around(strand, state, stance, REACH);
            let start = state.nodes.clone();
            outcome = newton(strand, state, target, contacts.as_ref(), stop, scratch);
            steps += outcome.steps;
            let stays = contacts.is_none() || displaced(strand, &start, &state.nodes).0 < REACH;
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
        let strand = &*strand.laid(&state.slid);
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
                (&self.stop, &self.axes),
                scratch,
            );
            steps += outcome.steps;
            if contacts.is_none() || displaced(strand, &start, &state.nodes).0 < REACH {
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
    ) -> (State, Outcome) {
        state.pole = self.pole(&state.nodes, Some(state.pole));
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
            let room = self.room(strand, from_afar);
            outcome = self.downhill(strand, &mut state, there, room, scratch);
            steps += outcome.steps;
        }
        (state, Outcome { steps, ..outcome })
    }

    /// Energy of the strand \[J\].
    pub(super) fn energy(&self, strand: &Strand, state: &State, stance: &Stance) -> f64 {
        let strand = strand.laid(&state.slid);
        let contacts = self.contacts_around(&strand, state, stance, REACH);
        strand.energy(state, &self.target(stance), contacts.as_ref())
    }

    /// The contacts of a stance with the parts listed that the strand may meet before it has moved by `room` \[m\].
    pub(super) fn contacts_around(
        &self,
        strand: &Strand,
        state: &State,
        stance: &Stance,
        room: f64,
    ) -> Option<Contacts<'r>> {
        let mut contacts = self.contacts_unlisted(state, stance)?;
        contacts.look_around(strand.each(state).map(|(_, element)| element), room);
        Some(contacts)
    }

    /// The same with the parts that were listed before, and how far they have moved at most since: with the strand's own way
    /// less than [`REACH`].
    pub(super) fn contacts_listed(
        &self,
        strand: &Strand,
        state: &State,
        stance: &Stance,
        lists: Option<(Arc<Lists>, f64)>,
    ) -> Option<Contacts<'r>> {
        let Some((lists, shifted)) = lists else {
            return self.contacts_around(strand, state, stance, REACH);
        };
        let mut contacts = self.contacts_unlisted(state, stance)?;
        contacts.take(lists, shifted);
        Some(contacts)
    }

    fn contacts_unlisted(&self, state: &State, stance: &Stance) -> Option<Contacts<'r>> {
        if self.route.machine.parts.is_empty() {
            return None;
        }
        let radius = 0.5 * self.branch.diameter;
        let (stance, stiffness) = (stance.clone(), self.contact);
        let seated = self.seated_at(state);
        Some(Contacts::new(
            self.surroundings,
            stance,
            radius,
            stiffness,
            seated,
        ))
    }

    /// The fixings that sit on parts, where they are along the branch once it has slid through them.
    fn seated_at(&self, state: &State) -> Cow<'r, [Seated]> {
        if state.slid.is_empty() {
            return Cow::Borrowed(self.seated);
        }
        let slid = |lay: usize| lay.checked_sub(self.first).and_then(|i| state.slid.get(i));
        let moved = self.seated.iter().map(|seated| Seated {
            at: seated.at + slid(seated.lay).copied().unwrap_or(0.0),
            ..*seated
        });
        Cow::Owned(moved.collect())
    }

    pub(super) fn measure_one(&self, strand: &Strand, stance: &Stance, state: &State) -> Measured {
        self.measure_listed(strand, stance, state, None)
    }

    /// The same with the parts that were listed before.
    pub(super) fn measure_listed(
        &self,
        strand: &Strand,
        stance: &Stance,
        state: &State,
        lists: Option<(Arc<Lists>, f64)>,
    ) -> Measured {
        let strand = strand.laid(&state.slid);
        let contacts = self.contacts_listed(&strand, state, stance, lists);
        measure(&strand, state, contacts.as_ref())
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
    number(k) / number(of)
}

pub(super) fn number(k: usize) -> f64 {
    #[allow(clippy::cast_precision_loss, reason = "a few thousand at most")]
    let number = k as f64;
    number
}
