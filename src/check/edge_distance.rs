//! Edge distance: the least gap to every part with an edge, over all poses, by the kind of edge; and the force
//! against the lip of a grommet, which may be touched but not pressed.
//!
//! Of a box or slab the edge is its rim: a branch may lie flat on the face of a plate. Any other part is an edge
//! all over.

use nalgebra::{Point3, Vector3};

use crate::geometry::Shape;
use crate::harness::BranchId;
use crate::machine::{Edge, PartId};
use crate::quantity::Kind;

use super::job::{Job, Measured, Outcome, below};
use super::least_along::least_along;
use super::touching::touches;
use super::{Finding, LeastGap, LimitKey};

const CHECK: &str = "edge distance";

/// An edge further away than so many of its distances is not worth a line.
const WORTH_A_LINE: f64 = 3.0;

pub(super) fn edge_distance(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    for &branch in job.branches {
        for gap in &job.nearest[branch.0] {
            match job.route.machine.parts[gap.part.0].edge {
                None => {}
                Some(Edge::Grommet) if gap.gap > 0.0 => {}
                Some(Edge::Grommet) => outcome.findings.extend(preload(job, branch, gap.part)),
                Some(edge) => outcome.findings.extend(distance(job, branch, *gap, edge)),
            }
        }
    }
    outcome
}

fn distance(job: &Job<'_>, branch: BranchId, nearest: LeastGap, edge: Edge) -> Option<Finding> {
    let limit = job.limit(LimitKey::EdgeDistance);
    let least = limit.from_edge(edge);
    // No rim is nearer than the surface.
    if nearest.gap > WORTH_A_LINE * least {
        return None;
    }
    let part = &job.route.machine.parts[nearest.part.0];
    let gap = match &part.shape {
        Shape::Block { .. } => to_rim(job, branch, nearest.part),
        _ => nearest,
    };
    let kind = match edge {
        Edge::Sharp => "sharp edge",
        Edge::Rolled => "rolled edge",
        Edge::Grommet => "grommet",
    };
    (gap.gap <= WORTH_A_LINE * least).then(|| {
        Measured {
            check: CHECK,
            subject: part.name.clone(),
            branch,
            place: format!("{}, beside {}", job.place_words(branch, gap.at), part.name),
            at: gap.at,
            pose: gap.pose,
            value: gap.gap,
            limit: least,
            kind: Kind::Length,
            at_most: false,
            from: limit,
        }
        .judged(
            || {
                let missing = job.show_up(least - gap.gap);
                let state = if gap.gap <= 0.0 {
                    "Touches"
                } else {
                    "Too near to"
                };
                format!(
                    "{state} the {kind} of {}: clamp the branch {missing} further away from it, or line the edge with \
                     a grommet or trim.",
                    part.name
                )
            },
            || format!("{} from the {kind} of {}.", job.show(gap.gap), part.name),
        )
    })
}

/// The least gap to the rim of a box or slab.
fn to_rim(job: &Job<'_>, branch: BranchId, id: PartId) -> LeastGap {
    let part = &job.route.machine.parts[id.0];
    let girths = job.route.girths(branch);
    let shapes = &job.solved(branch).shapes;
    let mut least = LeastGap {
        part: id,
        gap: f64::INFINITY,
        at: 0.0,
        pose: 0,
    };
    for (pose, (shape, stance)) in shapes.iter().zip(&job.solution.stances).enumerate() {
        let motion = stance.bodies[part.on.0];
        let distance =
            |p: &Point3<f64>| rim_distance(&part.shape, &motion.inverse_transform_point(p));
        let stations = &shape.stations;
        let (at, gap) = least_along(&shape.curve, stations, &girths, least.gap, distance);
        if below(gap, least.gap) {
            (least.gap, least.at, least.pose) = (gap, at, pose);
        }
    }
    least
}

/// Distance from a point in the part's frame to the nearest of a box's twelve edges \[m\]; to its surface for any
/// other shape.
fn rim_distance(shape: &Shape, p: &Point3<f64>) -> f64 {
    let Shape::Block {
        centre,
        size,
        turned,
    } = shape
    else {
        return shape.distance(p);
    };
    let half = size * 0.5;
    // Mirrored into the first octant the nearest edges are the three that meet in its corner.
    let q = turned.inverse_transform_vector(&(p - centre)).abs();
    let away = q - half;
    (0..3)
        .map(|axis| {
            let mut to_edge: Vector3<f64> = away;
            // Along the edge there is no way to go, but beyond its end.
            to_edge[axis] = away[axis].max(0.0);
            to_edge.norm()
        })
        .fold(f64::INFINITY, f64::min)
}

fn preload(job: &Job<'_>, branch: BranchId, id: PartId) -> Option<Finding> {
    let part = &job.route.machine.parts[id.0];
    let (mut most, mut worst) = (0.0, None);
    for pose in 0..job.solution.stances.len() {
        let touches = touches(job, branch, pose);
        let own = touches.iter().filter(|touch| touch.part == id);
        let (force, at) = own.fold((0.0, None), |(sum, first), touch| {
            (sum + touch.force, first.or(Some(touch.at)))
        });
        if below(-force, -most) {
            (most, worst) = (force, at.map(|at| (at, pose)));
        }
    }
    let (at, pose) = worst?;
    let limit = job.limit(LimitKey::EdgePreload);
    let force = job.units.show_to(most, Kind::Force, 1);
    Some(
        Measured {
            check: CHECK,
            subject: part.name.clone(),
            branch,
            place: format!("{}, in {}", job.place_words(branch, at), part.name),
            at,
            pose,
            value: most,
            limit: limit.value(),
            kind: Kind::Force,
            at_most: true,
            from: limit,
        }
        .judged(
            || {
                format!(
                    "Pressed against the lip of {} with {force}: lead the branch through its middle, with a clamp on \
                     either side.",
                    part.name
                )
            },
            || format!("Lies in {} with {force}.", part.name),
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Rotation3;

    /// Against the least distance to many points on the twelve edges.
    #[test]
    fn the_rim_of_a_box_is_its_twelve_edges() {
        let size = Vector3::new(0.04, 0.02, 0.003);
        let turned = Rotation3::from_euler_angles(0.3, -0.7, 1.1);
        let centre = Point3::new(0.01, -0.02, 0.03);
        let shape = Shape::Block {
            centre,
            size,
            turned,
        };
        let steps = 2000;
        let mut edges = Vec::new();
        for axis in 0..3 {
            for (s, t) in [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)] {
                for step in 0..=steps {
                    let mut corner = size * 0.5;
                    corner[(axis + 1) % 3] *= s;
                    corner[(axis + 2) % 3] *= t;
                    corner[axis] *= 2.0 * f64::from(step) / f64::from(steps) - 1.0;
                    edges.push(centre + turned * corner);
                }
            }
        }
        for p in [
            [0.0, 0.0, 0.0],
            [0.012, -0.02, 0.035],
            [0.05, 0.01, 0.03],
            [0.01, -0.02, 0.06],
        ] {
            let p = Point3::from(p);
            let brute = edges.iter().map(|q| (p - q).norm()).fold(1.0, f64::min);
            let exact = rim_distance(&shape, &p);
            assert!((exact - brute).abs() < 2e-5, "{p}: {exact} against {brute}");
        }
    }
}
