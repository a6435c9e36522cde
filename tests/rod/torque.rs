//! What the fixings carry: against the change of energy, and in balance.

use nalgebra::{Point3, Vector3};
use neckloom::machine::Joint;
use neckloom::rod::{BranchSolution, Shape};
use neckloom::route::Route;

use super::rig::{Rig, refined};

const GRAVITY: f64 = 9.80665;

/// Energy of a shape \[J\]: ½ EI κ² and T²/2EA by Boole's rule over each element's five stations, ½ GJ τ² L, and the
/// height of its weight.
fn energy(route: &Route, branch: &BranchSolution, shape: &Shape) -> f64 {
    let stiffness = &route.branches[0].stiffness;
    let density = |k: usize| {
        let s = &shape.stations[k];
        0.5 * stiffness.bend * s.curvature.powi(2)
            + 0.5 * s.tension.powi(2) / stiffness.stretch
            + stiffness.mass * GRAVITY * s.position.z
    };
    let mut sum = 0.0;
    let mut k = 0;
    while k + 4 < shape.stations.len() {
        let h = shape.stations[k + 4].at - shape.stations[k].at;
        if h <= 0.0 {
            k += 1;
            continue;
        }
        let weights = [7.0, 32.0, 12.0, 32.0, 7.0];
        sum += (0..5).map(|i| weights[i] * density(k + i)).sum::<f64>() * h / 90.0;
        k += 4;
        if k + 1 < shape.stations.len() && shape.stations[k + 1].at <= shape.stations[k].at {
            k += 1;
        }
    }
    for (span, state) in branch.spans.iter().zip(&shape.spans) {
        sum += 0.5 * stiffness.twist * state.twist.powi(2) / span.length;
    }
    sum
}

/// Moment of the holds on body 1 about the steering axis.
fn torque(route: &Route, shape: &Shape) -> f64 {
    let Joint::Turns { through, axis, .. } = route.machine.bodies[1].joint else {
        panic!("a turning joint")
    };
    let mut sum = 0.0;
    for (lay, hold) in route.branches[0].lay.iter().zip(&shape.holds) {
        if lay.fixing.on.0 == 1 {
            // The station at the fixing: the last of all here, or found by its length.
            let at = fixing_place(route, lay.fixing.place, shape);
            sum += axis.dot(&(hold.moment + (at - through).cross(&hold.force)));
        }
    }
    sum
}

fn fixing_place(route: &Route, place: usize, shape: &Shape) -> Point3<f64> {
    // Fixings of the moved body come last, in order.
    let count = route.branches[0].lay.len();
    let index = route.branches[0]
        .lay
        .iter()
        .position(|l| l.fixing.place == place)
        .unwrap();
    if index + 1 == count {
        shape.stations[shape.stations.len() - 1].position
    } else {
        let ends: Vec<_> = shape
            .stations
            .windows(2)
            .filter(|w| w[1].at <= w[0].at)
            .map(|w| w[0].position)
            .collect();
        ends[index - 1]
    }
}

fn rigs() -> Vec<(&'static str, Rig)> {
    let lock = 40.0_f64.to_radians();
    let joint = Joint::steering(Point3::origin(), 30.0_f64.to_radians(), -lock, lock);
    vec![
        ("light", Rig::steered(0.232, 0.0)),
        ("heavy", Rig::steered(0.25, 0.3)),
        ("long", Rig::steered(0.30, 0.09)),
        (
            "two spans with a tie on the moved body",
            Rig::new(joint, 0.09)
                .fix(0, [-0.095, 0.028, 0.035], Some([1.0, 0.0, 0.2]), 0.0)
                .fix(1, [0.03, 0.03, 0.12], Some([1.0, 0.0, 0.6]), 0.19)
                .fix(1, [0.12, 0.05, 0.16], Some([0.6, 0.2, 0.3]), 0.12),
        ),
        (
            "an eye without direction between",
            Rig::new(joint, 0.09)
                .fix(0, [-0.095, 0.028, 0.035], Some([1.0, 0.0, 0.2]), 0.0)
                .fix(1, [0.03, 0.03, 0.12], None, 0.185)
                .fix(1, [0.12, 0.05, 0.16], Some([0.6, 0.2, 0.3]), 0.11),
        ),
    ]
}

/// The work of turning is the change of energy: the moment about the axis is its derivative (Castigliano).
#[test]
fn torque_is_the_derivative_of_the_energy() {
    for accuracy in [1e-4, 1e-5] {
        for (name, rig) in rigs() {
            let solution = rig.solved(&refined(accuracy));
            let branch = &solution.branches[0];
            let energies: Vec<f64> = branch
                .shapes
                .iter()
                .map(|s| energy(&rig.route, branch, s))
                .collect();
            let torques: Vec<f64> = branch
                .shapes
                .iter()
                .map(|s| torque(&rig.route, s))
                .collect();
            let greatest = torques.iter().fold(0.0_f64, |m, t| m.max(t.abs()));
            let mut worst = 0.0_f64;
            for i in 2..energies.len() - 2 {
                let joint = |k: usize| solution.sweep.poses[k].joints[1];
                let step = joint(i + 1) - joint(i);
                let snapped = branch.snaps.iter().any(|s| s.from.abs_diff(i) < 4);
                if snapped || (joint(i) - joint(i - 1) - step).abs() > 1e-9 {
                    continue;
                }
                let slope = (energies[i - 2] - 8.0 * energies[i - 1] + 8.0 * energies[i + 1]
                    - energies[i + 2])
                    / (12.0 * step);
                worst = worst.max((slope - torques[i]).abs() / greatest);
            }
            println!("{name} {accuracy:e}: greatest {greatest:.4} Nm, worst {worst:.1e}");
            // The difference of poses 2° apart is itself good to some 1e-4.
            assert!(worst < 1e-3, "{name}: {worst}");
        }
    }
}

#[test]
fn forces_and_moments_balance() {
    for (name, rig) in rigs() {
        let solution = rig.solved(&refined(1e-5));
        let mass = rig.route.branches[0].stiffness.mass;
        for (pose, shape) in solution.branches[0].shapes.iter().enumerate() {
            let weight = Vector3::new(0.0, 0.0, -mass * GRAVITY);
            let mut force = weight * (shape.curve.end() - shape.curve.start());
            let mut moment = Vector3::zeros();
            let mut scale = (0.0_f64, 0.0_f64);
            for pair in shape.curve.knots().windows(2) {
                // A cubic's mean by Simpson.
                let h = pair[1].at - pair[0].at;
                let middle = shape.curve.position(0.5 * (pair[0].at + pair[1].at));
                let mean =
                    (pair[0].position.coords + middle.coords * 4.0 + pair[1].position.coords) / 6.0;
                moment += mean.cross(&(weight * h));
            }
            let stance = &solution.stances[pose];
            for (lay, hold) in shape.holds.iter().enumerate() {
                let at = rig
                    .route
                    .fixing_position(&rig.route.branches[0], lay, stance);
                force += hold.force;
                moment += hold.moment + at.coords.cross(&hold.force);
                scale.0 = scale.0.max(hold.force.norm());
                scale.1 = scale.1.max(hold.moment.norm());
            }
            assert!(
                force.norm() < 1e-6 * scale.0,
                "{name}, pose {pose}: {force:?} of {}",
                scale.0
            );
            assert!(
                moment.norm() < 1e-6 * scale.1,
                "{name}, pose {pose}: {moment:?} of {}",
                scale.1
            );
        }
    }
}
