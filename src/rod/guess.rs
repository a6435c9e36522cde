//! The first guess of a strand at rest: the smooth path, bulged out where the harness is longer than it.

use nalgebra::{UnitVector3, Vector3};

use crate::geometry::Curve;

use super::element::Node;
use super::held::Target;
use super::strand::{State, Strand};
use super::twist::across;

/// Number of places at which a span's path is looked at to spread the nodes evenly along it.
const SAMPLES: usize = 64;

/// A state along `path`, whose knots `knots[i]..knots[i + 1]` belong to the i-th span of the strand; where nothing else tells a
/// side, the machine's `axes` do.
pub(super) fn guess(
    strand: &Strand,
    path: &Curve,
    knots: &[usize],
    target: &Target,
    axes: &[Vector3<f64>; 3],
) -> State {
    let mut nodes = vec![
        Node {
            r: Vector3::zeros(),
            t: axes[0]
        };
        strand.at.len()
    ];
    for span in 0..strand.fixings.len() - 1 {
        let (first, last) = (strand.fixings[span], strand.fixings[span + 1]);
        let ends = (
            path.knots()[knots[span]].at,
            path.knots()[knots[span + 1]].at,
        );
        let length = strand.at[last] - strand.at[first];
        let reached = distances(path, ends);
        let total = reached[SAMPLES];
        let chord = target.holds[span + 1].position - target.holds[span].position;
        let side = bulge(path, ends, &chord, &strand.material.weight, axes);
        let ahead = chord.try_normalize(0.0).unwrap_or(axes[0]);
        let amplitude = 2.0 / std::f64::consts::PI * (length * (length - total).max(0.0)).sqrt();
        for j in first..=last {
            let u = (strand.at[j] - strand.at[first]) / length;
            let (position, slope, _) = path.sample(place_at(&reached, ends, u * total));
            let phase = std::f64::consts::PI * u;
            let r = position.coords + side * (amplitude * phase.sin().powi(2));
            let stretch = (total / length).min(1.0);
            let t = slope.try_normalize(0.0).unwrap_or(ahead) * stretch
                + side * (amplitude * std::f64::consts::PI / length * (2.0 * phase).sin());
            nodes[j] = Node {
                r,
                t: t.try_normalize(1e-9).unwrap_or(ahead),
            };
        }
    }
    for (&node, hold) in strand.fixings.iter().zip(&target.holds) {
        nodes[node].r = hold.position;
        if let Some(facing) = hold.facing {
            nodes[node].t = facing.into_inner();
        }
    }
    // Until it is known where the machine's axes are.
    let pole = Vector3::z_axis();
    State {
        end: vec![0.0; nodes.len()],
        middle: vec![0.0; nodes.len() - 1],
        nodes,
        moment: 0.0,
        angle: 0.0,
        pole,
        slid: Vec::new(),
    }
}

/// Distance along the path at evenly spaced parameters.
fn distances(path: &Curve, ends: (f64, f64)) -> Vec<f64> {
    let at = |i: usize| {
        ends.0
            + (ends.1 - ends.0) * f64::from(u32::try_from(i).unwrap_or(0))
                / f64::from(u32::try_from(SAMPLES).unwrap_or(1))
    };
    let mut reached = vec![0.0];
    let mut sum = 0.0;
    for i in 0..SAMPLES {
        sum += (path.position(at(i + 1)) - path.position(at(i))).norm();
        reached.push(sum);
    }
    reached
}

/// Parameter of the path at a distance along it.
fn place_at(reached: &[f64], ends: (f64, f64), distance: f64) -> f64 {
    let above = reached.partition_point(|d| *d < distance).clamp(1, SAMPLES);
    let (a, b) = (reached[above - 1], reached[above]);
    let inside = if b > a { (distance - a) / (b - a) } else { 0.0 };
    let index = f64::from(u32::try_from(above - 1).unwrap_or(0)) + inside;
    ends.0 + (ends.1 - ends.0) * index / f64::from(u32::try_from(SAMPLES).unwrap_or(1))
}

/// To which side a span bulges: the way its path already bends, else down, else any.
fn bulge(
    path: &Curve,
    ends: (f64, f64),
    chord: &Vector3<f64>,
    weight: &Vector3<f64>,
    axes: &[Vector3<f64>; 3],
) -> Vector3<f64> {
    let Some(along) = UnitVector3::try_new(*chord, 0.0) else {
        return axes[2];
    };
    let square = |v: Vector3<f64>| v - along.into_inner() * along.dot(&v);
    let middle = path.position(0.5 * (ends.0 + ends.1)) - path.position(ends.0);
    let bent = square(middle);
    if bent.norm() > 0.01 * chord.norm() {
        return bent.normalize();
    }
    let down = square(*weight);
    if down.norm() > 1e-3 * weight.norm() && weight.norm() > 0.0 {
        return down.normalize();
    }
    across(&along, axes)
}
