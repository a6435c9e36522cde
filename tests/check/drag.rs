//! Steering drag of solved harnesses: against the torsion of a straight bar, and against the balance of torques.

use nalgebra::{Unit, Vector3};
use neckloom::check::{Options, check};
use neckloom::harness::LengthRule;
use neckloom::rod::{self, Settings};

use super::hand::{FRAME, STEERING, finding, machine, route, tie};

fn quick() -> Options {
    Options {
        spread: false,
        ..Options::default()
    }
}

/// A straight span along the steering axis only twists: Saint-Venant's M = GJ·δ/L, against the turn.
#[test]
fn a_span_along_the_axis_resists_with_its_torsion() {
    let mut route = route(
        machine(30.0),
        8.0,
        vec![
            tie("T1", FRAME, [0.0; 3]),
            tie("T2", STEERING, [0.0, 0.0, 250.0]),
        ],
    );
    for entry in &mut route.branches[0].lay {
        entry.fixing.facing = Some(Vector3::z_axis());
    }
    route.branches[0].stiffness.mass = 0.0;
    let solution = rod::solve(&route, &Settings::default());
    let findings = check(&route, &solution, &quick());
    let chart = &findings.against[0];
    for (&angle, &torque) in chart.values.iter().zip(&chart.load) {
        let exact = -0.0027 * angle / 0.25;
        assert!(
            (torque - exact).abs() < 1e-6 + 1e-3 * exact.abs(),
            "{angle} rad: {torque} against {exact} N m"
        );
    }
    let drag = finding(&findings, "steering drag", "about steering");
    assert!((drag.value - 0.0027 * 30.0_f64.to_radians() / 0.25).abs() < 1e-5);
    assert_eq!(drag.pose, 0, "both stops tie: the lowest id");
    assert!(drag.advice.contains("pulls back"), "{}", drag.advice);
}

/// Weight has no torque about a vertical axis, so what the steering feels is what the frame holds against.
#[test]
fn what_the_steering_feels_the_frame_holds() {
    let mut route = route(
        machine(30.0),
        8.0,
        vec![
            tie("T1", FRAME, [-120.0, 20.0, -40.0]),
            tie("T2", FRAME, [-60.0, 20.0, -20.0]),
            tie("T3", STEERING, [60.0, 30.0, 90.0]),
        ],
    );
    route.branches[0].lay[1].length = LengthRule::Measured(0.066);
    route.branches[0].lay[2].length = LengthRule::Measured(0.190);
    route.branches[0].lay[2].fixing.facing = Some(Unit::new_normalize(Vector3::new(0.2, 1.0, 1.0)));
    let solution = rod::solve(&route, &Settings::default());
    let findings = check(&route, &solution, &quick());
    let chart = &findings.against[0];
    let mut greatest: f64 = 0.0;
    for (&pose, &torque) in chart.poses.iter().zip(&chart.load) {
        let shape = &solution.branches[0].shapes[pose];
        let stance = &solution.stances[pose];
        let held: f64 = (0..2)
            .map(|lay| {
                let at = route.fixing_position(&route.branches[0], lay, stance);
                let hold = &shape.holds[lay];
                (at.coords.cross(&hold.force) + hold.moment).z
            })
            .sum();
        greatest = greatest.max(torque.abs());
        assert!(
            (torque - held).abs() < 1e-5 + 1e-3 * torque.abs(),
            "pose {pose}: {torque} against {held} N m"
        );
    }
    assert!(greatest > 1e-3, "something to compare: {greatest}");
}
