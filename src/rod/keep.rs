//! From a solution close by: the state to begin from, and the whole shape of a strand that the change does not reach.

use std::sync::Arc;

use nalgebra::{Point3, Vector3};

use crate::machine::{PartId, Stance};
use crate::route::Span;

use super::cluster::{Cluster, Solved};
use super::element::Node;
use super::measure::Measured;
use super::near;
use super::piece::Piece;
use super::solution::{BranchSolution, Shape, Solution};
use super::solve::Moved;
use super::strand::{State, Strand};
use super::walk::{Jump, Reached};

/// Fixings and lengths that differ by less are the same \[m\].
const SAME: f64 = 1e-12;

/// A strand in all poses, as it was.
struct Kept {
    strand: Strand,
    states: Vec<State>,
    measured: Vec<Arc<Measured>>,
}

impl Cluster<'_> {
    /// Whether nothing moved that the cluster depends on.
    pub(super) fn stays(
        &self,
        spans: &[&[Span]],
        stances: &[Stance],
        near: &Solution,
        moved: Moved<'_>,
    ) -> bool {
        let mut each = self.pieces.iter().zip(spans);
        each.all(|(piece, spans)| piece.stays(spans, stances, near, moved))
    }

    /// The cluster as it was; `None` where its solution does not tell enough.
    pub(super) fn kept(
        &self,
        spans: &[&[Span]],
        stances: &[Stance],
        near: &Solution,
    ) -> Option<Solved> {
        let mut kept = Vec::new();
        for (piece, spans) in self.pieces.iter().zip(spans) {
            kept.push(piece.kept(spans, piece.of(near))?);
        }
        let strands: Vec<Strand> = kept.iter().map(|kept| kept.strand.clone()).collect();
        let reached = (0..stances.len())
            .map(|pose| {
                let states = kept.iter().map(|kept| kept.states[pose].clone());
                let whole = self.as_in(near, pose, states.collect());
                let residuals = self
                    .pieces
                    .iter()
                    .map(|piece| piece.of(near).shapes[pose].residual);
                let pieces = self.pieces.iter().zip(spans).enumerate();
                let jumps = pieces.filter_map(|(i, (piece, s))| piece.jumped(s, near, pose, i));
                Reached {
                    whole,
                    converged: true,
                    residual: residuals.fold(0.0, f64::max),
                    steps: 0,
                    jump: jumps.max_by(|a, b| a.far.total_cmp(&b.far)),
                    lost: 0,
                }
            })
            .collect();
        let resolution = |piece: &Piece<'_>| piece.of(near).resolution;
        Some(Solved {
            strands,
            reached,
            tried: vec![0; stances.len()],
            measured: kept.into_iter().map(|kept| kept.measured).collect(),
            radius_error: self
                .pieces
                .iter()
                .map(|piece| resolution(piece).radius_error)
                .collect(),
            contact: self
                .pieces
                .iter()
                .map(|piece| resolution(piece).contact)
                .collect(),
            steps: 0,
            rest_steps: 0,
        })
    }
}

impl Piece<'_> {
    /// Whether nothing moved that the strand depends on.
    fn stays(
        &self,
        spans: &[Span],
        stances: &[Stance],
        solution: &Solution,
        moved_by: Moved<'_>,
    ) -> bool {
        let near = self.of(solution);
        let Some(old) = near.spans.get(self.first..self.first + spans.len()) else {
            return false;
        };
        let mut each = old.iter().zip(spans);
        if !each.all(|(old, new)| (old.length - new.length).abs() < SAME) {
            return false;
        }
        let strand = self.strand(spans, Some(near), &super::Settings::default());
        let start = self.first_knot(near, &near.shapes[0]);
        let before = stances.iter().zip(&solution.stances);
        near.shapes
            .iter()
            .zip(before)
            .all(|(shape, (stance, old))| {
                let moved = match moved_by {
                    Moved::Places => Some(Vec::new()),
                    Moved::Part(part, by) => Some(vec![(part, by)]),
                    Moved::Parts(parts) => Some(parts.to_vec()),
                    Moved::Joint(_) => self.shifted(old, stance),
                    Moved::Anything => None,
                };
                // A nudge is only looked at where its start was found.
                (shape.converged || matches!(moved_by, Moved::Parts(_)))
                    && self.holds_still(&strand, start, shape, stance)
                    && moved.is_some_and(|moved| {
                        let mut each = moved.into_iter();
                        each.all(|moved| self.is_clear(&strand, start, shape, stance, moved))
                    })
            })
    }

    /// The strand as it was, perhaps farther along the branch.
    fn kept(&self, spans: &[Span], near: &BranchSolution) -> Option<Kept> {
        let own = self.first..self.first + spans.len();
        let farther = self.farther(spans, near)?;
        let strand = self.strand(spans, Some(near), &super::Settings::default());
        let shapes = &near.shapes;
        let start = self.first_knot(near, &shapes[0]);
        // Each element has two stations, each span one more.
        let first = 2 * start + self.first;
        let stations = first..first + 2 * strand.elements() + spans.len();
        let mut states: Vec<State> = Vec::new();
        let mut measured: Vec<Arc<Measured>> = Vec::new();
        let strands_before = self.strands_before();
        for (pose, shape) in shapes.iter().enumerate() {
            // What is one shape there is one here.
            let first = shapes[..pose].iter().position(|s| Arc::ptr_eq(s, shape));
            if let Some(first) = first {
                measured.push(Arc::clone(&measured[first]));
                states.push(State::clone(&states[first]));
                continue;
            }
            let all = 2 * (shape.curve.knots().len() - 1) + near.spans.len();
            if shape.stations.len() != all || shape.multipliers.is_empty() {
                return None;
            }
            let state = self.lying(&strand, near, shape);
            let [before, after] = *shape.ends.get(strands_before)?;
            let inner = shape.holds.get(own.start + 1..own.end)?;
            let mut stations = shape.stations.get(stations.clone())?.to_vec();
            for station in &mut stations {
                station.at += farther;
            }
            let mut spans = shape.spans.get(own.clone())?.to_vec();
            for span in &mut spans {
                span.curvature_at += farther;
            }
            measured.push(Arc::new(Measured {
                stations,
                spans,
                holds: std::iter::once(before)
                    .chain(inner.iter().copied())
                    .chain([after])
                    .collect(),
                depth: 0.0,
                misses: Vec::new(),
            }));
            states.push(state);
        }
        Some(Kept {
            strand,
            states,
            measured,
        })
    }

    /// How much farther along the branch it begins than in a solution \[m\].
    fn farther(&self, spans: &[Span], near: &BranchSolution) -> Option<f64> {
        Some(spans.first()?.start - near.spans.get(self.first)?.start)
    }

    /// Where strand `i` of a cluster jumped on the way to a pose.
    fn jumped(&self, spans: &[Span], near: &Solution, pose: usize, i: usize) -> Option<Jump> {
        let near = self.of(near);
        let own =
            near.spans.get(self.first)?.start..near.spans.get(self.first + self.fixings - 2)?.end();
        let mut snaps = near.snaps.iter();
        let snap = snaps.find(|snap| snap.to == pose && own.contains(&snap.at))?;
        Some(Jump {
            far: snap.jump,
            strand: i,
            at: snap.at + self.farther(spans, near)?,
        })
    }

    /// How many strands of its branch stand before this one.
    pub(super) fn strands_before(&self) -> usize {
        let held = |lay: &usize| self.branch.lay[*lay].fixing.holds_direction();
        (1..=self.first).filter(held).count()
    }

    /// The knot at which the strand begins.
    fn first_knot(&self, near: &BranchSolution, shape: &Shape) -> usize {
        let first = near.spans[self.first].start + shape.slid_at(self.first);
        let knots = shape.curve.knots();
        knots.partition_point(|k| k.at < first - 1e-9)
    }

    /// The state of this strand in a shape solved before, to go on from.
    pub(super) fn seed(&self, strand: &Strand, near: &BranchSolution, shape: &Shape) -> State {
        let state = self.lying(strand, near, shape);
        let pole = self.pole(&state.nodes, None);
        State { pole, ..state }
    }

    /// The state of this strand in a shape solved before; from where its twist is counted is not worked out.
    fn lying(&self, strand: &Strand, near: &BranchSolution, shape: &Shape) -> State {
        let knots = shape.curve.knots();
        let start = self.first_knot(near, shape);
        // One node stands for the end of a strand and the start of the next; their multipliers stand twice.
        let strands_before = self.strands_before();
        let nodes: Vec<Node> = knots
            .iter()
            .skip(start)
            .take(strand.at.len())
            .map(|k| Node {
                r: k.position.coords,
                t: k.slope,
            })
            .collect();
        let spans = self.first..self.first + self.fixings - 1;
        let twist: f64 = shape.spans[spans].iter().map(|s| s.twist).sum();
        let mut state = State {
            end: vec![0.0; nodes.len()],
            middle: vec![0.0; nodes.len().saturating_sub(1)],
            pole: Vector3::z_axis(),
            nodes,
            moment: 0.0,
            angle: twist,
            slid: Vec::new(),
        };
        if !shape.slid.is_empty() {
            let own = self.first..self.first + self.fixings;
            state.slid = own.map(|lay| shape.slid_at(lay)).collect();
        }
        let compliance = strand.laid(&state.slid).compliance;
        state.moment = compliance.map_or(0.0, |c| twist / c);
        let from = 2 * start + strands_before;
        if let Some(known) = shape.multipliers.get(from..from + 2 * strand.at.len() - 1) {
            state.end = known.iter().step_by(2).copied().collect();
            state.middle = known.iter().skip(1).step_by(2).copied().collect();
        } else {
            strand
                .laid(&state.slid.clone())
                .strain_multipliers(&mut state);
        }
        state
    }

    /// Whether all fixings are where a shape has them.
    fn holds_still(&self, strand: &Strand, start: usize, shape: &Shape, stance: &Stance) -> bool {
        let knots = shape.curve.knots();
        strand.fixings.iter().enumerate().all(|(i, &node)| {
            let lay = self.first + i;
            let Some(knot) = knots.get(start + node) else {
                return false;
            };
            let position = self.route.fixing_position(self.branch, lay, stance);
            let facing = self.route.fixing_facing(self.branch, lay, stance);
            (position - knot.position).norm() < SAME
                && facing.is_none_or(|facing| {
                    facing.cross(&knot.slope).norm() < SAME && facing.dot(&knot.slope) > 0.0
                })
        })
    }

    /// The parts that are not where they were, with how far each has shifted \[m\]; `None` where one has turned.
    fn shifted(&self, old: &Stance, new: &Stance) -> Option<Vec<(PartId, f64)>> {
        let mut shifted = Vec::new();
        for (part, shape) in self.route.machine.parts.iter().enumerate() {
            let (old, new) = (&old.bodies[shape.on.0], &new.bodies[shape.on.0]);
            let off = new * old.inverse();
            if off.rotation.angle() > SAME {
                return None;
            }
            let by = off.translation.vector.norm();
            if by > SAME {
                shifted.push((PartId(part), by));
            }
        }
        Some(shifted)
    }

    /// Whether a shape lies so far from a part that it felt it neither where it was nor where it is.
    fn is_clear(
        &self,
        strand: &Strand,
        start: usize,
        shape: &Shape,
        stance: &Stance,
        (part, by): (PartId, f64),
    ) -> bool {
        let knots = shape.curve.knots();
        let around = self.surroundings;
        let mut known: Option<(Point3<f64>, f64)> = None;
        (0..strand.elements()).all(|j| {
            let (Some(a), Some(b)) = (knots.get(start + j), knots.get(start + j + 1)) else {
                return false;
            };
            let middle = nalgebra::center(&a.position, &b.position);
            let reach = near::reach(strand.h(j), 0.5 * self.branch.diameter) + by;
            // The distance changes by at most the way gone.
            if known.is_some_and(|(p, distance)| distance - (middle - p).norm() > reach) {
                return true;
            }
            let distance = around.distance(stance, part, &middle);
            known = Some((middle, distance));
            distance > reach
        })
    }
}
