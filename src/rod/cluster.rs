//! The strands that hang together: joined at breakouts that float, or sharing length through a hole that the harness
//! slides through. A strand that does neither is a cluster by itself.

use std::sync::Arc;

use nalgebra::{Isometry3, Point3, Translation3};

use crate::harness::BranchId;
use crate::machine::{BodyId, Pose, Stance, Sweep};
use crate::route::{Route, Span};

use super::Settings;
use super::held::Target;
use super::measure::Measured;
use super::newton::Scratch;
use super::patience::Patience;
use super::piece::Piece;
use super::refine;
use super::solution::{BranchSolution, Solution};
use super::strand::{State, Strand};
use super::tangent::Tangent;
use super::walk::{Reached, walk};

/// Strands with all that joins them.
pub(super) struct Cluster<'r> {
    pub(super) route: &'r Route,
    pub(super) pieces: Vec<Piece<'r>>,
    pub(super) floats: Vec<Float>,
    pub(super) slides: Vec<Slide>,
    /// The mean length of its strands \[m\]: turning by one radian counts as moving so far.
    pub(super) scale: f64,
    /// Whether an equilibrium is looked for near where it begins alone, never downhill from there.
    pub(super) near_only: bool,
    /// How the cluster answers small displacements, where that is known: one a pose.
    pub(super) tangents: Vec<&'r Tangent>,
    /// How far a part is at most from where it was when those were made \[m\].
    pub(super) shifted: f64,
    /// Whether what is not found straight away may be left as it was: it is looked for again later.
    pub(super) rough: bool,
}

/// A breakout whose place the harness decides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Float {
    pub(super) body: BodyId,
    /// Where it is drawn \[m\].
    pub(super) about: Point3<f64>,
    /// The body that holds its place, where one does.
    pub(super) carrier: Option<BodyId>,
}

/// A hole that the harness slides through.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Slide {
    pub(super) branch: BranchId,
    /// Index in the branch's lay.
    pub(super) lay: usize,
    /// The strands that end or pass there, each with its fixing.
    pub(super) at: Vec<(usize, usize)>,
}

/// All unknowns of a cluster.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Whole {
    pub(super) strands: Vec<State>,
    /// The motion of each breakout from where it was drawn.
    pub(super) floats: Vec<Isometry3<f64>>,
    /// How much of the harness has gone through each hole toward the span before it \[m\].
    pub(super) slid: Vec<f64>,
}

impl Whole {
    /// Whether every unknown is a number.
    pub(super) fn is_finite(&self) -> bool {
        let finite = |v: &nalgebra::Vector3<f64>| v.iter().all(|x| x.is_finite());
        let strands = self.strands.iter().all(|state| {
            let nodes = state.nodes.iter().all(|n| finite(&n.r) && finite(&n.t));
            let multipliers = state.end.iter().chain(&state.middle);
            nodes && multipliers.chain([&state.moment]).all(|x| x.is_finite())
        });
        let frame = |frame: &Isometry3<f64>| {
            finite(&frame.translation.vector) && frame.rotation.coords.iter().all(|x| x.is_finite())
        };
        strands && self.floats.iter().all(frame) && self.slid.iter().all(|s| s.is_finite())
    }
}

/// A cluster in every pose.
pub(super) struct Solved {
    pub(super) strands: Vec<Strand>,
    pub(super) reached: Vec<Reached>,
    /// For each strand, what was measured in each pose.
    pub(super) measured: Vec<Vec<Arc<Measured>>>,
    /// How often each pose was looked for with everything tried, and not found, since it was last found.
    pub(super) tried: Vec<u32>,
    /// One a strand.
    pub(super) radius_error: Vec<f64>,
    /// Contact stiffness in the end, one a strand \[N/m²\].
    pub(super) contact: Vec<f64>,
    pub(super) steps: usize,
    /// Those of them that rest took, before the walk through the other poses.
    pub(super) rest_steps: usize,
}

impl Solved {
    /// Whether each pose was solved.
    pub(super) fn converged(&self) -> Vec<bool> {
        self.reached.iter().map(|r| r.converged).collect()
    }
}

impl<'r> Cluster<'r> {
    /// Without strands.
    pub(super) fn empty(route: &'r Route) -> Self {
        Self {
            route,
            pieces: Vec::new(),
            floats: Vec::new(),
            slides: Vec::new(),
            scale: 1.0,
            near_only: false,
            tangents: Vec::new(),
            shifted: f64::INFINITY,
            rough: false,
        }
    }

    /// Whether its strands depend on nothing but the machine.
    pub(super) fn stands_alone(&self) -> bool {
        self.floats.is_empty() && self.slides.is_empty()
    }

    /// Where the bodies are when the joints have these values and the breakouts are where `whole` has them.
    pub(super) fn stance(&self, joints: &[f64], whole: &Whole) -> Stance {
        let mut stance = self.route.machine.stance(joints);
        self.place_floats(&mut stance, whole);
        stance
    }

    pub(super) fn place_floats(&self, stance: &mut Stance, whole: &Whole) {
        for (float, frame) in self.floats.iter().zip(&whole.floats) {
            stance.bodies[float.body.0] = *frame;
        }
    }

    /// Puts the breakouts that a body holds where that body has them.
    pub(super) fn pin(&self, joints: &[f64], whole: &mut Whole) {
        if self.floats.iter().all(|float| float.carrier.is_none()) {
            return;
        }
        let stance = self.route.machine.stance(joints);
        for (float, frame) in self.floats.iter().zip(&mut whole.floats) {
            if let Some(carrier) = float.carrier {
                let held = stance.bodies[carrier.0] * float.about;
                let off = held - *frame * float.about;
                *frame = Translation3::from(off) * *frame;
            }
        }
    }

    /// Gives the strands what the holes let through.
    pub(super) fn share_length(&self, whole: &mut Whole) {
        if self.slides.is_empty() {
            return;
        }
        for (piece, state) in self.pieces.iter().zip(&mut whole.strands) {
            state.slid.clear();
            state.slid.resize(piece.fixings, 0.0);
        }
        for (slide, &slid) in self.slides.iter().zip(&whole.slid) {
            for &(piece, fixing) in &slide.at {
                whole.strands[piece].slid[fixing] = slid;
            }
        }
    }

    /// Where the fixings of all strands are.
    pub(super) fn targets(&self, stance: &Stance) -> Vec<Target> {
        self.pieces.iter().map(|p| p.target(stance)).collect()
    }

    /// The radius \[m\] to which strand `i` is bent at most where that tells anything: its own. Of strands that are joined
    /// each bend counts, since the others hang on it.
    pub(super) fn least_meant(&self, i: usize) -> f64 {
        if self.stands_alone() {
            0.5 * self.pieces[i].branch.diameter
        } else {
            0.0
        }
    }

    /// Solves the cluster in every pose: from the smooth paths, or from a solution close by.
    pub(super) fn solve(
        &mut self,
        spans: &[&[Span]],
        sweep: &Sweep,
        near: Option<&Solution>,
        settings: &Settings,
    ) -> Solved {
        let spanned = spans.iter().map(|spans| spans.len()).sum();
        let mut scratch = Scratch {
            patience: Patience::of(spanned, near.is_some()),
            ..Scratch::default()
        };
        let lengths = spans
            .iter()
            .map(|spans| spans.iter().map(|s| s.length).sum::<f64>());
        self.scale = lengths.sum::<f64>() / super::piece::number(spans.len());
        let mut strands: Vec<Strand> = self
            .pieces
            .iter()
            .zip(spans)
            .map(|(piece, spans)| piece.strand(spans, near.map(|n| piece.of(n)), settings))
            .collect();
        let reached = match near {
            Some(near) => {
                let mut seeds = self.seeds(&strands, near);
                self.take_along(&mut seeds, near, sweep);
                let tried = vec![0; seeds.len()];
                self.again(&mut strands, sweep, seeds, &tried, &mut scratch)
            }
            None => self.first(&mut strands, sweep, settings.accuracy, &mut scratch),
        };
        let mut solved = Solved {
            measured: self.measure(&strands, &sweep.poses, &reached),
            tried: reached.iter().map(|r| u32::from(!r.converged)).collect(),
            radius_error: Vec::new(),
            contact: Vec::new(),
            steps: reached.iter().map(|r| r.steps).sum(),
            rest_steps: reached[sweep.rest].steps,
            strands,
            reached,
        };
        let converged = solved.converged();
        solved.radius_error = solved
            .strands
            .iter()
            .zip(&solved.measured)
            .map(|(strand, measured)| refine::error(strand, &converged, measured))
            .collect();
        if near.is_none() {
            self.resolve(&mut solved, sweep, settings.accuracy, &mut scratch);
        }
        solved.contact = self.pieces.iter().map(|piece| piece.contact).collect();
        solved
    }

    /// The states in a solution close by.
    pub(super) fn seeds(&self, strands: &[Strand], near: &Solution) -> Vec<Whole> {
        (0..near.sweep.poses.len())
            .map(|pose| {
                let each = self.pieces.iter().zip(strands);
                let states = each.map(|(piece, strand)| {
                    let near = piece.of(near);
                    piece.seed(strand, near, &near.shapes[pose])
                });
                let mut whole = self.as_in(near, pose, states.collect());
                self.share_length(&mut whole);
                whole
            })
            .collect()
    }

    /// The strands' states with breakouts and lengths as they are in a pose of a solution.
    pub(super) fn as_in(&self, solution: &Solution, pose: usize, strands: Vec<State>) -> Whole {
        let of = |slide: &Slide| -> &BranchSolution { &solution.branches[slide.branch.0] };
        let floats = self.floats.iter();
        let slides = self.slides.iter();
        Whole {
            strands,
            floats: floats
                .map(|float| solution.stances[pose].bodies[float.body.0])
                .collect(),
            slid: slides
                .map(|slide| of(slide).shapes[pose].slid_at(slide.lay))
                .collect(),
        }
    }

    /// Rest from the smooth paths, resolved, then the walk.
    fn first(
        &mut self,
        strands: &mut [Strand],
        sweep: &Sweep,
        accuracy: f64,
        scratch: &mut Scratch,
    ) -> Vec<Reached> {
        let mut rest = self.rest(strands, sweep, scratch);
        for _ in 0..refine::ROUNDS {
            let poses = std::slice::from_ref(&sweep.poses[sweep.rest]);
            let measured = self.measure(strands, poses, std::slice::from_ref(&rest));
            let mut seed = rest.whole.clone();
            let mut any = false;
            for (i, piece) in self.pieces.iter().enumerate() {
                let diameter = piece.branch.diameter;
                let converged = [rest.converged];
                let least = self.least_meant(i);
                let finer = refine::finer(
                    &strands[i],
                    &converged,
                    &measured[i],
                    accuracy,
                    diameter,
                    least,
                );
                if let Some(finer) = finer {
                    seed.strands[i] = finer.prolong(&strands[i], &rest.whole.strands[i]);
                    strands[i] = finer.strand(&strands[i]);
                    any = true;
                }
            }
            if !any {
                break;
            }
            rest = self
                .rest_again(strands, seed, sweep, scratch)
                .after(rest.steps);
        }
        walk(self, strands, sweep, rest, scratch)
    }

    /// For each strand, what is measured in each of the poses reached. Where it lies as in an earlier pose, amid the same
    /// parts, that is the same.
    pub(super) fn measure(
        &self,
        strands: &[Strand],
        poses: &[Pose],
        reached: &[Reached],
    ) -> Vec<Vec<Arc<Measured>>> {
        let stances: Vec<Stance> = poses
            .iter()
            .zip(reached)
            .map(|(pose, reached)| self.stance(&pose.joints, &reached.whole))
            .collect();
        let each = self.pieces.iter().zip(strands).enumerate();
        each.map(|(i, (piece, strand))| {
            let mut all: Vec<Arc<Measured>> = Vec::new();
            for (pose, stance) in stances.iter().enumerate() {
                let state = &reached[pose].whole.strands[i];
                let alike = (0..pose).find(|&first| {
                    reached[first].whole.strands[i] == *state
                        && self.amid_the_same(
                            (i, strand, state),
                            [first, pose],
                            [&stances[first], stance],
                        )
                });
                all.push(alike.map_or_else(
                    || {
                        let tangent = self.tangents.get(pose);
                        let lists =
                            tangent.and_then(|known| known.lists(i, strand, state, self.shifted));
                        let lists = lists.zip(Some(self.shifted));
                        Arc::new(piece.measure_listed(strand, stance, state, lists))
                    },
                    |first| Arc::clone(&all[first]),
                ));
            }
            all
        })
        .collect()
    }
}
