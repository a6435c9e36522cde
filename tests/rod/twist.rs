//! Twist: its sign, and its value against carrying a director along the solved centreline.

use nalgebra::{Point3, Rotation3, UnitVector3, Vector3};
use neckloom::geometry::Curve;
use neckloom::machine::Joint;

use super::rig::{BEND, Rig, even, refined, short};

fn turns(through: [f64; 3], axis: [f64; 3], lock: f64) -> Joint {
    Joint::Turns {
        through: Point3::from(through),
        axis: UnitVector3::new_normalize(Vector3::from(axis)),
        from: -lock,
        to: lock,
    }
}

/// Turned about itself, a straight rod twists by what it is turned; right-handed from start to end, whichever end
/// turns and whichever way the axis points.
#[test]
fn straight_and_turned() {
    let tip = [0.2, 0.0, 0.0];
    for (bodies, axis, sign) in [
        ((0, 1), [1.0, 0.0, 0.0], 1.0),
        ((1, 0), [1.0, 0.0, 0.0], -1.0),
        ((0, 1), [-1.0, 0.0, 0.0], -1.0),
    ] {
        let solution = Rig::new(turns([0.0; 3], axis, 0.7), 0.0)
            .fix(bodies.0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0)
            .fix(bodies.1, tip, Some([1.0, 0.0, 0.0]), 0.2)
            .solved(&even(8));
        for (pose, shape) in solution
            .sweep
            .poses
            .iter()
            .zip(&solution.branches[0].shapes)
        {
            assert!((shape.spans[0].twist - sign * pose.joints[1]).abs() < 1e-9);
        }
    }
}

/// A loose span whose two ends lie on the steering axis and along it twists by exactly the lock, since nothing else
/// changes: the same curve fits at every angle.
#[test]
fn laid_along_the_steering_axis() {
    let rake = 30.0_f64.to_radians();
    let axis = [-rake.sin(), 0.0, rake.cos()];
    let lock = 40.0_f64.to_radians();
    for (excess, tolerance) in [(1.0, 1e-9), (1.02, 2e-3)] {
        let mut rig = Rig::new(Joint::steering(Point3::origin(), rake, -lock, lock), 0.0);
        // Softly twisted, so that the moment does not wind the loop up.
        rig.stiffness().twist = 1e-3 * BEND;
        let solution = rig
            .fix(0, axis.map(|x| -0.1 * x), Some(axis), 0.0)
            .fix(1, axis.map(|x| 0.1 * x), Some(axis), 0.2 * excess)
            .solved(&even(16));
        for (pose, shape) in solution
            .sweep
            .poses
            .iter()
            .zip(&solution.branches[0].shapes)
        {
            let (twist, theta) = (shape.spans[0].twist, pose.joints[1]);
            // A bulge is free to turn about the axis by half the lock: it carries the twist equally well.
            assert!(
                (twist - theta).abs() < tolerance,
                "excess {excess}: {twist} at {theta}"
            );
        }
    }
}

/// A quarter circle whose end turns about its own tangent.
#[test]
fn quarter_circle() {
    let radius = 0.1;
    let lock = 0.6;
    let mut errors = Vec::new();
    for softer in [1.0, 1e-1, 1e-3] {
        let mut rig = Rig::new(turns([radius, 0.0, 0.0], [0.0, 0.0, 1.0], lock), 0.0);
        rig.stiffness().twist = softer * BEND;
        let length = radius * std::f64::consts::FRAC_PI_2;
        let solution = rig
            .fix(0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0)
            .fix(1, [radius, 0.0, radius], Some([0.0, 0.0, 1.0]), length)
            .solved(&even(16));
        let worst = solution
            .sweep
            .poses
            .iter()
            .zip(&solution.branches[0].shapes)
            .map(|(pose, shape)| {
                let (twist, theta) = (shape.spans[0].twist, pose.joints[1]);
                assert!(twist * theta >= 0.0, "right-handed from start to end");
                (twist - theta).abs()
            });
        errors.push(worst.fold(0.0, f64::max));
    }
    println!("twist less turn as GJ falls: {}", short(&errors));
    // A circle with the twisting moment m and a force m κ across its plane is in equilibrium: it stays.
    assert!(errors.iter().all(|e| *e < 1e-9));
}

/// A director carried along a curve by the shortest turn from each tangent to the next.
fn carried(curve: &Curve, mut director: Vector3<f64>) -> Vector3<f64> {
    let pieces = 6000;
    let (start, end) = (curve.start(), curve.end());
    let mut before = curve.tangent(start);
    for i in 1..=pieces {
        let at = start + (end - start) * f64::from(i) / f64::from(pieces);
        let t = curve.tangent(at);
        let turn = Rotation3::rotation_between(&before, &t).unwrap();
        director = turn * director;
        before = t;
    }
    director
}

#[test]
fn against_carrying_a_director_by_hand() {
    for (length, mass, settings) in [
        (0.232, 0.0, refined(1e-4)),
        (0.232, 0.09, refined(1e-4)),
        (0.26, 0.09, refined(1e-3)),
        (0.32, 0.0, refined(1e-4)),
        (0.215, 0.09, refined(1e-5)),
    ] {
        let solution = Rig::steered(length, mass).solved(&settings);
        let branch = &solution.branches[0];
        let rest = solution.sweep.rest;
        let across = |t: &Vector3<f64>| t.cross(&Vector3::y()).normalize();
        let start = across(&branch.shapes[rest].curve.tangent(0.0));
        let end = carried(&branch.shapes[rest].curve, start);
        let mut worst = 0.0_f64;
        for (pose, shape) in branch.shapes.iter().enumerate() {
            let bodies = &solution.stances[pose].bodies;
            let arrived = carried(&shape.curve, bodies[0] * start);
            let held = bodies[1] * end;
            let t = shape.curve.tangent(shape.curve.end());
            let twist = t.dot(&arrived.cross(&held)).atan2(arrived.dot(&held));
            let off = (twist - shape.spans[0].twist).to_degrees();
            let off = off - 360.0 * (off / 360.0).round();
            worst = worst.max(off.abs());
            assert!(
                off.abs() < 0.1,
                "length {length}, pose {pose}: {off}° apart"
            );
        }
        println!(
            "length {length} mass {mass} {:e}: at most {worst:.4}° apart",
            settings.accuracy
        );
        let most = branch
            .shapes
            .iter()
            .map(|s| s.spans[0].twist.abs())
            .fold(0.0, f64::max);
        assert!(most > 5.0_f64.to_radians(), "the sweep twists it: {most}");
        assert!(
            branch.shapes[rest].spans[0].twist.abs() < 1e-9,
            "none at rest"
        );
    }
}
