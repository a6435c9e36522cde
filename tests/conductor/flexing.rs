//! Bending in the section's frame, and strain, on shapes that are known exactly and on solved ones.

use std::path::Path;

use nalgebra::{Point3, Vector3};
use neckloom::conductor::{Bond, Swept, bond_at, flexed, lever, sweeps};
use neckloom::geometry::{Curve, Knot};
use neckloom::harness::{BranchId, FixingKind, PlacedWire, Section, Wire};
use neckloom::read::{route_file, route_text};
use neckloom::rod::{Settings, Shape, Solution, solve};
use neckloom::route::Route;

use crate::check::hand::{FRAME, STEERING, arc, machine, route, solution, station, tie};

const NECK: BranchId = BranchId(0);

fn swept(route: &Route, solution: &Solution) -> Vec<Swept> {
    let flexed = flexed(route, solution, NECK);
    sweeps(route, solution)[0].of(route, solution, NECK, &flexed)
}

fn two_ties() -> Route {
    route(
        machine(30.0),
        8.0,
        vec![
            tie("T1", FRAME, [0.0, 0.0, 0.0]),
            tie("T2", STEERING, [100.0, 0.0, 0.0]),
        ],
    )
}

#[test]
fn a_bend_that_tightens_counts_by_its_change() {
    let route = two_ties();
    let last = arc(&route, |_| 50.0).sweep.poses.len() - 1;
    let solution = arc(&route, |pose| if pose == last { 40.0 } else { 50.0 });
    for place in swept(&route, &solution) {
        assert!((place.bend - 5.0).abs() < 1e-9, "{} 1/m", place.bend);
        assert!(place.twist.abs() < 1e-12 && place.pull.abs() < 1e-12);
        assert!(place.between.contains(&last));
    }
}

/// An arc in a plane that turns about the tangent at its held start by φ: the curvature vector goes round by φ, and its
/// ends are 2 κ sin(φ/2) apart, though the radius never changes.
#[test]
fn a_bend_that_goes_round_the_bundle_counts_too() {
    let route = two_ties();
    let radius = 0.05;
    for around in [0.2, 1.0, 2.5] {
        let turned = solution(&route, |pose, solution, spans| {
            let joints = &solution.sweep.poses[pose].joints;
            let share = joints[STEERING.0] / 30.0_f64.to_radians();
            let (sin, cos) = (0.5 * around * share).sin_cos();
            let mut knots = Vec::new();
            let mut stations = Vec::new();
            for step in 0..=100 {
                let at = spans[0].length * f64::from(step) / 100.0;
                let angle = at / radius;
                let up = 1.0 - angle.cos();
                let position = Point3::new(angle.sin(), up * sin, up * cos) * radius;
                let slope = Vector3::new(angle.cos(), angle.sin() * sin, angle.sin() * cos);
                knots.push(Knot {
                    at,
                    position,
                    slope,
                });
                stations.push(station(at, position, slope, 1.0 / radius));
            }
            Shape {
                curve: Curve::new(knots).unwrap(),
                stations,
                ..(*arc(&route, |_| 50.0).branches[0].shapes[pose]).clone()
            }
        });
        let wanted = 2.0 / radius * (0.5 * around).sin();
        for place in swept(&route, &turned) {
            assert!(
                (place.bend / wanted - 1.0).abs() < 1e-9,
                "{}: {}",
                around,
                place.bend
            );
        }
    }
}

fn solved(stem: &str) -> (Route, Solution) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("routes/{stem}.ron"));
    let route = route_file(&path).unwrap_or_else(|faults| panic!("{faults}"));
    let solution = solve(&route, &Settings::default());
    (route, solution)
}

/// What rides on the bars as a whole does not flex: its bend hardly changes (gravity alone turns about it).
#[test]
fn what_turns_with_the_bars_does_not_flex() {
    let (route, solution) = solved("twist_over");
    let flexed = flexed(&route, &solution, NECK);
    let all = sweeps(&route, &solution)[0].of(&route, &solution, NECK, &flexed);
    let most = |span: usize| {
        let own = all.iter().filter(|s| flexed.span[s.place] == span);
        own.map(|s| s.bend).fold(0.0, f64::max)
    };
    // Frame to frame, frame to bars, on the bars.
    assert!(most(1) > 2.0, "{}", most(1));
    assert!(most(0) < 1e-6 * most(1), "{}", most(0));
    assert!(most(2) < 0.02 * most(1), "{} {}", most(2), most(1));
}

/// Laid from its other end the same branch flexes alike: the frame that was carried from one end and turned by the
/// twist arrives at the other where that end's body holds it.
#[test]
fn the_frame_arrives_where_the_other_end_holds_it() {
    let text = |lay: &str| {
        format!(
            "(format: 1, title: \"t\", units: (length: \"mm\", temperature: \"degC\"), tolerance: 2, tape_error: 6,
            bodies: {{ \"frame\": Fixed, \"steering\": Turns(on: \"frame\", through: (0, 0, 0), rake: \"27 deg\", from: \"-35 deg\", to: \"35 deg\") }},
            branches: [(name: \"neck\", diameter: 7, stiffness: (bend: \"0.004 N m2\", twist: \"0.003 N m2\", stretch: \"60000 N\", mass: \"0.06 kg/m\"),
            lay: [{lay}])])"
        )
    };
    let there = "Clamp(name: \"K2\", on: \"frame\", at: (-110, 30, -20), facing: (0.55, -0.1, 0.83)),
        Clamp(name: \"K3\", on: \"steering\", at: (-60, -32, 84), facing: (0.1, 0.3, 1), length: 136)";
    let back = "Clamp(name: \"K3\", on: \"steering\", at: (-60, -32, 84), facing: (-0.1, -0.3, -1)),
        Clamp(name: \"K2\", on: \"frame\", at: (-110, 30, -20), facing: (-0.55, 0.1, -0.83), length: 136)";
    let of = |lay: &str| {
        let route = route_text(&text(lay), "t.ron").unwrap_or_else(|faults| panic!("{faults}"));
        let solution = solve(
            &route,
            &Settings {
                elements: 24,
                ..Settings::default()
            },
        );
        let flexed = flexed(&route, &solution, NECK);
        let all = sweeps(&route, &solution)[0].of(&route, &solution, NECK, &flexed);
        let bends: Vec<(f64, f64)> = all.iter().map(|s| (flexed.at[s.place], s.bend)).collect();
        bends
    };
    let (there, mut back) = (of(there), of(back));
    back.reverse();
    let most = there.iter().map(|s| s.1).fold(0.0, f64::max);
    assert!(most > 2.0);
    for (at, bend) in there {
        let near = back.iter().min_by(|a, b| {
            let off = |s: &(f64, f64)| (0.136 - s.0 - at).abs();
            off(a).total_cmp(&off(b))
        });
        let (from_end, other) = near.unwrap();
        if (0.136 - from_end - at).abs() < 1e-4 {
            assert!(
                (bend - other).abs() < 0.02 * most,
                "{at}: {bend} and {other} of {most}"
            );
        }
    }
}

/// W23: a strand of 0.19 mm bent to 25 mm strains by 0.0038 where it slips, and by 0.0190 in a conductor of 19 that is
/// one bar (five strands across).
#[test]
fn strands_slip_or_are_one_bar() {
    let strand: f64 = 0.19e-3;
    let wire = Wire {
        name: "w".to_owned(),
        area: 19.0 * std::f64::consts::FRAC_PI_4 * strand * strand,
        strands: 19,
        outside: 1.6e-3,
        class: None,
        safety: false,
        current: None,
        marks: neckloom::harness::WireMarks::default(),
    };
    let section = Section::of(&[&wire], None, None);
    let placed = PlacedWire {
        conductor: 2.5 * strand,
        ..section.wires[0]
    };
    let [free, pressed, solid] =
        [Bond::Free, Bond::Pressed, Bond::Solid].map(|bond| lever(&wire, &placed, &section, bond));
    let bend = 1.0 / 0.025;
    assert!((free.least * bend - 0.0038).abs() < 1e-12);
    assert!((solid.most * bend - 0.0190).abs() < 1e-12);
    assert!(free.least < free.most && free.most < pressed.most && pressed.most < solid.most);
    assert!((solid.least - free.least).abs() < 1e-15);
}

#[test]
fn pull_and_twist_add_to_the_strain() {
    let bent = Swept {
        place: 0,
        bend: 10.0,
        twist: 0.0,
        pull: 0.0,
        between: [0, 1],
        course: vec![0.0, 10.0],
        bond: Bond::Free,
    };
    assert!((bent.strain(1e-4, 1e5) - 1e-3).abs() < 1e-15);
    let pulled = Swept {
        pull: 20.0,
        ..bent.clone()
    };
    assert!((pulled.strain(1e-4, 1e5) - 1.2e-3).abs() < 1e-15);
    let twisted = Swept {
        twist: 10.0 * 3.0_f64.sqrt(),
        ..bent
    };
    assert!((twisted.strain(1e-4, 1e5) - 1e-3 * 2.0_f64.sqrt()).abs() < 1e-12);
}

#[test]
fn a_tight_strap_presses_and_a_connector_holds() {
    let mut route = two_ties();
    let spans = arc(&route, |_| 50.0).branches[0].spans.clone();
    let at = |route: &Route, mm: f64| bond_at(&route.branches[0], &spans, mm * 1e-3);
    assert_eq!(at(&route, 1.0), Bond::Free);
    // 30 N on 4.8 mm × 4 mm: 1.6 MPa; 5 N: 0.26 MPa.
    for (pull, bond) in [(30.0, Bond::Pressed), (5.0, Bond::Free)] {
        route.branches[0].lay[0].fixing.kind = FixingKind::Tie {
            pull: Some(pull),
            loose: false,
            rated: None,
        };
        assert_eq!(at(&route, 1.0), bond);
        assert_eq!(at(&route, 50.0), Bond::Free);
    }
    route.branches[0].lay[1].fixing.kind = FixingKind::Connector {
        finish: None,
        mated: None,
        rated: None,
    };
    assert_eq!(at(&route, 95.0), Bond::Solid);
    assert_eq!(at(&route, 80.0), Bond::Free);
}
