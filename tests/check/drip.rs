//! Drip loops before connectors that are entered from above (FAA AC 43.13-1B para 11-96 (x), which names no depth).

use nalgebra::{Unit, Vector3};
use neckloom::check::{Finding, Verdict};
use neckloom::harness::FixingKind;
use neckloom::route::Route;

use super::hand::{FRAME, Hand, checked, machine, route, straight, tie};

fn connector(at_mm: [f64; 3], facing: [f64; 3]) -> Hand {
    Hand {
        name: "plug",
        on: FRAME,
        at_mm,
        kind: FixingKind::Connector {
            finish: None,
            mated: None,
            rated: None,
        },
        facing: Some(Unit::new_normalize(Vector3::from(facing))),
    }
}

fn loops(route: &Route) -> Option<Finding> {
    let findings = checked(route, &straight(route)).findings;
    findings.into_iter().find(|f| f.check == "drip loop")
}

#[test]
fn the_branch_must_hang_lower_than_an_entry_from_above() {
    for (depth, expected) in [
        (30.0, Verdict::Within),
        (10.0, Verdict::Within),
        (9.0, Verdict::Over),
        (-40.0, Verdict::Over),
    ] {
        let held = [0.0, 0.0, 100.0 - depth];
        let plug = [150.0, 0.0, 100.0];
        // At the end the branch runs into the plug along its facing, at the start out of it against the entry.
        let at_end = vec![tie("T1", FRAME, held), connector(plug, [0.2, 0.0, -1.0])];
        let at_start = vec![connector(plug, [0.2, 0.0, 1.0]), tie("T1", FRAME, held)];
        for lay in [at_end, at_start] {
            let found = loops(&route(machine(30.0), 8.0, lay)).expect("judged");
            assert_eq!((found.verdict, found.subject.as_str()), (expected, "plug"));
            let hangs = f64::max(depth, 0.0);
            assert!((found.value * 1e3 - hangs).abs() < 1e-9, "{}", found.value);
        }
    }
}

#[test]
fn a_connector_entered_from_the_side_or_below_needs_none() {
    for facing in [[1.0, 0.0, 0.0], [0.0, 1.0, -0.5], [0.0, 0.0, 1.0]] {
        let lay = vec![
            tie("T1", FRAME, [0.0; 3]),
            connector([150.0, 0.0, 0.0], facing),
        ];
        assert_eq!(loops(&route(machine(30.0), 8.0, lay)), None, "{facing:?}");
    }
}
