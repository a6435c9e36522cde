//! Clearance to edges by their kind, against distances that are known exactly. The three eighths of an inch are
//! those of FAA AC 43.13-1B para 11-115.

use std::sync::Arc;

use nalgebra::{Point3, Rotation3, Vector3};
use neckloom::check::{Findings, Verdict};
use neckloom::geometry::Shape;
use neckloom::machine::Edge;
use neckloom::route::{LimitOverride, LimitValue, Route};

use super::hand::{FRAME, checked, finding, machine, part, route, straight, tie};

/// A straight branch of 10 mm along x at the height z = 0.
fn along_x() -> Route {
    route(
        machine(30.0),
        10.0,
        vec![
            tie("T1", FRAME, [0.0; 3]),
            tie("T2", FRAME, [250.0, 0.0, 0.0]),
        ],
    )
}

/// A bar of 4 mm across the branch, with this gap between their surfaces.
fn bar(gap_mm: f64) -> Shape {
    let z = -(gap_mm + 5.0 + 2.0) * 1e-3;
    Shape::Tube {
        along: vec![Point3::new(0.11, -0.1, z), Point3::new(0.11, 0.1, z)],
        diameter: 0.004,
    }
}

fn with_edge(edge: Edge, shape: Shape) -> Route {
    let mut route = along_x();
    let mut lip = part("lip", FRAME, shape);
    lip.edge = Some(edge);
    route.machine.parts.push(lip);
    route
}

fn told(findings: &Findings) -> usize {
    let all = findings.findings.iter();
    all.filter(|f| f.check == "edge distance").count()
}

#[test]
fn three_eighths_of_an_inch_from_a_sharp_edge_less_from_a_rolled_one() {
    for (edge, gap, expected) in [
        (Edge::Sharp, 9.6, Verdict::Within),
        (Edge::Sharp, 9.525, Verdict::Within),
        (Edge::Sharp, 9.4, Verdict::Over),
        (Edge::Rolled, 6.1, Verdict::Within),
        (Edge::Rolled, 5.9, Verdict::Over),
        (Edge::Sharp, -1.0, Verdict::Over),
    ] {
        let route = with_edge(edge, bar(gap));
        let findings = checked(&route, &straight(&route));
        let found = finding(&findings, "edge distance", "lip");
        assert!(
            (found.value * 1e3 - gap).abs() < 1e-4,
            "{gap}: {}",
            found.value
        );
        assert_eq!(found.verdict, expected, "{edge:?} {gap}");
        assert!((found.at - 0.11).abs() < 1e-4, "{}", found.at);
        if expected == Verdict::Over {
            assert!(found.advice.contains("grommet"), "{}", found.advice);
        }
    }
    // Far away: not worth a line.
    let route = with_edge(Edge::Sharp, bar(30.0));
    assert_eq!(told(&checked(&route, &straight(&route))), 0);
}

#[test]
fn the_route_file_may_ask_for_another_distance() {
    let mut route = with_edge(Edge::Rolled, bar(9.0));
    route.limits.push(LimitOverride {
        key: "edge distance".to_owned(),
        value: LimitValue::Value(0.010, neckloom::quantity::Kind::Length),
        why: "a customer's own rule".to_owned(),
    });
    let findings = checked(&route, &straight(&route));
    let found = finding(&findings, "edge distance", "lip");
    assert_eq!(found.verdict, Verdict::Over);
    assert!(found.source.contains("customer"), "{}", found.source);
}

/// Of a plate the rim is the edge: over the middle of a face there is nothing sharp.
#[test]
fn a_branch_may_lie_flat_on_a_plate_but_not_cross_its_rim() {
    let plate = |length: f64| Shape::Block {
        centre: Point3::new(0.125, 0.0, -0.009),
        size: Vector3::new(length, 0.3, 0.004),
        turned: Rotation3::identity(),
    };
    // Top face 2 mm below the branch; its rim crosses under it.
    let route = with_edge(Edge::Sharp, plate(0.05));
    let findings = checked(&route, &straight(&route));
    let found = finding(&findings, "edge distance", "lip");
    assert!((found.value * 1e3 - 2.0).abs() < 1e-6, "{}", found.value);
    assert!(
        [0.1, 0.15].iter().any(|x| (found.at - x).abs() < 1e-4),
        "{}",
        found.at
    );
    // As near, but no rim under it.
    let route = with_edge(Edge::Sharp, plate(0.6));
    assert_eq!(told(&checked(&route, &straight(&route))), 0);
}

#[test]
fn a_grommet_may_be_touched_but_not_pressed() {
    // Five stations, 62.5 mm apart: the middle one stands for 62.5 mm.
    for (force, expected) in [(0.4, Verdict::Within), (0.6, Verdict::Over)] {
        let mut route = with_edge(Edge::Grommet, bar(-0.01));
        route.machine.parts[0].shape = Shape::Ball {
            centre: Point3::new(0.125, 0.0, -0.015),
            diameter: 0.020,
        };
        let mut solution = straight(&route);
        Arc::make_mut(&mut solution.branches[0].shapes[3]).stations[2].contact = force / 0.0625;
        let findings = checked(&route, &solution);
        let found = finding(&findings, "edge distance", "lip");
        assert!((found.value - force).abs() < 1e-9, "{}", found.value);
        assert_eq!((found.verdict, found.pose), (expected, 3));
    }
    let route = with_edge(Edge::Grommet, bar(0.5));
    assert_eq!(told(&checked(&route, &straight(&route))), 0);
}
