//! What first holds the branch behind a connector, and how far the branch runs straight there.

use std::f64::consts::FRAC_PI_6;

use neckloom::check::Verdict;
use neckloom::harness::{FixingKind, LengthRule};
use neckloom::route::Route;

use super::hand::{FRAME, Hand, arc, checked, finding, machine, route, tie};

const PLUG: FixingKind = FixingKind::Connector {
    finish: None,
    mated: None,
    rated: None,
};

/// A plug and a tie, `length` \[mm\] apart along a branch of 6 mm.
fn plugged(length: f64) -> Route {
    let plug = Hand {
        kind: PLUG,
        ..tie("plug", FRAME, [0.0; 3])
    };
    let mut route = route(
        machine(30.0),
        6.0,
        vec![plug, tie("T2", FRAME, [0.8 * length, 0.0, 0.0])],
    );
    route.branches[0].lay[1].length = LengthRule::Measured(length * 1e-3);
    route
}

#[test]
fn what_first_holds_the_branch_is_within_300_mm() {
    for (length, expected) in [
        (160.0, Verdict::Within),
        (299.0, Verdict::Within),
        (301.0, Verdict::Over),
    ] {
        let route = plugged(length);
        let findings = checked(&route, &arc(&route, |_| 400.0));
        let support = finding(&findings, "contacts", "plug support");
        assert_eq!(support.verdict, expected, "{length} mm");
        assert!((support.value * 1e3 - length).abs() < 1e-9);
    }
}

/// An arc of radius R has turned by 30° after R π/6.
#[test]
fn the_branch_runs_straight_for_three_diameters() {
    for (radius, expected) in [
        (30.0, Verdict::Over),
        (40.0, Verdict::Within),
        (60.0, Verdict::Within),
    ] {
        let route = plugged(120.0);
        let findings = checked(&route, &arc(&route, |_| radius));
        let run = finding(&findings, "contacts", "plug straight run");
        assert_eq!(run.verdict, expected, "{radius} mm");
        assert!((run.limit * 1e3 - 18.0).abs() < 1e-9);
        let turned = radius * FRAC_PI_6;
        assert!(
            (run.value * 1e3 - turned).abs() < 0.3,
            "{} and {turned}",
            run.value * 1e3
        );
    }
}
