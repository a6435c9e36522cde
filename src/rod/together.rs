//! The strands of a branch, each solved in a cluster of its own or with others, put together to the branch again.

use std::sync::Arc;

use crate::geometry::{Curve, Knot};
use crate::harness::BranchId;
use crate::machine::Sweep;
use crate::route::Span;

use super::cluster::{Cluster, Solved};
use super::solution::{BranchSolution, Resolution, Shape, Snap};
use super::strand::Strand;

/// A strand of a solved cluster.
#[derive(Clone, Copy)]
pub(super) struct Own<'s> {
    solved: &'s Solved,
    /// Its index there.
    i: usize,
}

/// The strands of a branch in order.
pub(super) fn strands_of<'s>(
    solved: &'s [(Cluster<'_>, Solved)],
    branch: BranchId,
) -> Vec<Own<'s>> {
    let mut own: Vec<(usize, Own<'s>)> = Vec::new();
    for (cluster, solved) in solved {
        for (i, piece) in cluster.pieces.iter().enumerate() {
            if piece.id == branch {
                own.push((piece.first, Own { solved, i }));
            }
        }
    }
    own.sort_by_key(|(first, _)| *first);
    own.into_iter().map(|(_, own)| own).collect()
}

/// Puts the strands of one branch together.
pub(super) fn branch_solution(
    sweep: &Sweep,
    spans: &[Span],
    own: &[Own<'_>],
    near: Option<&BranchSolution>,
) -> BranchSolution {
    BranchSolution {
        spans: spans.to_vec(),
        shapes: shapes(own, sweep.poses.len()),
        contact: own.iter().map(|s| s.solved.contact[s.i]).collect(),
        snaps: near.map_or_else(|| snaps(sweep, own), |near| near.snaps.clone()),
        resolution: Resolution {
            elements: own.iter().map(|s| s.strand().elements()).sum(),
            radius_error: own
                .iter()
                .map(|s| s.solved.radius_error[s.i])
                .fold(0.0, f64::max),
            contact: own
                .iter()
                .map(|s| s.solved.contact[s.i])
                .fold(0.0, f64::max),
            newton_steps: own.iter().map(|s| s.share(s.solved.steps)).sum(),
            rest_steps: own.iter().map(|s| s.share(s.solved.rest_steps)).sum(),
        },
    }
}

impl Own<'_> {
    fn strand(&self) -> &Strand {
        &self.solved.strands[self.i]
    }

    /// A step of a cluster counts once a strand; its strands share them evenly.
    fn share(&self, steps: usize) -> usize {
        steps / self.solved.strands.len()
    }

    /// Whether two poses hold the same shape: one that was measured once.
    fn is_alike(&self, poses: [usize; 2]) -> bool {
        let [one, other] = poses.map(|pose| &self.solved.measured[self.i][pose]);
        let [found, again] = poses.map(|pose| &self.solved.reached[pose]);
        Arc::ptr_eq(one, other)
            && found.converged == again.converged
            && found.residual.to_bits() == again.residual.to_bits()
    }
}

/// The shapes of all poses; those that are alike are one.
fn shapes(own: &[Own<'_>], poses: usize) -> Vec<Arc<Shape>> {
    let mut shapes: Vec<Arc<Shape>> = Vec::with_capacity(poses);
    for pose in 0..poses {
        let alike = |first: &usize| own.iter().all(|own| own.is_alike([*first, pose]));
        let shape = match (0..pose).find(alike) {
            Some(first) => Arc::clone(&shapes[first]),
            None => Arc::new(shape(own, pose)),
        };
        shapes.push(shape);
    }
    shapes
}

/// Puts the strands of one pose together.
fn shape(own: &[Own<'_>], pose: usize) -> Shape {
    let nodes: usize = own.iter().map(|own| own.strand().at.len()).sum();
    let spans: usize = own.iter().map(|own| own.strand().fixings.len()).sum();
    let mut knots: Vec<Knot> = Vec::with_capacity(nodes);
    let mut shape = Shape {
        curve: Curve::straight(),
        stations: Vec::with_capacity(2 * nodes + spans),
        spans: Vec::with_capacity(spans),
        holds: Vec::with_capacity(spans),
        ends: Vec::with_capacity(own.len()),
        slid: Vec::with_capacity(spans),
        multipliers: Vec::with_capacity(2 * nodes),
        converged: true,
        residual: 0.0,
    };
    for own in own {
        let reached = &own.solved.reached[pose];
        let measured = &own.solved.measured[own.i][pose];
        let state = &reached.whole.strands[own.i];
        let laid = own.strand().laid(&state.slid);
        let joined = usize::from(!knots.is_empty());
        for (at, node) in laid.at.iter().zip(&state.nodes).skip(joined) {
            knots.push(Knot {
                at: *at,
                position: node.r.into(),
                slope: node.t,
            });
        }
        for (end, middle) in state
            .end
            .iter()
            .zip(state.middle.iter().map(Some).chain([None]))
        {
            shape.multipliers.push(*end);
            shape.multipliers.extend(middle);
        }
        shape.stations.extend_from_slice(&measured.stations);
        shape.spans.extend_from_slice(&measured.spans);
        if let (Some(first), Some(last)) = (measured.holds.first(), measured.holds.last()) {
            shape.ends.push([*first, *last]);
        }
        let mut holds = measured.holds.iter();
        if let Some(last) = shape.holds.last_mut()
            && let Some(first) = holds.next()
        {
            last.force += first.force;
            last.moment += first.moment;
        }
        shape.holds.extend(holds);
        let none = vec![0.0; laid.fixings.len()];
        let slid = if state.slid.is_empty() {
            &none
        } else {
            &state.slid
        };
        shape.slid.extend_from_slice(&slid[joined..]);
        shape.converged &= reached.converged;
        shape.residual = shape.residual.max(reached.residual);
    }
    if shape.slid.iter().all(|s| s.abs() <= 0.0) {
        shape.slid.clear();
    }
    if let Some(curve) = Curve::new(knots) {
        shape.curve = curve;
    }
    shape
}

fn snaps(sweep: &Sweep, own: &[Own<'_>]) -> Vec<Snap> {
    let mut snaps = Vec::new();
    for step in &sweep.walk {
        let Some(from) = step.from else { continue };
        let jumps = own.iter().filter_map(|own| {
            let jump = own.solved.reached[step.to].jump?;
            (jump.strand == own.i).then_some(Snap {
                from,
                to: step.to,
                jump: jump.far,
                at: jump.at,
            })
        });
        snaps.extend(jumps);
    }
    snaps
}
