//! How a cluster follows small displacements of what holds it: with the stiffness that it has in the solution close by.
//!
//! A few millimetres hardly change the stiffness, so that one factorisation a pose serves every nudge: the first step is the
//! tangent of the solution. Each strand is then corrected by Newton steps of its own, while what the breakouts and holes
//! feel of all strands together keeps the stiffness of the solution (a chord, or modified Newton, method: Ortega,
//! Rheinboldt, "Iterative Solution of Nonlinear Equations in Several Variables", 1970, 7.1; from memory). Where that does
//! not lead there soon the cluster is not followed, and is looked for like any other.

use std::sync::Arc;

use nalgebra::{DVector, Point3};
use rayon::prelude::*;

use crate::harness::BranchId;
use crate::machine::{Stance, Surroundings, Sweep};
use crate::route::{Route, Span};

use super::Settings;
use super::assembly::Assembly;
use super::chain::{Chain, Factor};
use super::cluster::{Cluster, Whole};
use super::contact::{Contacts, Lists, REACH, Seated};
use super::cutting::{SatBefore, clusters, pieces, seated};
use super::newton::{self, Border, HeldMatrix, Outcome, Scratch, Stop};
use super::response::{Asks, Follows, asks};
use super::solution::Solution;
use super::solve::Moved;
use super::strand::{State, Strand, Target};
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

/// What a solved route answers to small displacements.
#[derive(Debug)]
pub struct Neighbourhood {
    /// Where every place is \[m\].
    places: Vec<Point3<f64>>,
    /// The fixings that sit on parts, by branch.
    seated: Vec<Vec<Seated>>,
    clusters: Vec<Known>,
}

/// A cluster of it.
#[derive(Debug)]
struct Known {
    /// Its strands: the branch, and the index in its lay of the strand's first fixing.
    strands: Vec<(BranchId, usize)>,
    /// One a pose; none where the solution does not tell enough.
    tangents: Vec<Tangent>,
}

/// A cluster in one pose.
#[derive(Debug)]
pub(super) struct Tangent {
    strands: Vec<Held>,
    assembly: Assembly,
    /// For each strand, how it follows each of the ways that it feels, a unit of it.
    follows: Vec<Vec<Follows>>,
}

/// The stiffness of a strand as it is held.
#[derive(Debug)]
struct Held {
    /// The state that has it.
    at: State,
    target: Target,
    /// Before the fixings are held.
    chain: Chain,
    factor: Factor,
    border: Border,
    matrix: HeldMatrix,
    /// The parts near each element.
    lists: Option<Arc<Lists>>,
}

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

impl Neighbourhood {
    /// The neighbourhood of a route's solution; the settings are those that it was solved with.
    pub fn new(
        route: &Route,
        surroundings: &Surroundings<'_>,
        solution: &Solution,
        settings: &Settings,
    ) -> Self {
        let rest = &solution.stances[solution.sweep.rest];
        let spans: Vec<Vec<Span>> = route
            .branches
            .iter()
            .map(|branch| route.spans(branch, rest))
            .collect();
        let seated: Vec<Vec<Seated>> = route
            .branches
            .iter()
            .zip(&spans)
            .map(|(branch, spans)| seated(route, branch, spans, None))
            .collect();
        let pieces = pieces(route, surroundings, &seated, Some(solution), settings);
        let clusters = clusters(route, pieces)
            .into_par_iter()
            .map(|mut cluster| Known {
                strands: cluster.pieces.iter().map(|p| (p.id, p.first)).collect(),
                tangents: cluster.tangents_of(&spans, solution),
            })
            .collect();
        Self {
            places: route.places.iter().map(|place| place.at).collect(),
            seated,
            clusters,
        }
    }

    /// What is known of the fixings of one of the whole route's branches, where it is known what has moved since.
    pub(super) fn sat(&self, branch: BranchId, moved: Moved) -> Option<SatBefore<'_>> {
        let moved = match moved {
            Moved::Part(part, _) => Some(part),
            Moved::Places | Moved::Joint => None,
            Moved::Anything => return None,
        };
        Some(SatBefore {
            places: &self.places,
            seated: self.seated.get(branch.0)?,
            moved,
        })
    }

    /// The tangents of a cluster in some of the poses; its branches are those that `ids` tells of the whole route.
    pub(super) fn tangents(
        &self,
        cluster: &Cluster<'_>,
        ids: &[BranchId],
        poses: &[usize],
    ) -> Vec<&Tangent> {
        let own = || cluster.pieces.iter().map(|p| (ids[p.id.0], p.first));
        let known = self.clusters.iter();
        let found = known
            .clone()
            .find(|known| known.strands.iter().copied().eq(own()));
        found.map_or_else(Vec::new, |known| {
            poses
                .iter()
                .filter_map(|&p| known.tangents.get(p))
                .collect()
        })
    }
}

impl Cluster<'_> {
    /// Its tangents in every pose of a solution.
    fn tangents_of(&mut self, spans: &[Vec<Span>], solution: &Solution) -> Vec<Tangent> {
        let told = |p: &super::piece::Piece<'_>| {
            let mut shapes = p.of(solution).shapes.iter();
            shapes.all(|shape| shape.converged && !shape.multipliers.is_empty())
        };
        if !self.pieces.iter().all(told) {
            return Vec::new();
        }
        let settings = Settings::default();
        let mut strands: Vec<Strand> = self
            .pieces
            .iter()
            .map(|p| {
                let own = &spans[p.id.0][p.first..p.first + p.fixings - 1];
                p.strand(own, Some(p.of(solution)), &settings)
            })
            .collect();
        let lengths = strands.iter().map(Strand::length).sum::<f64>();
        self.scale = lengths / super::piece::number(strands.len());
        let mut seeds = self.seeds(&strands, solution);
        let sweep: &Sweep = &solution.sweep;
        let at_rest = self.stance(&sweep.poses[sweep.rest].joints, &seeds[sweep.rest]);
        for (i, strand) in strands.iter().enumerate() {
            let state = &mut seeds[sweep.rest].strands[i];
            self.pieces[i].untwist(strand, state, &at_rest);
        }
        let mut scratch = Scratch::default();
        let mut tangents = Vec::new();
        for (pose, whole) in seeds.iter().enumerate() {
            let stance = self.stance(&sweep.poses[pose].joints, whole);
            // At rest no twist is held: what untwisted means is only found there.
            let held: Vec<Option<f64>> = strands.iter().map(|s| s.compliance).collect();
            if pose == sweep.rest {
                strands.iter_mut().for_each(|s| s.compliance = None);
            }
            tangents.push(self.tangent(&strands, whole, &stance, &mut scratch));
            for (strand, held) in strands.iter_mut().zip(held) {
                strand.compliance = held;
            }
        }
        tangents
    }

    fn tangent(
        &self,
        strands: &[Strand],
        whole: &Whole,
        stance: &Stance,
        scratch: &mut Scratch,
    ) -> Tangent {
        let contacts = self.contacts(strands, whole, stance);
        let mut held = Vec::new();
        for (i, (piece, strand)) in self.pieces.iter().zip(strands).enumerate() {
            let state = &whole.strands[i];
            let laid = strand.laid(&state.slid);
            let target = piece.target(stance);
            let near = contacts[i].as_ref();
            newton::forces(&laid, state, &target, near, scratch);
            laid.stiffness(state, near, &mut scratch.chain);
            let chain = scratch.chain.clone();
            let matrix = newton::hold(&laid, &target, scratch);
            held.push(Held {
                at: state.clone(),
                target,
                chain,
                factor: scratch.factor.clone(),
                border: scratch.border.clone(),
                matrix,
                lists: near.map(Contacts::lists),
            });
        }
        if self.stands_alone() {
            return Tangent {
                strands: held,
                assembly: Assembly::new(&[]),
                follows: Vec::new(),
            };
        }
        let balance = self.balance(strands, whole, stance, &contacts, scratch);
        Tangent {
            strands: held,
            assembly: balance.assembly,
            follows: balance.follows,
        }
    }

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
                return self.followed(strands, start, whole, steps, answers.residual);
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
                newton::stay(&laid, scratch)
            } else {
                laid.stiffness(state, near, &mut scratch.chain);
                let (stable, moment) = newton::step(&laid, &target, look.gap, scratch);
                answers.stable &= stable;
                moment
            };
            let nodes = scratch.step.clone();
            if !self.stands_alone() {
                let mut moved = state.clone();
                let at = held.map_or(&*state, |held| &held.at);
                newton::apply_from(&laid, at, &mut moved, &nodes, moment);
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
        mut whole: Whole,
        steps: usize,
        residual: f64,
    ) -> Result<Reached, Whole> {
        let beyond = strands.iter().enumerate().any(|(i, strand)| {
            let (from, to) = (&start.strands[i].nodes, &whole.strands[i].nodes);
            displaced(strand, from, to).0 >= REACH
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
                    newton::apply_from(&laid, at, state, &sum.nodes, sum.moment);
                }
                None => newton::apply(&laid, state, &sum.nodes, sum.moment),
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
            let lists = self.parts_stay.then(|| tangent.strands[i].lists.clone());
            piece.contacts_listed(&strand.laid(&state.slid), state, stance, lists.flatten())
        })
        .collect()
    }
}

impl Tangent {
    /// The parts near a strand, where it lies where they were looked for.
    pub(super) fn lists(&self, i: usize, strand: &Strand, state: &State) -> Option<Arc<Lists>> {
        let lists = self.strands[i].lists.as_ref()?;
        let reaches = lists.reach_to(strand.each(state).map(|(_, element)| element));
        reaches.then(|| Arc::clone(lists))
    }
}

impl Held {
    /// From what [`newton::look`] left in `scratch` to a step there; gives that of the twisting moment. The strain is
    /// brought to what its multiplier makes along the slopes that the matrix has: along others, EA would be felt where the
    /// matrix does not have it.
    fn step(&self, strand: &Strand, state: &State, gap: f64, scratch: &mut Scratch) -> f64 {
        strand.missing_from(&self.at, state, &mut scratch.missing);
        let gap = gap + newton::ahead(strand, scratch);
        let Scratch {
            force,
            missing,
            to_go,
            step,
            ..
        } = scratch;
        newton::side(
            strand,
            &self.target,
            &self.chain,
            (force, missing, to_go),
            step,
        );
        newton::finish_with(&self.matrix, &self.factor, &self.border, gap, to_go, step)
    }
}
