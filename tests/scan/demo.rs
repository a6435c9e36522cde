//! The demo with a whole harness over a scanned frame: what it holds, that it comes to rest everywhere, and that flying
//! points of the scan are nowhere near it.

use std::path::Path;

use nalgebra::Vector3;
use neckloom::geometry::Shape;
use neckloom::harness::{FixingKind, Held};
use neckloom::read::route_file;
use neckloom::rod::{Settings, solve};

use super::make_demo;

#[test]
fn whole_harness_is_at_rest() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("routes/tourer_whole_harness.ron");
    let route = route_file(&path).unwrap_or_else(|faults| panic!("{faults}"));
    let fixings = route.branches.iter().flat_map(|branch| &branch.lay);
    let fixings = fixings.filter(|lay| lay.fixing.kind != FixingKind::Breakout);
    assert!(route.branches.len() >= 12 && route.wires.len() >= 60);
    assert!(fixings.count() >= 40 && route.breakouts.len() >= 6);
    let solution = solve(&route, &Settings::default());
    let flying = make_demo::make(make_demo::SEED);
    let frame = route
        .machine
        .parts
        .iter()
        .find(|part| matches!(part.shape, Shape::Scan(_)))
        .unwrap();
    assert_eq!(
        frame.on.0, 0,
        "the scan rides on the frame, which is drawn where it is"
    );
    for (branch, solved) in route.branches.iter().zip(&solution.branches) {
        assert!(solved.snaps.is_empty(), "{}", branch.name);
        for (pose, shape) in solved.shapes.iter().enumerate() {
            assert!(shape.converged, "{}, pose {pose}", branch.name);
            for station in &shape.stations {
                for &i in &flying.flying {
                    let off = (flying.points[i] - station.position).norm();
                    assert!(
                        off > 0.04,
                        "{}, pose {pose}: a flying point {off} m off",
                        branch.name
                    );
                }
            }
        }
    }
    for breakout in &route.breakouts {
        for pose in 0..solution.stances.len() {
            let (mut force, mut moment) = (Vector3::zeros(), Vector3::zeros());
            let mut most = (0.0_f64, 0.0_f64);
            for meeting in &breakout.meets {
                let hold = &solution.branches[meeting.branch.0].shapes[pose].holds[meeting.lay];
                force += hold.force;
                moment += hold.moment;
                most.0 = most.0.max(hold.force.norm());
                most.1 = most.1.max(hold.moment.norm());
            }
            // What holds a breakout in its place bears the rest of the forces.
            let force = if breakout.held == Held::Floats {
                force.norm()
            } else {
                0.0
            };
            let moment = if breakout.held == Held::Firmly {
                0.0
            } else {
                moment.norm()
            };
            assert!(
                force < 1e-6 * most.0 && moment < 1e-6 * most.1,
                "{}, pose {pose}: {force} N, {moment} N m",
                breakout.name
            );
        }
    }
}
