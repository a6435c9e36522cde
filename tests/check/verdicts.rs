//! Spread, chance and verdict; the report.

use std::sync::Arc;

use neckloom::check::{Verdict, exit_status, report};
use neckloom::harness::LengthRule;

use super::hand::{
    FRAME, STEERING, checked, checked_with_spread, finding, machine, route, straight, tie,
};

/// Two fixings on the steering axis: the distance, and so the slack, depends on their two heights alone, so the
/// spread of the slack is √2 times the tolerance.
fn on_the_axis(slack_mm: f64) -> neckloom::route::Route {
    let mut route = route(
        machine(30.0),
        8.0,
        vec![
            tie("T1", FRAME, [0.0; 3]),
            tie("T2", STEERING, [0.0, 0.0, 250.0]),
        ],
    );
    route.branches[0].lay[1].length = LengthRule::Measured((250.0 + slack_mm) * 1e-3);
    route
}

#[test]
fn the_tolerance_carries_through_to_the_slack() {
    // 15 mm are asked for. The standard deviation is 4.243 mm, so 95 % need 1.645 · 4.243 = 6.98 mm more.
    for (slack, expected) in [
        (14.0, Verdict::Over),
        (15.5, Verdict::Close),
        (21.0, Verdict::Close),
        (23.0, Verdict::Within),
    ] {
        let findings = checked_with_spread(&on_the_axis(slack));
        let found = finding(&findings, "elongation", "T1–T2 slack");
        let spread = found.spread.expect("asked for");
        // Sideways moves turn the span a little: second order, 3²/(2·250) = 0.018 mm each.
        assert!(
            (spread * 1e3 - 3.0 * 2.0_f64.sqrt()).abs() < 0.02,
            "{spread}"
        );
        assert_eq!(found.verdict, expected, "{slack} mm");
        let chance = found.chance_over.expect("asked for");
        let sigmas = (found.value - found.limit) / spread;
        assert!((chance - 0.5 * libm::erfc(sigmas / 2.0_f64.sqrt())).abs() < 1e-12);
        if expected == Verdict::Close {
            assert!(
                found.advice.contains("measure that again"),
                "{}",
                found.advice
            );
        }
    }
}

#[test]
fn without_spread_nothing_is_close() {
    let route = on_the_axis(15.5);
    let findings = checked(&route, &straight(&route));
    let found = finding(&findings, "elongation", "T1–T2 slack");
    assert_eq!(
        (found.spread, found.chance_over, found.verdict),
        (None, None, Verdict::Within)
    );
}

#[test]
fn worst_comes_first() {
    let findings = checked_with_spread(&on_the_axis(14.0));
    let verdicts: Vec<_> = findings.findings.iter().map(|f| f.verdict).collect();
    assert_eq!(verdicts[0], Verdict::Over);
    assert!(verdicts.windows(2).all(|w| w[0] >= w[1]), "{verdicts:?}");
}

#[test]
fn exit_status_tells_over_and_unsolved() {
    let good = on_the_axis(23.0);
    let mut solution = straight(&good);
    let findings = checked(&good, &solution);
    assert_eq!(exit_status(&solution, &findings), 0);
    let short = on_the_axis(10.0);
    let over = straight(&short);
    assert_eq!(exit_status(&over, &checked(&short, &over)), 1);
    Arc::make_mut(&mut solution.branches[0].shapes[3]).converged = false;
    let findings = checked(&good, &solution);
    assert_eq!(exit_status(&solution, &findings), 3);
    let unsolved = &findings.findings[0];
    assert_eq!((unsolved.check, unsolved.pose), ("solve", 3));
    assert!(
        unsolved.place.contains("steering right"),
        "{}",
        unsolved.place
    );
}

/// The error of a radius is that of shapes that were found.
#[test]
fn where_nothing_was_found_no_error_is_told() {
    let route = on_the_axis(23.0);
    let mut solution = straight(&route);
    let error = |solution: &_| {
        let findings = checked(&route, solution);
        report(&route, solution, &findings)["branches"][0]["radius_error_pct"].clone()
    };
    for pose in 0..solution.branches[0].shapes.len() {
        assert!(error(&solution).is_number(), "{pose} lost");
        Arc::make_mut(&mut solution.branches[0].shapes[pose]).converged = false;
    }
    assert!(error(&solution).is_null());
}

/// Every field of the report's contract, with its value where the shape is known.
#[test]
fn the_report_has_every_field_of_the_contract() {
    let route = on_the_axis(23.0);
    let solution = straight(&route);
    let report = report(&route, &solution, &checked_with_spread(&route));
    let keys = |value: &serde_json::Value| -> Vec<String> {
        value
            .as_object()
            .unwrap_or_else(|| panic!("an object: {value}"))
            .keys()
            .cloned()
            .collect()
    };
    let holds = |value: &serde_json::Value, wanted: &[&str]| {
        let keys = keys(value);
        for key in wanted {
            assert!(keys.iter().any(|k| k == key), "{key} missing in {keys:?}");
        }
    };
    holds(
        &report,
        &[
            "format", "title", "verdict", "assumed", "warnings", "poses", "branches", "findings",
        ],
    );
    assert_eq!(report["format"], 1);
    assert_eq!(report["verdict"], "within");
    assert_eq!(report["poses"][0]["id"], 0);
    assert_eq!(report["poses"][0]["joints"]["steering"], -30.0);
    assert_eq!(keys(&report["poses"][0]["joints"]), ["steering"]);
    let branch = &report["branches"][0];
    holds(branch, &["name", "diameter_mm", "spans", "nearest"]);
    let span = &branch["spans"][0];
    holds(
        span,
        &[
            "from",
            "to",
            "length_mm",
            "moving",
            "tightest_bend",
            "slack_least",
            "slack_most",
            "stretch_most",
            "twist_most",
            "by_pose",
        ],
    );
    holds(&span["tightest_bend"], &["radius_mm", "at_mm", "pose"]);
    assert!(
        span["tightest_bend"]["radius_mm"].is_null(),
        "a straight span"
    );
    holds(&span["slack_least"], &["slack_mm", "pose"]);
    assert!((span["slack_least"]["slack_mm"].as_f64().unwrap() - 23.0).abs() < 1e-9);
    holds(&span["stretch_most"], &["stretch_pct", "tension_n", "pose"]);
    holds(&span["twist_most"], &["twist_deg", "pose"]);
    let by_pose = span["by_pose"].as_array().unwrap();
    assert_eq!(by_pose.len(), report["poses"].as_array().unwrap().len());
    holds(
        &by_pose[0],
        &[
            "pose",
            "radius_mm",
            "slack_mm",
            "tension_n",
            "twist_deg",
            "converged",
        ],
    );
    holds(
        &report["findings"][0],
        &[
            "check",
            "branch",
            "place",
            "at_mm",
            "pose",
            "value",
            "limit",
            "unit",
            "verdict",
            "spread",
            "chance_over_pct",
            "source",
            "advice",
        ],
    );
}
