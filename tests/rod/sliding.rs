//! Holes and loose ties: the harness slides until the pull is equal on both sides.

use neckloom::read::route_text;
use neckloom::rod::{Settings, Shape, solve};
use neckloom::route::Route;

fn route(branches: &str) -> Route {
    let text = format!(
        r#"(format: 1, title: "sliding", units: (length: "mm", temperature: "degC"), tolerance: 3, tape_error: 6,
            bodies: {{ "frame": Fixed,
                "steering": Turns(on: "frame", through: (0, 0, 0), rake: "28 deg", from: "-38 deg", to: "38 deg"), }},
            branches: [ {branches} ])"#
    );
    route_text(&text, "sliding.ron").unwrap_or_else(|faults| panic!("{faults}"))
}

/// Parameter of the catenary of length `s` between points `d` apart and `h` different in height: the c for which
/// √(s² − h²) = 2 c sinh(d/2c) (handbook formula, from memory).
fn parameter(s: f64, d: f64, h: f64) -> f64 {
    let want = (s * s - h * h).sqrt();
    let (mut low, mut high) = (1e-4_f64, 1e3_f64);
    for _ in 0..200 {
        let c: f64 = (low * high).sqrt();
        if 2.0 * c * (0.5 * d / c).sinh() > want {
            low = c;
        } else {
            high = c;
        }
    }
    (low * high).sqrt()
}

/// Tension over weight at the upper end of that catenary: c cosh(x/c) there, with h = upper less lower end.
fn upper_tension(s: f64, d: f64, h: f64) -> f64 {
    let c = parameter(s, d, h);
    // x of the upper end from the lowest point.
    let x = 0.5 * d + c * (h / (2.0 * c * (0.5 * d / c).sinh())).asinh();
    c * (x / c).cosh()
}

/// What pulls at the hole between the two spans of a branch, from before and from after \[N\].
fn pulls(shape: &Shape) -> (f64, f64) {
    let [before, after] = [0, 1].map(|span| shape.spans[span].pulls.unwrap());
    (before[1], after[0])
}

/// A chain over a small smooth pulley: the tensions at its two sides are equal there. The closed form knows no bending, so
/// the stiffer the branch, the less exact. How high above where heights are counted from it hangs is all one.
#[test]
fn catenary_over_a_pulley() {
    let (left, right) = ((0.30_f64, 0.10_f64), (0.20_f64, 0.16_f64));
    let total = 0.62;
    // The share of the left side for which both pull alike.
    // Where the left pulls more, more goes to the left: that is the balance that lasts.
    let (mut low, mut high) = (0.3165, total - 0.2565);
    for _ in 0..200 {
        let s = 0.5 * (low + high);
        if upper_tension(s, left.0, left.1) > upper_tension(total - s, right.0, right.1) {
            low = s;
        } else {
            high = s;
        }
    }
    let s = 0.5 * (low + high);
    let pull = upper_tension(s, left.0, left.1);
    assert!((pull - upper_tension(total - s, right.0, right.1)).abs() < 1e-9);
    for (bend, up, tolerance) in [
        (1e-6, 0.0, 8e-3),
        (1e-6, 900.0, 8e-3),
        (1e-7, 0.0, 2.5e-3),
        (1e-7, -20_000.0, 2.5e-3),
    ] {
        let route = route(&format!(
            r#"(name: "chain", diameter: 3,
                stiffness: (bend: "{bend} N m2", twist: "{bend} N m2", stretch: "10000 N", mass: "0.1 kg/m"),
                lay: [
                    Tie(name: "A", on: "frame", at: (-300, 0, {})),
                    Tie(name: "pulley", on: "frame", at: (0, 0, {up}), loose: true, length: {}),
                    Tie(name: "B", on: "frame", at: (200, 0, {}), length: {}),
                ])"#,
            up - 100.0,
            1e3 * (s + 0.008),
            up - 160.0,
            1e3 * (total - s - 0.008)
        ));
        let solution = solve(&route, &Settings::default());
        let shape = &solution.branches[0].shapes[solution.sweep.rest];
        assert!(shape.converged);
        let off = shape.spans[0].length - s;
        assert!(
            off.abs() < tolerance,
            "bend {bend}, {up} mm up: {off} m from {s}"
        );
        let (before, after) = pulls(shape);
        assert!(
            (before - after).abs() < 1e-6 * before.abs(),
            "{before} and {after} N"
        );
        let weight = 0.1 * 9.80665;
        assert!(
            (before / weight - pull).abs() < 20.0 * tolerance * pull,
            "bend {bend}, {up} mm up: {} for {pull}",
            before / weight
        );
    }
}

/// A grommet beside the neck: in every pose the pulls are equal, no length is lost, and more goes through the more the
/// span beyond it needs. Laid from the start as it then lies, nothing slides at rest.
#[test]
fn a_grommet_shares_the_slack() {
    let lay = |first: f64| {
        route(&format!(
            r#"(name: "neck", diameter: 8,
                stiffness: (bend: "0.003 N m2", twist: "0.002 N m2", stretch: "30000 N", mass: "0.08 kg/m"),
                lay: [
                    Clamp(name: "T1", on: "frame", at: (-250, 20, 30), facing: (1, 0, 0)),
                    Grommet(name: "G", on: "frame", at: (-70, 30, 40), facing: (1, 0, 0.2), length: {first}),
                    Clamp(name: "T2", on: "steering", at: (70, 60, 110), facing: (0.2, 0, 1), length: {}),
                ])"#,
            372.0 - first
        ))
    };
    let route = lay(195.0);
    let solution = solve(&route, &Settings::default());
    let shapes = &solution.branches[0].shapes;
    for (pose, shape) in shapes.iter().enumerate() {
        assert!(shape.converged, "pose {pose}");
        let (before, after) = pulls(shape);
        let most = before.abs().max(after.abs());
        assert!(
            (before - after).abs() < 1e-6 * most.max(1e-3),
            "pose {pose}: {before}, {after}"
        );
        let whole: f64 = shape.spans.iter().map(|s| s.length).sum();
        assert!((whole - 0.372).abs() < 1e-12);
    }
    let slid: Vec<f64> = shapes.iter().map(|s| s.slid_at(1)).collect();
    let range = slid.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - slid.iter().copied().fold(f64::INFINITY, f64::min);
    assert!(range > 1e-4, "it slides by {range} m over the sweep");
    let rest = slid[solution.sweep.rest];
    let again = lay(195.0 + 1e3 * rest);
    let solved = solve(&again, &Settings::default());
    let left = solved.branches[0].shapes[solved.sweep.rest].slid_at(1);
    assert!(left.abs() < 2e-5, "{left} m");
}
