//! A strand caught in a part: its guess ran through one, and rest was found with the part's two sides holding it. A part that has
//! no inside (a scan of points, a sheet) never lets go of such a strand by itself.

use std::cmp::Ordering;

use nalgebra::{Point3, UnitQuaternion, UnitVector3};

use crate::geometry::Eased;
use crate::machine::{PartId, Stance};

use super::contact::{OPPOSITE, PLACES, shape};
use super::descend::bulge;
use super::element::combine;
use super::near::REACH;
use super::newton::{Outcome, Scratch};
use super::piece::Piece;
use super::strand::{State, Strand};
use super::twist::across;

/// Contact grows from this stiffness \[N/m²\] by this factor, so that the strand is pushed out to one side as a whole.
const SOFT_CONTACT: f64 = 2e3;
const HARDER: f64 = 10.0;

/// By how many diameters a guess is led aside, to so many sides.
const ASIDE: [f64; 5] = [1.0, 2.0, 4.0, 8.0, 16.0];
const SIDES: u32 = 12;

impl Piece<'_> {
    /// Whether rest was found, with no kink and through no part.
    pub(super) fn is_free(
        &self,
        strand: &Strand,
        stance: &Stance,
        (state, outcome): &(State, Outcome),
    ) -> bool {
        let measured = self.measure_one(strand, stance, state);
        let radius = 0.5 * self.branch.diameter;
        let tightest = measured
            .spans
            .iter()
            .map(|s| s.curvature)
            .fold(0.0, f64::max);
        let found = outcome.converged && outcome.stable;
        found && tightest * radius < 1.0 && self.through(strand, state, stance).is_empty()
    }

    /// The elements whose middle line is in a part, or on one side of its surface here and on the other at the place before,
    /// each with that part.
    pub(super) fn through(
        &self,
        strand: &Strand,
        state: &State,
        stance: &Stance,
    ) -> Vec<(usize, PartId)> {
        let Some(contacts) = self.contacts_around(strand, state, stance, REACH) else {
            return Vec::new();
        };
        let mut through = Vec::new();
        let mut before: Vec<(PartId, Eased)> = Vec::new();
        for (j, element) in strand.each(state) {
            for xi in PLACES {
                let p = Point3::from(combine(&shape(element.h, xi), &element.q));
                let (at, reach) = (
                    strand.at[j] + xi * element.h,
                    contacts.radius.max(0.25 * element.h),
                );
                let here: Vec<(PartId, Eased)> = contacts.touches_at(j, at, &p, reach).collect();
                through.extend(here.iter().filter_map(|(part, touch)| {
                    let mut same = before.iter().filter(|(other, _)| other == part);
                    let crosses = touch.distance < 0.0
                        || same.any(|(_, other)| other.gradient.dot(&touch.gradient) < OPPOSITE);
                    crosses.then_some((j, *part))
                }));
                before = here;
            }
        }
        through
    }

    /// Rest from a guess that runs through parts: with the parts soft at first, and from a guess that is led past them. `hard`
    /// is what was found with the parts hard at once; what is free and lies lowest is taken.
    pub(super) fn freed(
        &mut self,
        strand: &mut Strand,
        guess: State,
        hard: (State, Outcome),
        stance: &Stance,
        scratch: &mut Scratch,
    ) -> (State, Outcome) {
        let past = self.led_past(strand, &guess, stance);
        let soft = self.rest_through_soft_parts(strand, guess, stance, scratch);
        let better = self.better(strand, [hard, soft], stance, scratch);
        let Some(past) = past else { return better };
        let past = self.rest(strand, past, stance, true, scratch);
        self.better(strand, [better, past], stance, scratch)
    }

    /// The one of two that was found, the one that is free where the other is not, else the one that lies lower; the strand is
    /// left as that was found.
    fn better(
        &mut self,
        strand: &mut Strand,
        [first, second]: [(State, Outcome); 2],
        stance: &Stance,
        scratch: &mut Scratch,
    ) -> (State, Outcome) {
        let found = |rest: &(State, Outcome)| rest.1.converged && rest.1.stable;
        let free = |rest: &(State, Outcome)| self.is_free(strand, stance, rest);
        let lies_at = |rest: &(State, Outcome)| self.energy(strand, &rest.0, stance);
        let order = found(&second)
            .cmp(&found(&first))
            .then(free(&second).cmp(&free(&first)))
            .then(lies_at(&first).total_cmp(&lies_at(&second)));
        if found(&first) && order == Ordering::Less {
            return self.rest(strand, first.0, stance, false, scratch);
        }
        second
    }

    fn rest_through_soft_parts(
        &mut self,
        strand: &mut Strand,
        mut state: State,
        stance: &Stance,
        scratch: &mut Scratch,
    ) -> (State, Outcome) {
        let full = self.contact;
        self.contact = SOFT_CONTACT;
        while self.contact < full && self.touches(strand, &state, stance) {
            state = self.rest(strand, state, stance, true, scratch).0;
            self.contact *= HARDER;
        }
        self.contact = full;
        self.rest(strand, state, stance, true, scratch)
    }

    /// The guess led aside where it touches parts, so that it touches none: on the way that needs least more length than the
    /// strand has, of those that need none on the nearest, of those that are as near on the one where it lies lowest.
    fn led_past(&self, strand: &Strand, guess: &State, stance: &Stance) -> Option<State> {
        let touching = self.touching_spans(strand, guess, stance);
        if touching.is_empty() {
            return None;
        }
        let ways = ASIDE
            .into_iter()
            .flat_map(|far| (0..SIDES).map(move |side| (far, side)));
        let free = ways.filter_map(|(far, side)| {
            let mut state = guess.clone();
            for &span in &touching {
                let ends = (strand.fixings[span], strand.fixings[span + 1]);
                let chord = state.nodes[ends.1].r - state.nodes[ends.0].r;
                let along = UnitVector3::try_new(chord, 0.0)?;
                let turn = std::f64::consts::TAU * f64::from(side) / f64::from(SIDES);
                let side =
                    UnitQuaternion::from_axis_angle(&along, turn) * across(&along, &self.axes);
                bulge(strand, &mut state, ends, &side, far * self.branch.diameter);
            }
            state.pole = self.pole(&state.nodes, None);
            let free = self.touching_spans(strand, &state, stance).is_empty();
            let lies_at = free.then(|| self.energy(strand, &state, stance))?;
            Some(([lacking(strand, &state), far, lies_at], state))
        });
        let order = |a: &[f64; 3], b: &[f64; 3]| {
            let each = a.iter().zip(b).map(|(a, b)| a.total_cmp(b));
            each.fold(Ordering::Equal, Ordering::then)
        };
        free.min_by(|a, b| order(&a.0, &b.0))
            .map(|(_, state)| state)
    }

    /// Whether any part presses on the strand.
    fn touches(&self, strand: &Strand, state: &State, stance: &Stance) -> bool {
        !self.touching_spans(strand, state, stance).is_empty()
    }

    /// The spans on which any part presses.
    fn touching_spans(&self, strand: &Strand, state: &State, stance: &Stance) -> Vec<usize> {
        let Some(contacts) = self.contacts_around(strand, state, stance, REACH) else {
            return Vec::new();
        };
        let touched: Vec<usize> = strand
            .each(state)
            .filter(|(j, element)| {
                contacts.touches(*j) && contacts.energy(*j, strand.at[*j], element) > 0.0
            })
            .map(|(j, _)| j)
            .collect();
        let spans = strand.fixings.windows(2).enumerate();
        spans
            .filter(|(_, ends)| touched.iter().any(|j| (ends[0]..ends[1]).contains(j)))
            .map(|(span, _)| span)
            .collect()
    }
}

/// How much longer a state is than the strand \[m\], from node to node.
fn lacking(strand: &Strand, state: &State) -> f64 {
    let nodes = state
        .nodes
        .windows(2)
        .map(|pair| (pair[1].r - pair[0].r).norm());
    (nodes.sum::<f64>() - strand.length()).max(0.0)
}
