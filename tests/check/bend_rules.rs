//! Published bend rules against arcs of known radius.

use neckloom::check::Verdict;
use neckloom::harness::FixingKind;
use neckloom::quantity::Kind;
use neckloom::route::{LimitOverride, LimitValue, Route};

use super::hand::{FRAME, Hand, STEERING, arc, checked, finding, machine, part, route, tie};

/// One span of 200 mm on an arc, moving or not.
fn spanned(diameter_mm: f64, moving: bool) -> Route {
    let to = if moving { STEERING } else { FRAME };
    let mut route = route(
        machine(30.0),
        diameter_mm,
        vec![tie("T1", FRAME, [0.0; 3]), tie("T2", to, [190.0, 0.0, 0.0])],
    );
    route.branches[0].lay[1].length = neckloom::harness::LengthRule::Measured(0.2);
    route
}

/// Inside radius in all poses.
fn verdict(route: &Route, inside_mm: f64) -> (Verdict, f64) {
    let diameter_mm = route.branches[0].diameter * 1e3;
    let solution = arc(route, |_| inside_mm + 0.5 * diameter_mm);
    let findings = checked(route, &solution);
    let finding = finding(&findings, "bend radius", "T1–T2");
    assert!((finding.value * 1e3 - inside_mm).abs() < 1e-9);
    (finding.verdict, finding.limit * 1e3)
}

/// FAA AC 43.13-1B para 11-96 (second-hand): 10 × the outside diameter of the largest wire. Wire of 2.4 mm:
/// a radius of 20 mm fails, 24 mm passes as equal, 30 mm passes.
#[test]
fn ten_wire_diameters_where_held_still() {
    let mut route = spanned(2.4, false);
    route.wires[0].outside = 2.4e-3;
    for (inside, expected) in [
        (20.0, Verdict::Over),
        (24.0, Verdict::Within),
        (30.0, Verdict::Within),
    ] {
        let (verdict, limit) = verdict(&route, inside);
        assert_eq!(verdict, expected, "inside radius {inside} mm");
        assert!((limit - 24.0).abs() < 1e-9);
    }
}

/// The same paragraph: 3 × where supported at a terminal, 7.2 mm for that wire.
#[test]
fn three_diameters_at_a_connector() {
    let mut route = route(
        machine(30.0),
        2.4,
        vec![
            Hand {
                kind: FixingKind::Connector {
                    finish: None,
                    mated: None,
                    rated: None,
                },
                ..tie("plug", FRAME, [0.0; 3])
            },
            tie("T2", FRAME, [90.0, 0.0, 0.0]),
        ],
    );
    route.branches[0].lay[1].length = neckloom::harness::LengthRule::Measured(0.1);
    route.wires[0].outside = 2.4e-3;
    for (inside, expected) in [
        (7.0, Verdict::Over),
        (7.2, Verdict::Within),
        (20.0, Verdict::Within),
        (24.0, Verdict::Within),
        (30.0, Verdict::Within),
    ] {
        let solution = arc(&route, |_| inside + 1.2);
        let findings = checked(&route, &solution);
        let finding = finding(&findings, "bend radius", "plug–T2 at the connector");
        assert_eq!(finding.verdict, expected, "inside radius {inside} mm");
        assert!((finding.limit * 1e3 - 7.2).abs() < 1e-9);
    }
}

/// NASA-STD-8739.4 cl. 7.3(21): a cable of 8 mm needs 80 mm long term and 48 mm short term; polyimide film
/// 120 and 80 mm, which a route file sets as an override.
#[test]
fn long_term_and_short_term_rules_of_a_cable() {
    for (moving, limit, key, polyimide) in [
        (true, 80.0, "bend radius moving", (15.0, 120.0)),
        (false, 48.0, "bend radius still", (10.0, 80.0)),
    ] {
        let mut route = spanned(8.0, moving);
        for (inside, expected) in [
            (limit - 0.1, Verdict::Over),
            (limit, Verdict::Within),
            (limit + 0.1, Verdict::Within),
        ] {
            assert_eq!(verdict(&route, inside).0, expected, "{key}, {inside} mm");
        }
        assert!((verdict(&route, limit).1 - limit).abs() < 1e-9);
        route.limits.push(LimitOverride {
            key: key.to_owned(),
            value: LimitValue::Diameters(polyimide.0),
            why: "polyimide film".to_owned(),
        });
        assert!((verdict(&route, 100.0).1 - polyimide.1).abs() < 1e-9);
    }
}

#[test]
fn an_override_as_a_length_is_an_inside_radius_and_names_its_reason() {
    let mut route = spanned(8.0, true);
    route.limits.push(LimitOverride {
        key: "bend radius moving".to_owned(),
        value: LimitValue::Value(0.060, Kind::Length),
        why: "the cable maker's sheet".to_owned(),
    });
    let findings = checked(&route, &arc(&route, |_| 64.0));
    let finding = finding(&findings, "bend radius", "T1–T2");
    assert_eq!(finding.verdict, Verdict::Within);
    assert!((finding.limit - 0.060).abs() < 1e-12);
    assert_eq!(finding.source, "route file: the cable maker's sheet");
}

/// Poses that tie within rounding: the lowest id is named; a truly tighter one wins.
#[test]
fn of_poses_that_tie_the_lowest_is_named() {
    let route = spanned(8.0, true);
    let tied = arc(
        &route,
        |pose| if pose == 7 { 99.999_999_999_99 } else { 100.0 },
    );
    assert_eq!(
        finding(&checked(&route, &tied), "bend radius", "T1–T2").pose,
        0
    );
    let tighter = arc(&route, |pose| if pose == 7 { 99.999 } else { 100.0 });
    assert_eq!(
        finding(&checked(&route, &tighter), "bend radius", "T1–T2").pose,
        7
    );
}

#[test]
fn a_straight_span_has_no_bend_finding_and_a_part_less_machine_is_no_trouble() {
    let mut route = spanned(8.0, false);
    route.machine.parts.push(part(
        "far ball",
        FRAME,
        neckloom::geometry::Shape::Ball {
            centre: nalgebra::Point3::new(5.0, 0.0, 0.0),
            diameter: 0.1,
        },
    ));
    route.machine.parts.clear();
    let findings = checked(&route, &super::hand::straight(&route));
    assert!(findings.findings.iter().all(|f| f.check != "bend radius"));
}
