//! Slack, strain and binding against distances that are known exactly.

use neckloom::check::Verdict;
use neckloom::harness::LengthRule;

use super::hand::{FRAME, STEERING, checked, finding, machine, route, straight, tie};

/// FAA AC 43.13-1B para 11-118 allows half an inch of deflection between supports; over 24 in a parabola of
/// that sag is 8 s²/(3 D) = 0.7056 mm longer than the distance. A span of that length has that slack.
#[test]
fn half_an_inch_of_sag_over_two_feet_is_seven_tenths_of_a_millimetre() {
    let (distance, sag) = (609.6, 12.7);
    // Length of the parabola by summing fine chords, so that the formula is tested too.
    let steps = 200_000;
    let height = |x: f64| 4.0 * sag * x * (distance - x) / (distance * distance);
    let length: f64 = (0..steps)
        .map(|i| {
            let x = [i, i + 1].map(|k| distance * f64::from(k) / f64::from(steps));
            (x[1] - x[0]).hypot(height(x[1]) - height(x[0]))
        })
        .sum();
    let mut route = route(
        machine(30.0),
        8.0,
        vec![
            tie("T1", FRAME, [0.0; 3]),
            // On the axis: the distance is the same in every pose, yet the span moves.
            tie("T2", STEERING, [0.0, 0.0, distance]),
        ],
    );
    route.branches[0].lay[1].length = LengthRule::Measured(length * 1e-3);
    let findings = checked(&route, &straight(&route));
    let slack = finding(&findings, "elongation", "T1–T2 slack");
    assert!(
        (slack.value * 1e3 - 0.7056).abs() < 1e-3,
        "{} mm",
        slack.value * 1e3
    );
    assert_eq!(
        slack.verdict,
        Verdict::Over,
        "15 mm are asked for by default"
    );
}

/// A point 100 mm from the axis, tied to one on the other side of it: the distance is greatest straight ahead
/// and 2·100·cos(δ/2) at δ.
fn across(length_mm: f64) -> neckloom::route::Route {
    let mut route = route(
        machine(30.0),
        8.0,
        vec![
            tie("T1", FRAME, [-100.0, 0.0, 0.0]),
            tie("T2", STEERING, [0.0, 100.0, 0.0]),
        ],
    );
    route.branches[0].lay[1].length = LengthRule::Measured(length_mm * 1e-3);
    route
}

#[test]
fn the_missing_length_and_the_lock_are_named() {
    // T2 starts at 90° from T1's opposite: the distance grows toward full right.
    let route = across(150.0);
    let findings = checked(&route, &straight(&route));
    let slack = finding(&findings, "elongation", "T1–T2 slack");
    let farthest = [-30.0_f64, 30.0]
        .map(|lock| 200.0 * ((90.0 + lock).to_radians() / 2.0).sin())
        .into_iter()
        .fold(0.0, f64::max);
    assert!((slack.value * 1e3 - (150.0 - farthest)).abs() < 1e-9);
    assert_eq!(slack.verdict, Verdict::Over);
    let lengthen = (15.0 - (150.0 - farthest)).ceil();
    assert!(
        slack.advice.contains(&format!("at least {lengthen} mm"))
            && slack.advice.contains("steering full"),
        "{}",
        slack.advice
    );
    let stretch = finding(&findings, "elongation", "T1–T2 stretch");
    assert!((stretch.value - (farthest / 150.0 - 1.0)).abs() < 1e-9);
    assert_eq!(stretch.verdict, Verdict::Over);
}

#[test]
fn a_span_that_runs_taut_before_the_stop_names_the_angle() {
    // Taut where 200 sin((90° + δ)/2) = 160: δ = 2 asin(0.8) − 90° = 16.2602°.
    let route = across(160.0);
    let findings = checked(&route, &straight(&route));
    let bind = findings
        .findings
        .iter()
        .find(|f| f.check == "steering drag" && f.subject.contains("binds"))
        .expect("it binds");
    let taut = 2.0 * 0.8_f64.asin().to_degrees() - 90.0;
    assert!(
        (bind.value.to_degrees() - taut).abs() < 1e-4,
        "{} against {taut}",
        bind.value.to_degrees()
    );
    assert!((bind.limit.to_degrees() - 30.0).abs() < 1e-9);
    assert_eq!(bind.verdict, Verdict::Over);
    assert!(bind.advice.contains("16°"), "{}", bind.advice);
    // The missing length comes first; what follows from it says so, and is not ranked above it.
    let first = &findings.findings[0];
    assert_eq!(
        (first.check, first.subject.as_str()),
        ("elongation", "T1–T2 slack")
    );
    assert!(first.follows_from.is_none());
    assert!(first.use_of_limit().is_finite());
    assert_eq!(bind.follows_from.as_deref(), Some("T1–T2 being too short"));
    // Long enough: no such finding.
    let route = across(190.0);
    let findings = checked(&route, &straight(&route));
    assert!(
        findings
            .findings
            .iter()
            .all(|f| !f.subject.contains("binds"))
    );
}

#[test]
fn supports_too_far_apart_ask_for_more_fixings() {
    let route = route(
        machine(30.0),
        8.0,
        vec![
            tie("T1", FRAME, [0.0; 3]),
            tie("T2", FRAME, [700.0, 0.0, 0.0]),
            tie("T3", FRAME, [1000.0, 0.0, 0.0]),
        ],
    );
    let findings = checked(&route, &straight(&route));
    let far = finding(&findings, "support", "T1–T2");
    assert_eq!(far.verdict, Verdict::Over);
    assert!(far.advice.contains("Add 2 fixings"), "{}", far.advice);
    assert_eq!(
        finding(&findings, "support", "T2–T3").verdict,
        Verdict::Within,
        "equal passes"
    );
}
