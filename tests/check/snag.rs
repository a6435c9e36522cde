//! Snags, against sweeps that are known exactly.

use nalgebra::{Point3, Rotation3, Vector3};
use neckloom::check::Verdict;
use neckloom::geometry::Shape;
use neckloom::harness::LengthRule;
use neckloom::route::Route;

use super::hand::{
    FRAME, SEAT, STEERING, checked, finding, machine_with_seat, part, route, straight, tie,
};

/// A straight branch of 10 mm along x at the height z = 0, on the frame.
fn along_x() -> Route {
    route(
        machine_with_seat(30.0, 8.0),
        10.0,
        vec![
            tie("T1", FRAME, [0.0; 3]),
            tie("T2", FRAME, [250.0, 0.0, 0.0]),
        ],
    )
}

fn ball(centre: [f64; 3], diameter: f64) -> Shape {
    Shape::Ball {
        centre: Point3::from(Vector3::from(centre) * 1e-3),
        diameter: diameter * 1e-3,
    }
}

fn pan(lower_face_mm: f64) -> Shape {
    Shape::Block {
        centre: Point3::new(0.125, 0.0, (lower_face_mm + 3.0) * 1e-3),
        size: Vector3::new(0.2, 0.1, 0.006),
        turned: Rotation3::identity(),
    }
}

/// 8 mm down: what is 20 mm above the branch's middle comes to 12 mm, 7 mm from its surface.
#[test]
fn seven_millimetres_outside_what_a_part_sweeps() {
    for (height, expected) in [
        (20.1, Verdict::Within),
        (20.0, Verdict::Within),
        (19.9, Verdict::Over),
        (12.0, Verdict::Over),
    ] {
        let mut route = along_x();
        route
            .machine
            .parts
            .push(part("seat pan", SEAT, pan(height)));
        let findings = checked(&route, &straight(&route));
        let found = finding(&findings, "snag", "seat pan");
        assert!(
            (found.value * 1e3 - (height - 13.0)).abs() < 1e-6,
            "{}",
            found.value
        );
        assert_eq!(found.verdict, expected, "{height} mm");
    }
}

/// A small ball that passes over the branch at −1°, half way between two poses.
#[test]
fn a_part_that_passes_between_two_poses_is_seen() {
    let mut route = along_x();
    let (sin, cos) = 1.0_f64.to_radians().sin_cos();
    let centre = [200.0 * cos, 200.0 * sin, 12.0];
    route
        .machine
        .parts
        .push(part("bolt", STEERING, ball(centre, 4.0)));
    let findings = checked(&route, &straight(&route));
    let found = finding(&findings, "snag", "bolt");
    assert!(
        (found.value * 1e3 - 5.0).abs() < 1e-3,
        "{}",
        found.value * 1e3
    );
}

/// Slack lets the branch be drawn aside by ½√(L² − d²); the pan's lower face comes down to 30 mm above its middle, so
/// that its surface is met when that is 25 mm.
#[test]
fn slack_that_a_part_may_catch_is_close() {
    for (aside, expected) in [(24.9, None), (25.1, Some(Verdict::Close))] {
        let mut route = along_x();
        route.machine.parts.push(part("seat pan", SEAT, pan(38.0)));
        let length = 250.0_f64.hypot(2.0 * aside);
        route.branches[0].lay[1].length = LengthRule::Measured(length * 1e-3);
        let findings = checked(&route, &straight(&route));
        let found = findings.findings.iter().find(|f| f.check == "snag");
        assert_eq!(found.map(|f| f.verdict), expected, "{aside} mm");
        if let Some(found) = found {
            assert!(found.advice.contains("catch"), "{}", found.advice);
            assert!((found.value * 1e3 - 25.0).abs() < 1e-6, "{}", found.value);
        }
    }
}

/// Half an inch aside is what a span between supports may have: that much is not a loop to catch.
#[test]
fn a_span_that_is_held_well_enough_is_not_free() {
    let mut route = along_x();
    // Lower face at 17 mm above the middle: 12 mm from the surface, less than half an inch.
    route.machine.parts.push(part("seat pan", SEAT, pan(25.0)));
    let length = 250.0_f64.hypot(2.0 * 12.6);
    route.branches[0].lay[1].length = LengthRule::Measured(length * 1e-3);
    let findings = checked(&route, &straight(&route));
    assert_eq!(
        finding(&findings, "snag", "seat pan").verdict,
        Verdict::Within
    );
}

/// A span on the steering is carried along with what turns with it, and one across the steering head with one end.
#[test]
fn what_a_span_is_fixed_to_does_not_sweep_past_it() {
    for (a, b) in [(STEERING, STEERING), (FRAME, STEERING)] {
        let mut route = along_x();
        route.branches[0].lay[0].fixing.on = a;
        route.branches[0].lay[1].fixing.on = b;
        route
            .machine
            .parts
            .push(part("ear", STEERING, ball([125.0, 0.0, 14.0], 10.0)));
        let findings = checked(&route, &straight(&route));
        assert!(
            findings.findings.iter().all(|f| f.check != "snag"),
            "{a:?} {b:?}"
        );
    }
}
