//! Lines that carry what burns: 6 in and above, or 2 in and clamped (FAA AC 43.13-1B para 11-96 (w)), against
//! distances that are known exactly.

use nalgebra::Point3;
use neckloom::check::{Finding, Findings, Verdict};
use neckloom::geometry::Shape;
use neckloom::harness::LengthRule;
use neckloom::machine::Fluid;
use neckloom::route::Route;

use super::hand::{FRAME, checked, finding, machine, part, route, straight, tie};

/// A straight branch of 10 mm along x held every 125 mm, with `slack` in each span, and a hose of 8 mm along it with
/// `gap` between their surfaces, below it or above.
fn beside(gap: f64, above: bool, slack: f64, carries: Fluid) -> Route {
    let mut route = route(
        machine(30.0),
        10.0,
        vec![
            tie("T1", FRAME, [0.0; 3]),
            tie("T2", FRAME, [125.0, 0.0, 0.0]),
            tie("T3", FRAME, [250.0, 0.0, 0.0]),
        ],
    );
    for lay in &mut route.branches[0].lay[1..] {
        lay.length = LengthRule::Measured((125.0 + slack) * 1e-3);
    }
    let z = if above { 1.0 } else { -1.0 } * (gap + 9.0) * 1e-3;
    let mut hose = part(
        "hose",
        FRAME,
        Shape::Tube {
            along: vec![Point3::new(-0.2, 0.0, z), Point3::new(0.5, 0.0, z)],
            diameter: 0.008,
        },
    );
    hose.carries = Some(carries);
    route.machine.parts.push(hose);
    route
}

fn hose(findings: &Findings) -> &Finding {
    finding(findings, "fluid lines", "hose")
}

#[test]
fn six_inches_and_above_or_two_inches_and_held() {
    for (gap, above, expected, words) in [
        (153.0, false, Verdict::Within, "above it"),
        (153.0, true, Verdict::Close, "drips on the branch"),
        (152.0, false, Verdict::Close, "held so that it cannot touch"),
        (51.0, false, Verdict::Close, "held so that it cannot touch"),
        (50.0, false, Verdict::Over, "at least 1 mm"),
        (0.0, false, Verdict::Over, "at least 51 mm"),
    ] {
        let route = beside(gap, above, 0.5, Fluid::Fuel);
        let findings = checked(&route, &straight(&route));
        let found = hose(&findings);
        assert!((found.value * 1e3 - gap).abs() < 1e-6, "{}", found.value);
        assert_eq!(found.verdict, expected, "{gap} mm");
        assert!(found.advice.contains(words), "{gap}: {}", found.advice);
        assert!(found.source.contains("11-96"), "{}", found.source);
    }
    let route = beside(310.0, false, 0.5, Fluid::Oil);
    let findings = checked(&route, &straight(&route));
    assert!(findings.findings.iter().all(|f| f.check != "fluid lines"));
}

/// Without T2 the two lengths together can be drawn ½√(L² − d²) aside: at 60 mm gap the tie decides, by a tenth of
/// a millimetre.
#[test]
fn a_missing_tie_must_not_let_it_touch() {
    for (aside, expected) in [(59.9, Verdict::Close), (60.1, Verdict::Over)] {
        let both = 250.0_f64.hypot(2.0 * aside);
        let route = beside(60.0, false, 0.5 * both - 125.0, Fluid::BrakeFluid);
        let findings = checked(&route, &straight(&route));
        let found = hose(&findings);
        assert_eq!(found.verdict, expected, "{aside} mm: {}", found.advice);
        if expected == Verdict::Over {
            assert!(found.advice.contains("with T2 missing"), "{}", found.advice);
        }
    }
}

#[test]
fn what_does_not_burn_is_a_smooth_part() {
    for (gap, expected) in [(6.1, Verdict::Within), (5.9, Verdict::Over)] {
        let route = beside(gap, false, 0.5, Fluid::Coolant);
        let findings = checked(&route, &straight(&route));
        assert_eq!(hose(&findings).verdict, expected, "{gap} mm");
    }
}
