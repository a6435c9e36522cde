//! Balance at the breakouts and at the holes that the harness slides through.
//!
//! For given places of the breakouts and given lengths let through, every strand is a problem of its own, and what it
//! asks of its ends follows (`response`). The breakouts and lengths are then found by Newton's method on the energy that
//! is left: its gradient is the sum of the forces and moments at each breakout and the difference of the pulls at each
//! hole, its second derivative the sum of the strands' responses. That is the whole equilibrium at once, the strands'
//! own unknowns eliminated first; by Haynsworth's inertia additivity it is a minimum exactly where every strand and this
//! remainder are.
//!
//! The pull at a hole is less the derivative of the energy by the length let through. For a string that is the tension.
//! For a rod held in direction by the hole it holds the bending energy too: the force of a sliding sleeve on a bent rod
//! (Bigoni, Dal Corso, Bosi, Misseroni, "Eshelby-like forces acting on elastic structures: theoretical and experimental
//! proof", Mechanics of Materials 80, 2015, 368–374; from memory).

use nalgebra::{DVector, Vector3};

use crate::machine::Stance;

use super::assembly::Assembly;
use super::cluster::{Cluster, Whole};
use super::contact::Contacts;
use super::newton::Scratch;
use super::response::{Asks, Change, Follows, asks, response};
use super::step;
use super::strand::Strand;
use super::ways::Way;

/// A difference of this fraction of the cluster's scale stands for a derivative.
const DIFFERENCE: f64 = 3e-8;
/// A pivot within this fraction of EI/L³ of zero belongs to a motion that costs nothing.
pub(super) const NEUTRAL: f64 = 0.01;

/// The energy's derivatives by the breakouts and lengths, and how well they balance.
pub(super) struct Balance {
    pub(super) assembly: Assembly,
    /// The Newton step of each strand by itself.
    polish: Vec<Follows>,
    /// For each strand, how it follows each of the ways that it feels, a unit of it.
    pub(super) follows: Vec<Vec<Follows>>,
    /// Whether each strand alone is at a minimum.
    pub(super) stable: bool,
    /// The greatest of what is left over, relative to the greatest that meet there.
    pub(super) left: f64,
}

impl Cluster<'_> {
    /// Puts together how the strands respond, each after a Newton step of its own.
    pub(super) fn balance(
        &self,
        strands: &[Strand],
        whole: &Whole,
        stance: &Stance,
        contacts: &[Option<Contacts<'_>>],
        scratch: &mut Scratch,
    ) -> Balance {
        let mut assembly = Assembly::new(&self.sizes());
        let mut stable = true;
        let (mut asked, mut follows, mut polish) = (Vec::new(), Vec::new(), Vec::new());
        let step = DIFFERENCE * self.scale;
        for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
            let ways = self.ways(i);
            let changes: Vec<Change> = ways
                .iter()
                .map(|&way| self.change(i, whole, stance, way, step))
                .collect();
            let target = piece.target(stance);
            let state = &whole.strands[i];
            let contacts = contacts[i].as_ref();
            let answer = response(strand, state, &target, contacts, &changes, scratch);
            let places = scratch.pushed.len();
            scratch.patience.step(strand.elements(), places);
            stable &= answer.stable;
            for (way, (changed, _)) in ways.iter().zip(&answer.changed) {
                for row in &ways {
                    let before = self.component(i, &answer.asks, *row);
                    let after = self.component(i, changed, *row);
                    assembly.add(
                        self.column(*row),
                        self.column(*way),
                        (after - before) / step,
                    );
                }
            }
            asked.push(answer.asks);
            polish.push(answer.polish);
            let unit = |(_, small): (Asks, Follows)| small.times(1.0 / step);
            follows.push(answer.changed.into_iter().map(unit).collect());
        }
        let left = self.gradient(strands, &asked, &mut assembly);
        Balance {
            assembly,
            polish,
            follows,
            stable,
            left,
        }
    }

    /// Takes a part of a step, every strand with its own Newton step and as it follows the others to first order.
    pub(super) fn step_all(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        balance: &Balance,
        step: &[DVector<f64>],
        part: f64,
    ) {
        self.step(whole, step, part);
        for (i, follows) in balance.follows.iter().enumerate() {
            let state = &mut whole.strands[i];
            let mut sum = Follows::still(state.nodes.len());
            sum.add(&balance.polish[i], part);
            for (way, follows) in self.ways(i).into_iter().zip(follows) {
                let (row, column) = self.column(way);
                sum.add(follows, part * step[row][column]);
            }
            let laid = strands[i].laid(&state.slid.clone()).into_owned();
            step::apply(&laid, state, &sum.nodes, sum.moment);
        }
    }

    /// What each strand may press on where it lies.
    pub(super) fn contacts<'c>(
        &'c self,
        strands: &[Strand],
        whole: &Whole,
        stance: &Stance,
    ) -> Vec<Option<Contacts<'c>>> {
        let each = self.pieces.iter().zip(strands).zip(&whole.strands);
        each.map(|((piece, strand), state)| {
            let laid = strand.laid(&state.slid);
            piece.contacts_around(&laid, state, stance, super::near::REACH)
        })
        .collect()
    }

    /// Whether all strands lie where these contacts were listed for, with the same length in each span: fixings that sit in
    /// parts are where they are along it.
    pub(super) fn are_listed(
        &self,
        strands: &[Strand],
        whole: &Whole,
        contacts: &[Option<Contacts<'_>>],
    ) -> bool {
        let mut each = strands.iter().zip(&whole.strands).zip(contacts);
        contacts.len() == strands.len()
            && each.all(|((strand, state), contacts)| {
                let laid = strand.laid(&state.slid);
                let mut contacts = contacts.iter();
                contacts.all(|c| {
                    let elements = laid.each(state).map(|(_, element)| element);
                    state.slid.is_empty() && c.reach_to(elements)
                })
            })
    }

    fn change(&self, i: usize, whole: &Whole, stance: &Stance, way: Way, by: f64) -> Change {
        let piece = &self.pieces[i];
        let mut slid = whole.strands[i].slid.clone();
        if let Some(slide) = way
            .row
            .checked_sub(self.floats.len())
            .map(|s| &self.slides[s])
        {
            for at in slide.at.iter().filter(|at| at.0 == i) {
                slid[at.1] += by;
            }
            return Change {
                target: piece.target(stance),
                slid,
            };
        }
        let mut moved = stance.clone();
        let body = self.floats[way.row].body.0;
        moved.bodies[body] = self.moved(&whole.floats[way.row], way, by);
        Change {
            target: piece.target(&moved),
            slid,
        }
    }

    /// Sums what all strands ask; gives the greatest of what is left over, relative to the greatest that meet.
    pub(super) fn gradient(
        &self,
        strands: &[Strand],
        asked: &[Asks],
        assembly: &mut Assembly,
    ) -> f64 {
        let rows = self.floats.len() + self.slides.len();
        // Below these, forces and moments are rounding.
        let (force, moment) = self.rounding(strands);
        let mut greatest = vec![(force, moment); rows];
        let mut sums = vec![(Vector3::zeros(), Vector3::zeros()); rows];
        for (i, asks) in asked.iter().enumerate() {
            for (float, hold) in self.ends(i).into_iter().zip(&asks.holds) {
                let Some(float) = float else { continue };
                sums[float].0 += hold.force;
                sums[float].1 += hold.moment;
                greatest[float].0 = greatest[float].0.max(hold.force.norm());
                greatest[float].1 = greatest[float].1.max(hold.moment.norm());
            }
            for way in self.ways(i) {
                let (row, column) = self.column(way);
                assembly.gradient[row][column] += self.component(i, asks, way);
            }
        }
        let mut left = 0.0_f64;
        for (float, (sum, greatest)) in sums
            .iter()
            .zip(&greatest)
            .take(self.floats.len())
            .enumerate()
        {
            if self.floats[float].carrier.is_none() {
                left = left.max(sum.0.norm() / greatest.0);
            }
            left = left.max(sum.1.norm() / greatest.1);
        }
        for (s, slide) in self.slides.iter().enumerate() {
            let sum = assembly.gradient[self.floats.len() + s][0];
            let most = slide
                .at
                .iter()
                .map(|&(i, fixing)| asked[i].pulls[fixing].abs())
                .fold(force, f64::max);
            // Where both spans are in one strand, only their difference is known.
            left = left.max(
                sum.abs()
                    / if slide.at.len() > 1 {
                        most
                    } else {
                        100.0 * force
                    },
            );
        }
        if left.is_finite() { left } else { f64::NAN }
    }

    /// Forces and moments that are as good as nothing in this cluster \[N, N m\].
    fn rounding(&self, strands: &[Strand]) -> (f64, f64) {
        let least = |power: i32| {
            strands
                .iter()
                .map(|s| s.material.bend / s.length().powi(power))
                .fold(f64::INFINITY, f64::min)
        };
        (1e-4 * least(2), 1e-4 * least(1))
    }

    /// What is left over at the breakouts and holes, into the gradient of `assembly`, without the responses.
    pub(super) fn imbalance(
        &self,
        strands: &[Strand],
        whole: &Whole,
        contacts: &[Option<Contacts<'_>>],
        assembly: &mut Assembly,
    ) -> f64 {
        let each = strands.iter().zip(&whole.strands).zip(contacts);
        let asked: Vec<Asks> = each
            .map(|((strand, state), contacts)| asks(strand, state, contacts.as_ref()))
            .collect();
        assembly.forget_gradient();
        self.gradient(strands, &asked, assembly)
    }

    pub(super) fn neutral(&self, strands: &[Strand]) -> f64 {
        let least = strands
            .iter()
            .map(|s| s.material.bend / s.length().powi(3))
            .fold(f64::INFINITY, f64::min);
        NEUTRAL * least
    }
}
