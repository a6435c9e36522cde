//! How far a change can go, against closed forms.

use nalgebra::{Point3, Rotation3, Unit, Vector3};
use neckloom::advise::{ReachOptions, Solved, reach};
use neckloom::check::Options;
use neckloom::read::route_text;

use crate::rod::elliptic::{complete, modulus};

fn quick() -> Options {
    Options {
        spread: false,
        ..Options::default()
    }
}

pub(super) fn solved(text: &str) -> Solved {
    let route = route_text(text, "r.ron").unwrap_or_else(|faults| panic!("{faults}"));
    Solved::new(route, &quick())
}

pub(super) fn options() -> ReachOptions {
    ReachOptions {
        check: quick(),
        ..ReachOptions::default()
    }
}

/// Limits that let everything pass but the one under test.
const LOOSE: &str = "\"support distance\": (value: 2000, why: \"test\"), \"strap pressure\": (value: \"900 MPa\", why: \"test\"), \
    \"strap squeeze\": (value: 0.99, why: \"test\")";

/// A branch without weight between two fixings that let it pivot: Euler's elastica with inflections at its ends. Its
/// greatest curvature is 4 k K(k) / L, and the distance of its ends 2 E/K − 1 of its length (Love, Treatise on the
/// Mathematical Theory of Elasticity, 4th ed. 1927, sections 262 and 263; Levien, UCB/EECS-2008-103).
fn arch(limit_mm: f64) -> String {
    format!(
        r#"(
    format: 1, title: "arch", tolerance: 1, bodies: {{ "frame": Fixed }},
    branches: [(
        name: "arch", diameter: 4,
        stiffness: (bend: "0.002 N m2", twist: "0.0015 N m2", stretch: "200000 N", mass: "0 kg/m"),
        lay: [Tie(name: "A", on: "frame", at: (0, 0, 0), width: 5), Via(on: "frame", at: (95, 0, 30)), Tie(name: "B", on: "frame", at: (190, 0, 0), width: 5, length: 200)],
    )],
    limits: {{ "bend radius still": (value: "{limit_mm} mm", why: "test"), {LOOSE} }},
    changes: {{ "nearer": [Move(what: "B", by: (-100, 0, 0))] }},
)"#
    )
}

#[test]
fn an_arch_is_pushed_together_until_its_inside_radius_meets_the_limit() {
    for limit in [42.0, 50.0] {
        let base = solved(&arch(limit));
        let found = reach(&base, &base.route.changes[0], &options()).unwrap();
        let decided = found.decided_by.as_ref().unwrap();
        assert_eq!(decided.finding.check, "bend radius", "{decided:?}");
        // Bisection for the distance at which 1/κ − D/2 is the limit.
        let (mut low, mut high) = (0.01_f64, 0.95_f64);
        for _ in 0..60 {
            let ratio = 0.5 * (low + high);
            let k = modulus(ratio);
            let radius = 200.0 / (4.0 * k * complete(k).0) - 2.0;
            if radius > limit {
                high = ratio;
            } else {
                low = ratio;
            }
        }
        let expected = 190.0 - 200.0 * 0.5 * (low + high);
        let got = found.along(found.share) * 1e3;
        assert!(
            (got - expected).abs() < 0.01 * expected + 0.05,
            "{got} {expected}"
        );
        assert!(found.solved < 16, "{}", found.solved);
    }
}

/// The straight distance alone: a point that turns about a tilted axis is farthest from a fixed one at an angle inside the
/// range, d² = a + b cos θ + c sin θ, greatest where tan θ = c/b (plane trigonometry).
#[test]
fn a_span_is_shortened_until_the_worst_angle_inside_the_range_uses_it_up() {
    let text = format!(
        r#"(
    format: 1, title: "tilted", tolerance: 1,
    bodies: {{ "frame": Fixed, "steering": Turns(on: "frame", through: (0, 0, 0), axis: (-0.5, 0.2, 0.84), from: "-38 deg", to: "38 deg") }},
    branches: [(
        name: "neck", diameter: 4,
        stiffness: (bend: "0.0004 N m2", twist: "0.0003 N m2", stretch: "20000 N", mass: "0.02 kg/m"),
        lay: [Tie(name: "A", on: "frame", at: (-150, 60, -40), width: 5), Tie(name: "B", on: "steering", at: (60, -50, 110), width: 5, length: 330)],
    )],
    limits: {{ "slack least": (value: "5 mm", why: "test"), "bend radius moving": (value: "3 mm", why: "test"), "bend radius still": (value: "3 mm", why: "test"), "twist": (value: "3000 deg/m", why: "test"), {LOOSE} }},
    changes: {{ "shorter": [Lengthen(to: "B", by: -60)], "up": [Move(what: "B", by: (0, 0, 80))] }},
)"#
    );
    let text = text.replace("\"twist\": (value: \"3000 deg/m\", why: \"test\"), ", "");
    let base = solved(&text);
    let a = Point3::new(-0.15, 0.06, -0.04);
    let axis = Unit::new_normalize(Vector3::new(-0.5, 0.2, 0.84));
    let farthest = |b: Point3<f64>| {
        let steps = 40_000;
        (0..=steps)
            .map(|i| -38.0 + 76.0 * f64::from(i) / f64::from(steps))
            .map(|angle| {
                (
                    angle,
                    (Rotation3::from_axis_angle(&axis, angle.to_radians()) * b - a).norm(),
                )
            })
            .max_by(|x, y| x.1.total_cmp(&y.1))
            .unwrap()
    };
    let b = Point3::new(0.06, -0.05, 0.11);
    let (angle, most) = farthest(b);
    assert!(angle.abs() < 37.0, "the worst is inside the range: {angle}");
    let found = reach(&base, &base.route.changes[0], &options()).unwrap();
    let decided = found.decided_by.as_ref().unwrap();
    assert_eq!(decided.finding.check, "elongation", "{decided:?}");
    let expected = 0.330 - most - 0.005;
    let got = found.along(found.share);
    // Poses stand at most 2° apart.
    assert!((got - expected).abs() < 3e-4, "{got} {expected}");

    let found = reach(&base, &base.route.changes[1], &options()).unwrap();
    let (mut low, mut high) = (0.0, 0.24);
    for _ in 0..60 {
        let up = 0.5 * (low + high);
        if farthest(b + Vector3::new(0.0, 0.0, up)).1 > 0.325 {
            high = up;
        } else {
            low = up;
        }
    }
    let got = found.along(found.share);
    assert!((got - low).abs() < 6e-4, "{got} {low}");
}

/// A hot ball passes a harness: the limit is broken in between only, and holds again beyond.
pub(super) fn passing() -> String {
    format!(
        r#"(
    format: 1, title: "passing", tolerance: 1, bodies: {{ "frame": Fixed }},
    parts: [(name: "pipe", on: "frame", surface: 300, shape: Ball(centre: (100, -150, 40), diameter: 20))],
    branches: [(
        name: "b", diameter: 4,
        stiffness: (bend: "0.002 N m2", twist: "0.0015 N m2", stretch: "20000 N", mass: "0.02 kg/m"),
        lay: [Clamp(name: "A", on: "frame", at: (0, 0, 0), facing: (1, 0, 0)), Clamp(name: "B", on: "frame", at: (200, 0, 0), facing: (1, 0, 0), slack: 0.02)],
    )],
    limits: {{ "hot distance": (value: "60 mm", why: "test"), {LOOSE} }},
    changes: {{ "past": [Move(what: "pipe", by: (0, 300, 0))], "away": [Move(what: "pipe", by: (0, -100, 0))], "onto": [Move(what: "pipe", by: (0, 140, 0))] }},
)"#
    )
}

#[test]
fn a_limit_that_is_broken_in_between_is_found_and_said() {
    let base = solved(&passing());
    let past = reach(&base, &base.route.changes[0], &options()).unwrap();
    // Surface to surface 60 mm: middle to middle 72 mm, of that 40 mm upward.
    let aside = (0.072_f64.powi(2) - 0.04_f64.powi(2)).sqrt();
    let expected = 0.150 - aside;
    let got = past.along(past.share);
    assert!((got - expected).abs() < 2e-3, "{got} {expected}");
    assert_eq!(past.over_between.len(), 1, "{:?}", past.over_between);
    let away = reach(&base, &base.route.changes[1], &options()).unwrap();
    assert!(away.decided_by.is_none() && away.next.is_none());
    assert!((away.share - 3.0).abs() < 1e-9);
}

#[test]
fn what_is_broken_already_cannot_go_and_the_next_is_told() {
    let text = passing().replace("(100, -150, 40)", "(100, -50, 40)");
    let base = solved(&text);
    let found = reach(&base, &base.route.changes[2], &options()).unwrap();
    assert!(found.already && found.share.abs() <= 0.0, "{found:?}");
    assert_eq!(found.decided_by.unwrap().finding.check, "heat distance");
}

/// What is said to be sure is checked there again: the chance of being over is one in twenty.
#[test]
fn up_to_where_it_is_sure_is_solved_and_checked_there() {
    let text = passing()
        .replace("slack: 0.02", "slack: 8")
        .replace("150, 40)", "150, 20)");
    let base = solved(&text);
    let with = ReachOptions {
        check: Options::default(),
        ..ReachOptions::default()
    };
    let change = &base.route.changes[0];
    let found = reach(&base, change, &with).unwrap();
    let (spread, sure) = (found.spread.unwrap(), found.sure.unwrap());
    // The tolerance of 1 mm on the ball alone gives a three hundredth of the way.
    assert!(spread > 1.0 / 320.0 && spread < 0.05, "{spread}");
    assert!(sure < found.share - spread && sure > 0.0, "{found:?}");
    let there = Solved::new(
        base.route.changed(change, sure).unwrap(),
        &Options::default(),
    );
    let mut findings = there.findings.findings.iter();
    let heat = findings.find(|f| f.check == "heat distance").unwrap();
    let chance = heat.chance_over.unwrap();
    assert!((0.03..0.06).contains(&chance), "{chance}");
}
