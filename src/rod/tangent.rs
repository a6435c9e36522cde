//! How a solved route answers small displacements to first order: the stiffness of each cluster as it is held in each pose.
//!
//! A few millimetres hardly change it, so that one factorisation a pose serves every nudge (`follow.rs`).

use std::sync::Arc;

use nalgebra::Point3;
use rayon::prelude::*;

use crate::harness::BranchId;
use crate::machine::{PartId, Stance, Surroundings, Sweep};
use crate::route::{Route, Span};

use super::Settings;
use super::assembly::Assembly;
use super::chain::{Chain, Factor};
use super::cluster::{Cluster, Whole};
use super::contact::{Contacts, Pushed, Seated};
use super::cutting::{SatBefore, clusters, pieces, seated};
use super::held::Target;
use super::near::Lists;
use super::newton::{self, Scratch};
use super::response::Follows;
use super::solution::Solution;
use super::solve::Moved;
use super::step::{self, Border, HeldMatrix};
use super::strand::{State, Strand};

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
    pub(super) strands: Vec<Held>,
    pub(super) assembly: Assembly,
    /// For each strand, how it follows each of the ways that it feels, a unit of it.
    pub(super) follows: Vec<Vec<Follows>>,
}

/// The stiffness of a strand as it is held.
#[derive(Debug)]
pub(super) struct Held {
    /// The state that has it.
    pub(super) at: State,
    target: Target,
    /// Before the fixings are held.
    chain: Chain,
    factor: Factor,
    border: Border,
    matrix: HeldMatrix,
    /// The places that something presses on.
    pressed: Vec<(usize, usize)>,
    /// The parts near each element.
    pub(super) lists: Option<Arc<Lists>>,
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
    pub(super) fn sat(&self, branch: BranchId, moved: Moved<'_>) -> Option<SatBefore<'_>> {
        let moved = match moved {
            Moved::Part(part, _) => Some(part),
            Moved::Places | Moved::Joint(_) => None,
            Moved::Parts(_) | Moved::Anything => return None,
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
            laid.stiffness(state, &scratch.pushed, &mut scratch.chain);
            let chain = scratch.chain.clone();
            let matrix = step::hold(&laid, &target, scratch);
            held.push(Held {
                at: state.clone(),
                target,
                chain,
                factor: scratch.factor.clone(),
                border: scratch.border.clone(),
                matrix,
                pressed: scratch.pushed.iter().map(Pushed::place).collect(),
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
}

impl Tangent {
    /// The parts near a strand, element after element.
    pub(super) fn near(&self, i: usize) -> impl Iterator<Item = PartId> + '_ {
        let lists = self.strands[i].lists.iter();
        lists.flat_map(|lists| lists.parts())
    }

    /// The parts near a strand, none of them moved by more than `shifted` \[m\], where it lies where they were looked for.
    pub(super) fn lists(
        &self,
        i: usize,
        strand: &Strand,
        state: &State,
        shifted: f64,
    ) -> Option<Arc<Lists>> {
        let lists = self.strands[i].lists.as_ref()?;
        let reaches = lists.reach_to(strand.each(state).map(|(_, element)| element), shifted);
        reaches.then(|| Arc::clone(lists))
    }
}

impl Held {
    /// Whether the same places are pressed on as where its stiffness was worked out: where a part has come or gone, that is
    /// another.
    pub(super) fn is_pressed_like(&self, pushed: &[Pushed]) -> bool {
        let now = pushed.iter().map(Pushed::place);
        now.eq(self.pressed.iter().copied())
    }

    /// From what [`newton::look`] left in `scratch` to a step there; gives that of the twisting moment. The strain is
    /// brought to what its multiplier makes along the slopes that the matrix has: along others, EA would be felt where the
    /// matrix does not have it.
    pub(super) fn step(
        &self,
        strand: &Strand,
        state: &State,
        gap: f64,
        scratch: &mut Scratch,
    ) -> f64 {
        strand.missing_from(&self.at, state, &mut scratch.missing);
        let gap = gap + step::ahead(strand, scratch);
        let Scratch {
            force,
            missing,
            to_go,
            step,
            ..
        } = scratch;
        step::side(
            strand,
            &self.target,
            &self.chain,
            (force, missing, to_go),
            step,
        );
        step::finish_with(&self.matrix, &self.factor, &self.border, gap, to_go, step)
    }
}
