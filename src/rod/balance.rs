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
use super::newton::{self, Outcome, Scratch, Stop};
use super::response::{Asks, Change, Follows, asks, response};
use super::strand::Strand;
use super::ways::Way;

/// Most Newton steps on the breakouts and lengths.
const STEPS: usize = 14;
/// A difference of this fraction of the cluster's scale stands for a derivative.
const DIFFERENCE: f64 = 3e-8;
/// Forces and moments balance where less than this fraction of the residual allowed inside a strand is left, of the
/// greatest that meet.
const FINER: f64 = 0.005;
/// Where a step moves nothing by more than this fraction of the scale, what is left is rounding (of taut strands, whose
/// tension is the difference of two lengths times EA): each more step may leave so many times more.
const STILL: f64 = 1e-10;
const NOISIER: f64 = 3.0;
/// Responses serve again where what is left fell below this fraction by the last step.
const FAST: f64 = 0.03;
/// A step that some strand cannot follow is made shorter by this factor, until this part of it is left.
const SHORTER: f64 = 0.4;
const SHORTEST: f64 = 0.05;
/// A pivot within this fraction of EI/L³ of zero belongs to a motion that costs nothing.
pub(super) const NEUTRAL: f64 = 0.01;

/// The energy's derivatives by the breakouts and lengths, and how well they balance.
pub(super) struct Balance {
    pub(super) assembly: Assembly,
    /// The Newton step of each strand by itself.
    polish: Vec<Follows>,
    /// For each strand, how it follows each of the ways that it feels, a unit of it.
    follows: Vec<Vec<Follows>>,
    /// Whether each strand alone is at a minimum.
    pub(super) stable: bool,
    /// The greatest of what is left over, relative to the greatest that meet there.
    pub(super) left: f64,
}

/// A step taken, or a part of it.
struct Taken {
    from: Whole,
    step: Vec<DVector<f64>>,
    part: f64,
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
            let unit = |(_, small): (Asks, Follows)| {
                let mut unit = Follows::still(small.nodes.len());
                unit.add(&small, 1.0 / step);
                unit
            };
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
            newton::apply(&laid, state, &sum.nodes, sum.moment);
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
            piece.contacts_around(&laid, state, stance, super::contact::REACH)
        })
        .collect()
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
    fn gradient(&self, strands: &[Strand], asked: &[Asks], assembly: &mut Assembly) -> f64 {
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
            let outcome = self.at_once(strands, whole, joints, stop, scratch);
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
    pub(super) fn one_by_one(
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
        let mut last: Option<Taken> = None;
        for _ in 0..STEPS {
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
            // The responses of the step before serve again while they lead on fast.
            if let (Some(known), Some(taken)) = (&mut known, &last)
                && taken.part >= 1.0
            {
                let before = known.left;
                known.left = self.imbalance(strands, whole, &stance, &mut known.assembly);
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
                let left = self.imbalance(strands, whole, &stance, &mut assembly);
                if left < FINER * stop.residual {
                    sum.converged = true;
                    return sum;
                }
            }
            let contacts = self.contacts(strands, whole, &stance);
            let balance = self.balance(strands, whole, &stance, &contacts, scratch);
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
    /// to be stretched to where its breakout is not yet.
    fn at_once(
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
        let mut known_stable = !stop.prove;
        // The last step, its responses, and what was left before it.
        let mut last: Option<(Taken, Balance, f64)> = None;
        let mut left_steps = stop.steps;
        let (mut allowed, mut stands_still) = (FINER * stop.residual, false);
        loop {
            let stance = self.stance(joints, whole);
            let contacts = self.contacts(strands, whole, &stance);
            let mut settled = true;
            sum.residual = 0.0;
            for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
                let target = piece.target(&stance);
                let state = &mut whole.strands[i];
                let laid = strand.laid(&state.slid.clone()).into_owned();
                let contacts = contacts[i].as_ref();
                let look = newton::look(&laid, state, &target, contacts, stop, scratch);
                settled &= look.settled;
                // `f64::max` would lose what is not a number.
                if !look.residual.is_finite() {
                    return sum;
                }
                sum.residual = sum.residual.max(look.residual);
            }
            if let Some((taken, balance, before)) = &mut last
                && sum.residual > newton::WILD * before.max(1.0)
                && taken.part > SHORTEST
            {
                taken.part *= SHORTER;
                whole.clone_from(&taken.from);
                self.step_all(strands, whole, balance, &taken.step, taken.part);
                continue;
            }
            if left_steps == 0 {
                return sum;
            }
            left_steps -= 1;
            if settled {
                let mut assembly = Assembly::new(&self.sizes());
                let left = self.imbalance(strands, whole, &stance, &mut assembly);
                settled = left < allowed;
                if stands_still {
                    allowed *= NOISIER;
                }
            }
            if settled && known_stable {
                sum.converged = true;
                break;
            }
            let balance = self.balance(strands, whole, &stance, &contacts, scratch);
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

    /// What is left over at the breakouts and holes, into the gradient of `assembly`, without the responses.
    fn imbalance(
        &self,
        strands: &[Strand],
        whole: &Whole,
        stance: &Stance,
        assembly: &mut Assembly,
    ) -> f64 {
        let asked: Vec<Asks> = self
            .pieces
            .iter()
            .zip(strands)
            .zip(&whole.strands)
            .map(|((piece, strand), state)| {
                let laid = strand.laid(&state.slid);
                let contacts = piece.contacts_around(&laid, state, stance, 0.0);
                asks(strand, state, contacts.as_ref())
            })
            .collect();
        for gradient in &mut assembly.gradient {
            gradient.fill(0.0);
        }
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
