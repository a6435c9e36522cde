//! Pressed over parts.

use nalgebra::{Point3, Rotation3, Vector3};
use neckloom::geometry::Shape;
use neckloom::rod::Settings;

use super::rig::{Rig, even, refined};

const RADIUS: f64 = 0.004;

fn tube(z: f64) -> Shape {
    Shape::Tube {
        along: vec![Point3::new(0.1, -0.1, z), Point3::new(0.1, 0.1, z)],
        diameter: 0.03,
    }
}

fn plate(z: f64) -> Shape {
    Shape::Block {
        centre: Point3::new(0.1, 0.0, z),
        size: Vector3::new(0.06, 0.2, 0.02),
        turned: Rotation3::identity(),
    }
}

fn ball(z: f64) -> Shape {
    Shape::Ball {
        centre: Point3::new(0.1, 0.003, z),
        diameter: 0.03,
    }
}

/// A span 0.2 m wide whose ends are at z = 0, pulled down over what rises to `top`.
fn over(shape: Shape, length: f64, mass: f64) -> Rig {
    bulged(shape, length, mass, 0.05)
}

/// A span 0.2 m wide whose ends are at z = 0, led by way of a place above or below its middle.
fn bulged(shape: Shape, length: f64, mass: f64, middle: f64) -> Rig {
    let mut rig = Rig::steered(0.2, mass);
    rig.route.branches[0].lay.clear();
    rig.route.machine.bodies[1].joint = neckloom::machine::Joint::Fixed;
    let mut rig = rig.part(shape).fix(0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0);
    rig.fix_via(
        0,
        [0.2, 0.0, 0.0],
        Some([1.0, 0.0, 0.0]),
        length,
        &[[0.1, 0.0, middle]],
    );
    rig
}

#[test]
fn sinks_in_by_less_than_a_fifth_of_a_millimetre() {
    for settings in [Settings::default(), refined(1e-3)] {
        for (name, shape, top) in [
            ("tube", tube as fn(f64) -> Shape, 0.015),
            ("plate", plate, 0.01),
            ("ball", ball, 0.015),
        ] {
            // How far the part stands above the straight line, and how long the span is.
            for (rise, length) in [(0.01, 0.2015), (0.02, 0.2055), (0.02, 0.2065)] {
                let part = shape(rise - top);
                let rig = over(part.clone(), length, 0.09);
                let solution = rig.solved(&settings);
                let curve = &solution.branches[0].shapes[0].curve;
                let mut least = f64::INFINITY;
                for i in 0..=2000 {
                    let p = curve.position(length * f64::from(i) / 2000.0);
                    least = least.min(part.distance(&p));
                }
                let pressed = solution.branches[0].shapes[0]
                    .stations
                    .iter()
                    .map(|s| s.contact)
                    .fold(0.0, f64::max);
                println!(
                    "{name} {rise} {length}: gap {:.3} mm, pressure {pressed:.1} N/m, {:?}",
                    1e3 * (least - RADIUS),
                    solution.branches[0].resolution
                );
                assert!(least - RADIUS > -0.2e-3, "{name} {rise}: {least}");
                // It does lie on it, and above it; off a ball it may slip sideways.
                if name == "ball" {
                    continue;
                }
                assert!(least - RADIUS < 0.2e-3, "{name} {rise}: {least}");
                assert!(curve.position(0.5 * length).z > rise);
                assert!(pressed > 0.0);
            }
        }
    }
}

#[test]
fn a_part_out_of_reach_changes_nothing() {
    for settings in [Settings::default(), refined(1e-3)] {
        let near = over(tube(0.02 - 0.015), 0.206, 0.09);
        let want = near.solved(&settings);
        let far = over(tube(0.02 - 0.015), 0.206, 0.09).part(Shape::Ball {
            centre: Point3::new(0.1, 0.0, 1.0),
            diameter: 0.1,
        });
        let got = far.solved(&settings);
        let (got, want) = (&got.branches[0].shapes[0], &want.branches[0].shapes[0]);
        for (got, want) in got.stations.iter().zip(&want.stations) {
            assert!((got.position - want.position).norm() < 1e-9);
            assert!((got.curvature - want.curvature).abs() < 1e-6 * want.curvature.max(1.0));
        }
    }
}

#[test]
fn a_part_below_that_is_not_touched_leaves_the_shape() {
    let free = over(tube(-0.5), 0.22, 0.09).solved(&refined(1e-4));
    let beside = over(tube(-0.065), 0.22, 0.09).solved(&refined(1e-4));
    let (a, b) = (
        &free.branches[0].shapes[0].spans[0],
        &beside.branches[0].shapes[0].spans[0],
    );
    assert!((a.curvature / b.curvature - 1.0).abs() < 1e-6);
    assert!((a.tension - b.tension).abs() < 1e-6 * a.tension.abs());
}

#[test]
fn a_part_that_one_step_of_the_walk_reaches_is_not_overlooked() {
    // Both ends slide 50 mm a step, far beyond what is near at rest, and the first step ends on a thin post.
    let post = Shape::Tube {
        along: vec![Point3::new(0.052, 0.0, -0.2), Point3::new(0.052, 0.0, 0.2)],
        diameter: 0.01,
    };
    let joint = neckloom::machine::Joint::Slides {
        along: Vector3::x_axis(),
        from: 0.0,
        to: 0.25,
    };
    let rig = Rig::new(joint, 0.5)
        .part(post.clone())
        .fix(1, [0.0, -0.1, 0.0], Some([0.0, 1.0, 0.0]), 0.0)
        .fix(1, [0.0, 0.1, 0.0], Some([0.0, 1.0, 0.0]), 0.203);
    let solution = rig.solved(&even(16));
    for (pose, shape) in solution.branches[0].shapes.iter().enumerate() {
        let end = shape.curve.end();
        let gaps =
            (0..=1000).map(|i| post.distance(&shape.curve.position(end * f64::from(i) / 1000.0)));
        let least = gaps.fold(f64::INFINITY, f64::min) - RADIUS;
        assert!(least > -0.2e-3, "pose {pose}: {least}");
    }
}

/// Two straight pieces of a tube that fall to a hollow under the middle of the span, a little off it to one side.
fn hollow(slope: f64, aside: f64) -> Shape {
    Shape::Tube {
        along: vec![
            Point3::new(0.1, aside - 0.1, 0.1 * slope),
            Point3::new(0.1, aside, 0.0),
            Point3::new(0.1, aside + 0.1, 0.1 * slope),
        ],
        diameter: 0.03,
    }
}

/// In the hollow the nearest place jumps from one piece to the other just where the branch comes to rest.
#[test]
fn it_rests_in_a_hollow() {
    for slope in [0.3, 0.6, 1.0] {
        for aside in [0.0, 0.0004, 0.002] {
            for (rise, length) in [(0.01, 0.2015), (0.02, 0.2065)] {
                let mut rig = over(hollow(slope, aside), length, 0.09);
                let mut part = rig.route.machine.parts[0].shape.clone();
                if let Shape::Tube { along, .. } = &mut part {
                    along.iter_mut().for_each(|p| p.z += rise - 0.015);
                }
                rig.route.machine.parts[0].shape = part.clone();
                let solution = rig.solved(&Settings::default());
                let shape = &solution.branches[0].shapes[0];
                let lowest = shape.curve.position(0.5 * length);
                assert!(
                    (lowest.y - aside).abs() < 0.3e-3,
                    "slope {slope}, {aside} aside: rests at {}",
                    lowest.y
                );
                // Off both pieces by its radius, less what it may sink in.
                let gap = part.distance(&lowest) - RADIUS;
                assert!((-0.2e-3..0.1e-3).contains(&gap), "{gap}");
            }
        }
    }
}

/// What presses, summed over the stations, is what the fixings and the weight bear.
#[test]
fn what_presses_is_what_is_borne() {
    for under in [0.01, 0.015, 0.02] {
        // It hangs down on a wide block, which presses straight up.
        let wide = Shape::Block {
            centre: Point3::new(0.1, 0.0, -under - RADIUS - 0.1),
            size: Vector3::new(0.6, 0.6, 0.2),
            turned: Rotation3::identity(),
        };
        let rig = bulged(wide, 0.21, 0.09, -0.5 * under);
        let solution = rig.solved(&Settings::default());
        let shape = &solution.branches[0].shapes[0];
        let stations = &shape.stations;
        let mut pressed = 0.0;
        for (i, station) in stations.iter().enumerate() {
            let before = stations[i.saturating_sub(1)].at;
            let after = stations[(i + 1).min(stations.len() - 1)].at;
            pressed += station.contact * 0.5 * (after - before);
        }
        let held: f64 = shape.holds.iter().map(|hold| hold.force.z).sum();
        let weight = 0.09 * 9.80665 * 0.21;
        assert!(pressed > 0.05, "{pressed}");
        assert!(
            (held + pressed - weight).abs() < 1e-5 * pressed,
            "pressed {pressed}, held {held}, weight {weight}"
        );
    }
}
