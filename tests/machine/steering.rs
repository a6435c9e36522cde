//! The steering axis and what rides on it, against published geometry.

use nalgebra::{Point3, Vector3};
use neckloom::machine::{Body, BodyId, Joint, Machine};

use crate::geometry::bicycles;

fn body(name: &str, on: Option<usize>, joint: Joint) -> Body {
    Body {
        name: name.to_owned(),
        on: on.map(BodyId),
        joint,
        said: None,
    }
}

fn steered(through: Point3<f64>, rake: f64) -> Machine {
    let steering = Joint::steering(through, rake, -3.2, 3.2);
    Machine {
        bodies: vec![
            body("frame", None, Joint::Fixed),
            body("steering", Some(0), steering),
        ],
        parts: Vec::new(),
    }
}

/// Where `p` on the steering goes when steered by `degrees`.
fn turned(machine: &Machine, degrees: f64, p: Point3<f64>) -> Point3<f64> {
    machine.stance(&[0.0, degrees.to_radians()]).bodies[1] * p
}

/// A wheel centre's signed offset from the axis, ahead positive: half the way it goes in half a turn.
fn fork_offset(machine: &Machine, wheel: Point3<f64>) -> f64 {
    let half_way = (wheel - turned(machine, 180.0, wheel)) * 0.5;
    half_way.norm().copysign(half_way.x)
}

/// Rotation about a tilted axis, computed by Rodrigues' formula apart from this program: the axis through the
/// origin leans 24° back at the top, P = (60, 20, 40) mm. Positive is to the left, so P swings to y = 57.
#[test]
fn a_point_swings_about_a_tilted_axis() {
    let machine = steered(Point3::origin(), 24f64.to_radians());
    let p = Point3::new(0.060, 0.020, 0.040);
    let cases = [
        (35.0, [0.037_776_55, 0.057_154_11, 0.030_105_48]),
        (-35.0, [0.058_736_07, -0.024_388_03, 0.039_437_26]),
    ];
    for (degrees, expected) in cases {
        let got = turned(&machine, degrees, p);
        assert!(
            (got - Point3::from(expected)).norm() < 1e-7,
            "{degrees}: {got}"
        );
        assert!(((got - p).norm() - 0.044_409_59).abs() < 1e-7);
    }
    let radius = 0.5 * (turned(&machine, 180.0, p) - p).norm();
    assert!((radius - 0.073_842_252).abs() < 1e-9, "{radius}");
    // Chord over radius, 2 sin(δ/2), tabulated.
    for (degrees, chord) in [
        (20.0, 0.347_296),
        (30.0, 0.517_638),
        (40.0, 0.684_040),
        (45.0, 0.765_367),
    ] {
        let got = (turned(&machine, degrees, p) - p).norm() / radius;
        assert!((got - chord).abs() < 1e-6, "{degrees}: {got}");
    }
}

/// The same, seen from a clip on the frame at A = (−70, 10, −30) mm: the distance is greatest inside the
/// range, so that looking at the stops alone would miss it.
#[test]
fn clips_are_not_farthest_apart_at_the_stops() {
    let machine = steered(Point3::origin(), 24f64.to_radians());
    let (p, clip) = (
        Point3::new(0.060, 0.020, 0.040),
        Point3::new(-0.070, 0.010, -0.030),
    );
    let cases = [
        (-35.0, 0.150_256_6),
        (-20.0, 0.150_994_28),
        (0.0, 0.147_986_49),
        (20.0, 0.140_510_55),
        (35.0, 0.132_105_88),
    ];
    for (degrees, expected) in cases {
        let got = (turned(&machine, degrees, p) - clip).norm();
        assert!((got - expected).abs() < 1e-6, "{degrees}: {got}");
    }
}

/// Meijaard, Papadopoulos, Ruina & Schwab, Proc. R. Soc. A 463 (2007) 1955–1982, Table 1: wheelbase 1.02 m,
/// trail 0.08 m, tilt π/10, front wheel radius 0.35 m. The offset 0.0320714 m is r sin λ − c cos λ.
#[test]
fn the_benchmark_bicycle() {
    let (base, trail, tilt, radius) = (1.02, 0.08, std::f64::consts::PI / 10.0, 0.35);
    let wheel = Point3::new(base, 0.0, radius);
    // The axis meets the ground one trail ahead of where the wheel stands.
    let machine = steered(Point3::new(base + trail, 0.0, 0.0), tilt);
    let offset = fork_offset(&machine, wheel);
    assert!((offset - 0.032_071_4).abs() < 1e-7, "{offset}");
    // To the left: the front of the wheel goes to positive y.
    assert!(turned(&machine, 10.0, wheel + Vector3::x() * radius).y > 0.0);
}

/// Trail from tilt, wheel radius and fork offset: the axis through a point one offset behind the wheel centre
/// meets the ground one trail ahead of the contact. The table's trail was derived from the same three, so
/// this holds the axis and its signs to it, the reversed fork of M10 above all.
#[test]
fn measured_bicycles() {
    let mut checked = 0;
    for bike in bicycles::all() {
        let (Some(trail), Some(radius), Some(offset)) =
            (bike.trail, bike.front_radius, bike.fork_offset)
        else {
            continue;
        };
        checked += 1;
        let wheel = Point3::new(bike.wheelbase, 0.0, radius);
        // Square to the axis and backward.
        let behind = Vector3::new(-bike.tilt.cos(), 0.0, -bike.tilt.sin());
        let machine = steered(wheel + behind * offset, bike.tilt);
        assert!(
            (fork_offset(&machine, wheel) - offset).abs() < 1e-12,
            "{}",
            bike.case
        );
        // The point of the ground that steering does not move.
        let ground = Point3::new(bike.wheelbase + trail, 0.0, 0.0);
        let moved = (turned(&machine, 90.0, ground) - ground).norm();
        assert!(moved < 0.2e-3, "{}: moves by {moved}", bike.case);
        let elsewhere = Point3::new(bike.wheelbase + trail + 0.001, 0.0, 0.0);
        assert!((turned(&machine, 90.0, elsewhere) - elsewhere).norm() > 1e-3);
        if bike.case == "M10" {
            assert!(offset < 0.0 && trail > 0.15);
        }
    }
    assert_eq!(checked, 7);
}

/// A body rides on what carries it, its axis turning along.
#[test]
fn axes_ride_along() {
    let mut machine = steered(Point3::origin(), 0.0);
    let slide = Joint::Slides {
        along: Vector3::x_axis(),
        from: 0.0,
        to: 0.1,
    };
    machine.bodies.push(body("lamp", Some(1), slide));
    let hinge = Joint::Turns {
        through: Point3::new(0.2, 0.0, 0.0),
        axis: Vector3::y_axis(),
        from: -1.0,
        to: 1.0,
    };
    machine.bodies.push(body("visor", Some(2), hinge));
    let quarter = std::f64::consts::FRAC_PI_2;
    let stance = machine.stance(&[0.0, quarter, 0.05, -quarter]);
    let lamp = stance.bodies[2] * Point3::new(0.1, 0.0, 0.0);
    assert!((lamp - Point3::new(0.0, 0.15, 0.0)).norm() < 1e-15);
    // Drawn 100 mm ahead of its hinge, tipped up, slid out 50 mm, then swung to the left.
    let visor = stance.bodies[3] * Point3::new(0.3, 0.0, 0.0);
    assert!(
        (visor - Point3::new(0.0, 0.25, 0.1)).norm() < 1e-15,
        "{visor}"
    );
}

#[test]
fn what_moves_against_what() {
    let turns = Joint::steering(Point3::origin(), 0.4, -0.6, 0.6);
    let stuck = Joint::steering(Point3::origin(), 0.4, 0.1, 0.1);
    let machine = Machine {
        bodies: vec![
            body("frame", None, Joint::Fixed),
            body("steering", Some(0), turns),
            body("bars", Some(1), Joint::Fixed),
            body("lamp", Some(1), stuck),
            body("seat", Some(0), turns),
            body("stand", None, turns),
        ],
        parts: Vec::new(),
    };
    let against = [
        (0, 1),
        (0, 2),
        (1, 4),
        (2, 4),
        (3, 4),
        (0, 5),
        (1, 5),
        (0, 4),
    ];
    let together = [(0, 0), (1, 2), (2, 3), (1, 3), (5, 5)];
    for (a, b) in against {
        assert!(machine.moves_against(BodyId(a), BodyId(b)), "{a} {b}");
        assert!(machine.moves_against(BodyId(b), BodyId(a)), "{b} {a}");
    }
    for (a, b) in together {
        assert!(!machine.moves_against(BodyId(a), BodyId(b)), "{a} {b}");
        assert!(!machine.moves_against(BodyId(b), BodyId(a)), "{b} {a}");
    }
}
