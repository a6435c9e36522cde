//! What straps do: the hoop formula and the bend at their edges.

use neckloom::check::Verdict;
use neckloom::harness::FixingKind;

use super::hand::{FRAME, Hand, arc, checked, finding, machine, route, straight, tie};

fn strapped(pull: Option<f64>) -> neckloom::route::Route {
    let mut route = route(
        machine(30.0),
        10.0,
        vec![
            Hand {
                kind: FixingKind::Tie {
                    pull,
                    loose: false,
                    rated: None,
                },
                ..tie("T1", FRAME, [0.0; 3])
            },
            tie("T2", FRAME, [200.0, 0.0, 0.0]),
        ],
    );
    route.branches[0].lay[0].fixing.width = Some(4.8e-3);
    route
}

/// Hoop formula p = T/(w·r): 50 N, 4.8 mm wide, radius 5 mm give 2.0833 `MPa`.
#[test]
fn strap_pressure_follows_the_hoop_formula() {
    let route = strapped(Some(50.0));
    let findings = checked(&route, &straight(&route));
    let pressure = finding(&findings, "tie pinch", "T1 pressure");
    assert!(
        (pressure.value - 2.083_333e6).abs() < 1.0,
        "{}",
        pressure.value
    );
    assert_eq!(pressure.verdict, Verdict::Over);
    // 2 MPa · 4.8 mm · 5 mm = 48 N.
    assert!(
        pressure.advice.contains("at most 48 N"),
        "{}",
        pressure.advice
    );
    let squeeze = finding(&findings, "tie pinch", "T1 squeeze");
    assert!((squeeze.value - 0.208_333).abs() < 1e-6);
}

#[test]
fn without_the_tension_the_check_says_what_to_give() {
    let route = strapped(None);
    let findings = checked(&route, &straight(&route));
    assert!(findings.findings.iter().all(|f| f.subject != "T1 pressure"));
    let blank = findings.blanks.iter().find(|b| b.check == "tie pinch");
    let why = &blank.expect("a blank").why;
    assert!(
        why.contains("`pull`") && why.contains("T1 holds up to 48 N"),
        "{why}"
    );
}

#[test]
fn the_bend_at_the_strap_is_judged_at_its_edge() {
    let route = strapped(None);
    let findings = checked(&route, &arc(&route, |_| 45.0));
    let edge = finding(&findings, "tie pinch", "T1 edge");
    assert!((edge.value * 1e3 - 40.0).abs() < 1e-9);
    assert!((edge.at * 1e3 - 2.4).abs() < 1e-9);
    assert_eq!(edge.verdict, Verdict::Over, "60 mm are asked for");
}
