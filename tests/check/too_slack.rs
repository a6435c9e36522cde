//! Too much slack: half an inch aside between supports (FAA AC 43.13-1B para 11-118), more where nothing can be touched.

use nalgebra::Point3;
use neckloom::check::{Finding, Findings, Verdict};
use neckloom::geometry::Shape;
use neckloom::harness::LengthRule;
use neckloom::machine::Edge;
use neckloom::quantity::Kind;
use neckloom::route::{LimitOverride, LimitValue, Route};

use super::hand::{FRAME, checked, finding, machine, part, route, straight, tie};

/// A span of 24 in (609.6 mm), 10 mm thick, that can be drawn so far aside.
fn drawn_aside(aside: f64) -> Route {
    let mut route = route(
        machine(30.0),
        10.0,
        vec![
            tie("T1", FRAME, [0.0; 3]),
            tie("T2", FRAME, [609.6, 0.0, 0.0]),
        ],
    );
    let length = 609.6_f64.hypot(2.0 * aside);
    route.branches[0].lay[1].length = LengthRule::Measured(length * 1e-3);
    route
}

/// A ball of 20 mm beside the middle of the span, so far from its surface.
fn ball(route: &mut Route, gap: f64) {
    let centre = Point3::new(0.3048, 0.0, -(gap + 15.0) * 1e-3);
    let shape = Shape::Ball {
        centre,
        diameter: 0.020,
    };
    route.machine.parts.push(part("boss", FRAME, shape));
}

fn told(findings: &Findings) -> Option<&Finding> {
    findings.findings.iter().find(|f| f.check == "slack most")
}

#[test]
fn half_an_inch_aside_is_half_a_millimetre_of_slack_in_two_feet() {
    let route = drawn_aside(12.69);
    let findings = checked(&route, &straight(&route));
    let found = finding(&findings, "slack most", "T1–T2");
    // √(609.6² + 25.4²) − 609.6
    assert!(
        (found.limit * 1e3 - 0.528_937).abs() < 1e-5,
        "{}",
        found.limit * 1e3
    );
    assert_eq!(found.verdict, Verdict::Within);
    assert!(found.advice.contains("13 mm aside"), "{}", found.advice);
}

#[test]
fn more_is_allowed_where_nothing_harms() {
    let mut route = drawn_aside(40.0);
    assert!(told(&checked(&route, &straight(&route))).is_none());
    // A plain part does no harm, a hot one or an edge does.
    ball(&mut route, 30.0);
    assert!(told(&checked(&route, &straight(&route))).is_none());
    for (surface, edge) in [(Some(160.0), None), (None, Some(Edge::Rolled))] {
        route.machine.parts[0].surface = surface;
        route.machine.parts[0].edge = edge;
        let findings = checked(&route, &straight(&route));
        let found = finding(&findings, "slack most", "T1–T2");
        assert_eq!(found.verdict, Verdict::Over);
        assert!(found.advice.contains("against boss"), "{}", found.advice);
        // It would touch when drawn 30 mm aside.
        let touching = 609.6_f64.hypot(60.0) - 609.6;
        assert!(
            (found.limit * 1e3 - touching).abs() < 0.01,
            "{}",
            found.limit * 1e3
        );
    }
    // Out of reach.
    let mut route = drawn_aside(40.0);
    ball(&mut route, 40.1);
    route.machine.parts[0].surface = Some(160.0);
    assert!(told(&checked(&route, &straight(&route))).is_none());
}

#[test]
fn a_limit_of_the_route_file_holds_for_every_span() {
    let mut route = drawn_aside(120.0);
    let slack = 609.6_f64.hypot(240.0) - 609.6;
    for (limit, expected) in [(slack + 0.1, Verdict::Within), (slack - 0.1, Verdict::Over)] {
        route.limits = vec![LimitOverride {
            key: "slack most".to_owned(),
            value: LimitValue::Value(limit * 1e-3, Kind::Length),
            why: "a shop's own rule".to_owned(),
        }];
        let findings = checked(&route, &straight(&route));
        let found = finding(&findings, "slack most", "T1–T2");
        assert_eq!(found.verdict, expected);
        assert!((found.value * 1e3 - slack).abs() < 1e-6);
    }
}
