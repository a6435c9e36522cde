//! Rubbing, against ways that are known exactly. No published limit exists; the numbers here are geometry.

use std::sync::Arc;

use nalgebra::{Point3, Rotation3, Vector3};
use neckloom::check::Verdict;
use neckloom::geometry::Shape;
use neckloom::machine::{BodyId, Edge};
use neckloom::rod::Solution;
use neckloom::route::Route;

use super::hand::{
    FRAME, SEAT, STEERING, checked, finding, machine_with_seat, part, route, straight, tie,
};

/// A straight branch of 10 mm along x that lies on a wide plate, which turns or slides under it.
fn on_a_plate(on: BodyId) -> Route {
    let mut route = route(
        machine_with_seat(30.0, 8.0),
        10.0,
        vec![
            tie("T1", FRAME, [0.0; 3]),
            tie("T2", FRAME, [250.0, 0.0, 0.0]),
        ],
    );
    route.machine.parts.push(part(
        "plate",
        on,
        Shape::Block {
            centre: Point3::new(0.0, 0.0, -0.010),
            size: Vector3::new(1.0, 1.0, 0.010),
            turned: Rotation3::identity(),
        },
    ));
    route
}

/// Presses the branch against the plate half way along, with this force in every pose.
fn pressed(route: &Route, force: f64) -> Solution {
    let mut solution = straight(route);
    for shape in &mut solution.branches[0].shapes {
        // Five stations, 62.5 mm apart: the middle one stands for 62.5 mm.
        Arc::make_mut(shape).stations[2].contact = force / 0.0625;
    }
    solution
}

/// 125 mm from the axis the plate passes under the branch on an arc of 60°, there and back: the poses are 2°
/// apart, so the way is counted in 30 chords.
#[test]
fn force_times_way_over_a_sweep_and_back() {
    let route = on_a_plate(STEERING);
    let chords = 2.0 * 30.0 * 2.0 * 0.125 * 1.0_f64.to_radians().sin();
    let arc = 2.0 * 0.125 * 60.0_f64.to_radians();
    for force in [0.1, 0.35, 0.45, 3.0] {
        let findings = checked(&route, &pressed(&route, force));
        let found = finding(&findings, "chafe", "plate");
        assert!(
            (found.value - force * chords).abs() < 1e-9,
            "{}",
            found.value
        );
        assert!((found.value / (force * arc) - 1.0).abs() < 1e-4);
        assert!((found.at - 0.125).abs() < 1e-9);
        let over = force * chords > 0.1;
        assert_eq!(found.verdict == Verdict::Over, over, "{force} N");
        // The plate also sweeps where the branch lies; over its limit the rubbing follows from that.
        let cause = found.follows_from.as_deref();
        let told = found.advice.contains("stop to stop and back");
        assert!(if over {
            cause == Some("lying where plate sweeps")
        } else {
            told
        });
    }
}

#[test]
fn nothing_may_rub_on_a_sharp_edge() {
    let mut route = on_a_plate(STEERING);
    route.machine.parts[0].edge = Some(Edge::Sharp);
    let findings = checked(&route, &pressed(&route, 0.01));
    let found = finding(&findings, "chafe", "plate");
    assert_eq!((found.verdict, found.limit), (Verdict::Over, 0.0));
    assert!(found.source.contains("11-115"), "{}", found.source);
}

/// A part that comes straight against the branch and goes again presses, but does not rub; nor does one that
/// stands still.
#[test]
fn what_moves_square_to_its_surface_does_not_rub() {
    for on in [SEAT, FRAME] {
        let route = on_a_plate(on);
        let findings = checked(&route, &pressed(&route, 3.0));
        assert!(
            findings.findings.iter().all(|f| f.check != "chafe"),
            "{on:?}"
        );
    }
}
