//! A splice makes a bundle thicker: pinch counts it, and every gap to what is beside.

use nalgebra::{Point3, Rotation3, Vector3};
use neckloom::check::{Options, check};
use neckloom::geometry::Shape;
use neckloom::harness::{BranchId, Splice, WireId};
use neckloom::machine::Edge;
use neckloom::read::route_text;
use neckloom::rod::{Settings, solve};
use neckloom::route::Route;

use super::hand::{
    FRAME, SEAT, checked, checked_with_spread, finding, machine_with_seat, part, route, straight,
    tie,
};

/// A straight branch of 6 mm between two plates, spliced or not.
fn pinch(gap: f64, splices: &str) -> (f64, f64, f64) {
    let half = 0.5 * gap + 1.0;
    let text = format!(
        r#"(format: 1, title: "invented", tolerance: 0,
    bodies: {{ "frame": Fixed }},
    parts: [
        (name: "below", on: "frame", shape: Box(centre: (150, 0, -{half}), size: (120, 60, 2))),
        (name: "above", on: "frame", shape: Box(centre: (150, 0, {half}), size: (120, 60, 2))),
    ],
    wires: {{ "lamp": (size: "1 mm2", outside: 2.5, strands: 19) }},
    splices: [{splices}],
    branches: [(name: "main", wires: ["lamp", "lamp"], diameter: 6, lay: [
        Clamp(name: "A", on: "frame", at: (0, 0, 0), facing: (1, 0, 0)),
        Clamp(name: "B", on: "frame", at: (300, 0, 0), facing: (1, 0, 0), length: 300),
    ])],
)"#
    );
    let route = route_text(&text, "r.ron").unwrap_or_else(|faults| panic!("{faults}"));
    let solution = solve(&route, &Settings::default());
    let options = Options {
        spread: false,
        ..Options::default()
    };
    let findings = check(&route, &solution, &options);
    let found = findings.findings.iter().find(|f| f.check == "pinch");
    let found = found.expect("it lies between two plates");
    (found.value, found.limit, found.at)
}

#[test]
fn a_splice_is_squeezed_where_the_plain_bundle_is_not() {
    for gap in [6.5, 7.0, 9.0] {
        let (width, least, _) = pinch(gap, "");
        assert!((width - gap * 1e-3).abs() < 1e-6, "{width}");
        // 0.6 × 2.5 mm more, at the splice.
        let (width, thick, at) = pinch(gap, r#"(wire: "lamp", branch: "main", at: 160)"#);
        assert!((width - gap * 1e-3).abs() < 1e-6, "{width}");
        assert!((thick / least - 7.5 / 6.0).abs() < 1e-9, "{thick}, {least}");
        assert!((at - 0.160).abs() <= 0.0126, "{at}");
        // Two side by side make two lumps; one outside the plates none.
        let both =
            r#"(wire: "lamp", branch: "main", at: 160), (wire: "lamp", branch: "main", at: 165)"#;
        assert!((pinch(gap, both).1 / least - 9.0 / 6.0).abs() < 1e-9);
        let outside = pinch(gap, r#"(wire: "lamp", branch: "main", at: 40)"#);
        assert!((outside.1 / least - 1.0).abs() < 1e-9);
    }
}

/// A straight branch of 6 mm along x beside a hot ball, the sharp rim of a plate and a ball that moves.
fn beside(splice_at: Option<f64>) -> Route {
    let ends = vec![
        tie("A", FRAME, [0.0; 3]),
        tie("B", FRAME, [300.0, 0.0, 0.0]),
    ];
    let mut route = route(machine_with_seat(30.0, 5.0), 6.0, ends);
    let ball = |at: [f64; 3], diameter: f64| Shape::Ball {
        centre: Point3::from(Vector3::from(at) * 1e-3),
        diameter: diameter * 1e-3,
    };
    let mut hot = part("hot ball", FRAME, ball([100.0, 0.0, -60.0], 40.0));
    hot.surface = Some(200.0);
    let mut plate = part(
        "plate",
        FRAME,
        Shape::Block {
            centre: Point3::new(0.2, 0.0, -0.03),
            size: Vector3::new(0.001, 0.06, 0.02),
            turned: Rotation3::identity(),
        },
    );
    plate.edge = Some(Edge::Sharp);
    let spring = part("spring", SEAT, ball([150.0, 0.0, 35.0], 20.0));
    route.machine.parts = vec![hot, plate, spring];
    route.splices.extend(splice_at.map(|at| Splice {
        wire: WireId(0),
        branch: BranchId(0),
        at: at * 1e-3,
    }));
    route
}

/// The nearest place of a straight line to a ball is its foot, or the end of the stretch that is next to the foot; to a
/// rim across the line, the same in its plane.
#[test]
fn gaps_are_those_of_the_lump() {
    // 0.6 of the wire's 1.9 mm, half of it on each side.
    let lump = 0.57;
    for at in [
        None,
        Some(100.0),
        Some(120.0),
        Some(160.0),
        Some(200.0),
        Some(240.0),
    ] {
        let route = beside(at);
        let findings = checked(&route, &straight(&route));
        // The foot along the branch, the distance there, what is nearer by the part itself and by its half width.
        for (check, subject, foot, below, radius, wide) in [
            ("heat distance", "hot ball", 100.0, 60.0, 20.0, 0.0),
            ("edge distance", "plate", 200.0, 20.0, 0.0, 0.5),
            ("snag", "spring", 150.0, 30.0, 10.0, 0.0),
        ] {
            let plain: f64 = below - radius - 3.0;
            let thick = at.map_or(f64::INFINITY, |at| {
                let aside = (f64::abs(at - foot) - 12.5 - wide).max(0.0);
                aside.hypot(below) - radius - 3.0 - lump
            });
            let found = finding(&findings, check, subject);
            let expected = plain.min(thick);
            assert!(
                (found.value * 1e3 - expected).abs() < 1e-3,
                "{check}, splice at {at:?}: {} for {expected}",
                found.value * 1e3
            );
        }
    }
}

/// What is thicker is so in the route with a measured point moved, too: the doubt is that of the plain branch.
#[test]
fn a_lump_makes_no_doubt_of_its_own() {
    let spread = |splice_at| {
        let findings = checked_with_spread(&beside(splice_at));
        let found = finding(&findings, "heat distance", "hot ball");
        found.spread.expect("the ball was measured")
    };
    let (plain, spliced) = (spread(None), spread(Some(100.0)));
    assert!(plain > 1e-3, "{plain}");
    assert!(
        (spliced / plain - 1.0).abs() < 0.02,
        "{spliced} for {plain}"
    );
}
