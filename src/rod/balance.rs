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

use nalgebra::{Isometry3, Translation3, UnitQuaternion, Vector3};

use crate::machine::Stance;

use super::assembly::Assembly;
use super::cluster::{Cluster, Whole};
use super::newton::{Outcome, Scratch, Stop};
use super::response::{Asks, Change, asks, response};
use super::strand::Strand;
use super::walk::Reached;

/// Most Newton steps on the breakouts and lengths.
const STEPS: usize = 14;
/// Most steps downhill.
const DOWNHILL: usize = 40;
/// A difference of this fraction of the cluster's scale stands for a derivative.
const DIFFERENCE: f64 = 3e-8;
/// Forces and moments balance where less than this fraction of the residual allowed inside a strand is left, of the
/// greatest that meet.
const FINER: f64 = 0.005;
/// Responses serve again where what is left fell below this fraction by the last step.
const FAST: f64 = 0.03;
/// No step is longer than this fraction of the scale, nor takes more than this fraction of what is left of a span.
const LONGEST: f64 = 0.3;
/// A pivot within this fraction of EI/L³ of zero belongs to a motion that costs nothing.
const NEUTRAL: f64 = 0.01;

/// One way in which a cluster may move: a component of a block row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Way {
    row: usize,
    component: usize,
}

/// The energy's derivatives by the breakouts and lengths, and how well they balance.
struct Balance {
    assembly: Assembly,
    /// Whether each strand alone is at a minimum.
    stable: bool,
    /// The greatest of what is left over, relative to the greatest that meet there.
    left: f64,
}

impl Cluster<'_> {
    /// Whether the fixing `fixing` of strand `i` rides on a breakout that floats.
    pub(super) fn floats_at(&self, i: usize, fixing: usize) -> bool {
        self.float_at(i, fixing).is_some()
    }

    fn float_at(&self, i: usize, fixing: usize) -> Option<usize> {
        let piece = &self.pieces[i];
        let on = piece.branch.lay[piece.first + fixing].fixing.on;
        self.floats.iter().position(|float| float.body == on)
    }

    /// The floating breakout at the start and at the end of strand `i`.
    fn ends(&self, i: usize) -> [Option<usize>; 2] {
        [0, self.pieces[i].fixings - 1].map(|fixing| self.float_at(i, fixing))
    }

    /// The components of the block row of a breakout: places, then turns; one that is held in place only turns.
    fn components(&self, float: usize) -> std::ops::Range<usize> {
        if self.floats[float].carrier.is_some() {
            3..6
        } else {
            0..6
        }
    }

    fn sizes(&self) -> Vec<usize> {
        let floats = (0..self.floats.len()).map(|f| self.components(f).len());
        floats.chain(self.slides.iter().map(|_| 1)).collect()
    }

    /// The ways that strand `i` feels.
    fn ways(&self, i: usize) -> Vec<Way> {
        let mut floats: Vec<usize> = self.ends(i).into_iter().flatten().collect();
        floats.dedup();
        let of_float = |row: usize| {
            self.components(row)
                .map(move |component| Way { row, component })
        };
        let of_slide = self
            .slides
            .iter()
            .enumerate()
            .filter(|(_, slide)| slide.at.iter().any(|at| at.0 == i))
            .map(|(s, _)| Way {
                row: self.floats.len() + s,
                component: 0,
            });
        floats
            .into_iter()
            .flat_map(of_float)
            .chain(of_slide)
            .collect()
    }

    /// Column of a way in its block.
    fn column(&self, way: Way) -> (usize, usize) {
        let first = if way.row < self.floats.len() {
            self.components(way.row).start
        } else {
            0
        };
        (way.row, way.component - first)
    }

    /// What strand `i` asks in the direction of a way.
    fn component(&self, i: usize, asks: &Asks, way: Way) -> f64 {
        if let Some(slide) = way
            .row
            .checked_sub(self.floats.len())
            .map(|s| &self.slides[s])
        {
            let own = slide.at.iter().filter(|at| at.0 == i);
            return own.map(|at| asks.pulls[at.1]).sum();
        }
        let ends = self.ends(i).into_iter().zip(&asks.holds);
        ends.filter(|(float, _)| *float == Some(way.row))
            .map(|(_, hold)| match way.component {
                c @ 0..3 => hold.force[c],
                c => hold.moment[c - 3] / self.scale,
            })
            .sum()
    }

    /// A breakout moved along a way by `by` \[m\].
    fn moved(&self, frame: &Isometry3<f64>, way: Way, by: f64) -> Isometry3<f64> {
        let mut axis = Vector3::zeros();
        axis[way.component % 3] = by;
        if way.component < 3 {
            return Translation3::from(axis) * frame;
        }
        let centre = frame * self.floats[way.row].about;
        let turn = UnitQuaternion::from_scaled_axis(axis / self.scale);
        Isometry3::rotation_wrt_point(turn, centre) * frame
    }

    /// Polishes the strands and puts their responses together.
    fn balance(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        stance: &Stance,
        scratch: &mut Scratch,
    ) -> Balance {
        let mut assembly = Assembly::new(&self.sizes());
        let mut stable = true;
        let mut asked = Vec::new();
        let step = DIFFERENCE * self.scale;
        for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
            let ways = self.ways(i);
            let changes: Vec<Change> = ways
                .iter()
                .map(|&way| self.change(i, whole, stance, way, step))
                .collect();
            let target = piece.target(stance);
            let state = &mut whole.strands[i];
            let laid = strand.laid(&state.slid);
            let contacts = piece.contacts_around(&laid, state, stance, super::contact::REACH);
            let answer = response(strand, state, &target, contacts.as_ref(), &changes, scratch);
            stable &= answer.stable;
            for (way, changed) in ways.iter().zip(&answer.changed) {
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
        }
        let left = self.gradient(strands, &asked, &mut assembly);
        Balance {
            assembly,
            stable,
            left,
        }
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

    pub(super) fn equilibrium_to(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        joints: &[f64],
        stop: &Stop,
        scratch: &mut Scratch,
    ) -> Outcome {
        let mut sum = Outcome {
            converged: false,
            stable: true,
            steps: 0,
            residual: 0.0,
        };
        let mut known: Option<Balance> = None;
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
            if !converged || self.stands_alone() {
                sum.converged = converged;
                return sum;
            }
            // The responses of the step before serve again while they lead on fast.
            if let Some(known) = &mut known {
                let before = known.left;
                known.left = self.imbalance(strands, whole, &stance, &mut known.assembly);
                if known.left < FINER * stop.residual {
                    sum.converged = true;
                    return sum;
                }
                if known.left < FAST * before {
                    let descent = known.assembly.descent(0.0, self.neutral(strands));
                    self.step(whole, &descent.step, 1.0);
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
            let balance = self.balance(strands, whole, &stance, scratch);
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
            let most = self.room(strands, whole, &descent.step);
            self.step(whole, &descent.step, most);
            known = Some(balance).filter(|_| most >= 1.0);
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

    fn neutral(&self, strands: &[Strand]) -> f64 {
        let least = strands
            .iter()
            .map(|s| s.material.bend / s.length().powi(3))
            .fold(f64::INFINITY, f64::min);
        NEUTRAL * least
    }

    /// The fraction of a step that may be taken at once.
    fn room(&self, strands: &[Strand], whole: &Whole, step: &[nalgebra::DVector<f64>]) -> f64 {
        let mut part = 1.0_f64;
        for (row, step) in step.iter().enumerate() {
            let length = step.norm();
            let mut most = LONGEST * self.scale;
            if let Some(slide) = row.checked_sub(self.floats.len()).map(|s| &self.slides[s]) {
                for &(i, fixing) in &slide.at {
                    let laid = strands[i].laid(&whole.strands[i].slid);
                    let spans = laid.fixings.windows(2).enumerate();
                    for (span, ends) in spans {
                        if span == fixing || span + 1 == fixing {
                            most = most.min(LONGEST * (laid.at[ends[1]] - laid.at[ends[0]]));
                        }
                    }
                }
            }
            if length > most {
                part = part.min(most / length);
            }
        }
        part
    }

    /// Takes a part of a step.
    fn step(&self, whole: &mut Whole, step: &[nalgebra::DVector<f64>], part: f64) {
        for (row, step) in step.iter().enumerate() {
            if row < self.floats.len() {
                let components = self.components(row);
                let mut turn = Vector3::zeros();
                let mut shift = Vector3::zeros();
                for (component, by) in components.zip(step.iter()) {
                    if component < 3 {
                        shift[component] = part * by;
                    } else {
                        turn[component - 3] = part * by / self.scale;
                    }
                }
                let frame = &mut whole.floats[row];
                let centre = *frame * self.floats[row].about;
                let turn = UnitQuaternion::from_scaled_axis(turn);
                *frame = Translation3::from(shift)
                    * Isometry3::rotation_wrt_point(turn, centre)
                    * *frame;
            } else {
                whole.slid[row - self.floats.len()] += part * step[0];
            }
        }
        self.share_length(whole);
    }

    /// Energy of all strands \[J\].
    fn energy(&self, strands: &[Strand], whole: &Whole, stance: &Stance) -> f64 {
        let each = self.pieces.iter().zip(strands).zip(&whole.strands);
        each.map(|((piece, strand), state)| piece.energy(strand, state, stance))
            .sum()
    }

    /// Every strand to a minimum with the breakouts and lengths where they are; whether all were found.
    fn settle_strands(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        joints: &[f64],
        from_afar: bool,
        scratch: &mut Scratch,
    ) -> Outcome {
        let stance = self.stance(joints, whole);
        let mut sum = Outcome {
            converged: true,
            stable: true,
            steps: 0,
            residual: 0.0,
        };
        for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
            let target = piece.target(&stance);
            let state = whole.strands[i].clone();
            let (state, outcome) =
                piece.relax(strand, state, (&target, &stance), from_afar, scratch);
            whole.strands[i] = state;
            sum.converged &= outcome.converged;
            sum.stable &= outcome.stable;
            sum.steps += outcome.steps;
            sum.residual = sum.residual.max(outcome.residual);
        }
        sum
    }

    /// Downhill to equilibrium.
    pub(super) fn downhill(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        joints: &[f64],
        from_afar: bool,
        scratch: &mut Scratch,
    ) -> Outcome {
        if self.stands_alone() {
            let stance = self.stance(joints, whole);
            let mut sum = Outcome {
                converged: true,
                stable: true,
                steps: 0,
                residual: 0.0,
            };
            for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
                let target = piece.target(&stance);
                let room = piece.room(strand, from_afar);
                let state = &mut whole.strands[i];
                let outcome = piece.downhill(strand, state, (&target, &stance), room, scratch);
                sum.converged &= outcome.converged;
                sum.stable &= outcome.stable;
                sum.steps += outcome.steps;
                sum.residual = sum.residual.max(outcome.residual);
            }
            return sum;
        }
        let mut steps = 0;
        let mut outcome = Outcome::FAILED;
        for attempt in 0..2_u32 {
            if attempt > 0 {
                self.nudge(whole, attempt);
            }
            steps += self
                .settle_strands(strands, whole, joints, from_afar && attempt == 0, scratch)
                .steps;
            steps += self.descend(strands, whole, joints, scratch);
            outcome = self.equilibrium(strands, whole, joints, scratch);
            steps += outcome.steps;
            if outcome.converged && outcome.stable {
                break;
            }
        }
        Outcome { steps, ..outcome }
    }

    /// Pushes the breakouts off a saddle.
    fn nudge(&self, whole: &mut Whole, attempt: u32) {
        let by = 0.01 * self.scale * f64::from(attempt);
        for (row, float) in self.floats.iter().enumerate() {
            for component in self.components(row) {
                // Not the same in any two directions.
                let size = f64::from(u32::try_from(component + row).unwrap_or(0) % 7 + 1) / 7.0;
                let side = if component % 2 == 0 { size } else { -size };
                whole.floats[row] =
                    self.moved(&whole.floats[row], Way { row, component }, by * side);
            }
            debug_assert!(float.carrier.is_none() || self.components(row).start == 3);
        }
    }

    /// Damped Newton steps that lower the energy, until little is left; gives the number of steps inside the strands.
    fn descend(
        &self,
        strands: &[Strand],
        whole: &mut Whole,
        joints: &[f64],
        scratch: &mut Scratch,
    ) -> usize {
        let unit = self.neutral(strands) / NEUTRAL;
        let (mut shift, mut steps) = (0.0, 0);
        for _ in 0..DOWNHILL {
            let stance = self.stance(joints, whole);
            let balance = self.balance(strands, whole, &stance, scratch);
            steps += self.pieces.len();
            if balance.left < 1e-4 || !balance.left.is_finite() {
                return steps;
            }
            let energy = self.energy(strands, whole, &stance);
            let mut lower = None;
            for _ in 0..12 {
                let descent = balance.assembly.descent(shift, 0.0);
                if descent.negative > 0 {
                    shift = f64::max(4.0 * shift, unit);
                    continue;
                }
                let slope: f64 = balance
                    .assembly
                    .gradient
                    .iter()
                    .zip(&descent.step)
                    .map(|(g, s)| g.dot(s))
                    .sum();
                let part = self.room(strands, whole, &descent.step);
                let mut trial = whole.clone();
                self.step(&mut trial, &descent.step, part);
                let settled = self.settle_strands(strands, &mut trial, joints, false, scratch);
                steps += settled.steps;
                let now = self.energy(strands, &trial, &self.stance(joints, &trial));
                // Whether or not every strand came to rest there: the energy of the whole is lower.
                if now <= energy + 1e-4 * part * slope {
                    shift = if shift < unit { 0.0 } else { 0.1 * shift };
                    lower = Some(trial);
                    break;
                }
                shift = f64::max(8.0 * shift, unit);
            }
            match lower {
                Some(lower) => *whole = lower,
                None => return steps,
            }
        }
        steps
    }

    /// One solve with everything tried: straight to equilibrium (unless `from_afar`), else downhill.
    pub(super) fn relax(
        &self,
        strands: &[Strand],
        mut whole: Whole,
        joints: &[f64],
        from_afar: bool,
        scratch: &mut Scratch,
    ) -> Reached {
        self.pin(joints, &mut whole);
        for state in &mut whole.strands {
            let tangents = state.nodes.iter().map(|n| n.t);
            state.pole = super::twist::pole(tangents, Some(state.pole));
        }
        let (mut steps, mut outcome) = (0, Outcome::FAILED);
        let mut start = whole.clone();
        let seed = whole.clone();
        if !from_afar {
            outcome = self.equilibrium(strands, &mut whole, joints, scratch);
            steps += outcome.steps;
        }
        if !(outcome.converged && outcome.stable) {
            if !outcome.converged {
                std::mem::swap(&mut whole, &mut start);
            }
            outcome = self.downhill(strands, &mut whole, joints, from_afar, scratch);
            steps += outcome.steps;
            if !whole.is_finite() {
                // What is not a number tells nothing: where it began stands for it, and that nothing was found.
                (whole, outcome) = (seed, Outcome::FAILED);
            }
        }
        Reached {
            steps,
            ..Reached::from(whole, outcome)
        }
    }
}
