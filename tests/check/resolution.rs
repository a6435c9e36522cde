//! Elements half as long, and four times the accuracy, change no verdict. A line of what holds may come or go: parts that
//! barely touch are told of where they do.

use neckloom::check::{Options, Verdict, check};
use neckloom::read::route_file;
use neckloom::rod::{Settings, solve};

use super::demos::demos;

/// Of every route that comes with the program: the same checks, subjects and verdicts.
#[test]
fn twice_the_resolution_changes_no_verdict() {
    let plain = Settings::default();
    let fine = Settings {
        elements: 2 * plain.elements,
        accuracy: 0.25 * plain.accuracy,
        ..plain
    };
    for (name, route) in demos() {
        let verdicts = |settings: Settings| {
            let options = Options {
                spread: false,
                charts: false,
                settings,
                ..Options::default()
            };
            let found = check(&route, &solve(&route, &settings), &options);
            let mut told: Vec<(&str, usize, String, Verdict)> = found
                .findings
                .into_iter()
                .filter(|f| f.verdict != Verdict::Within)
                .map(|f| (f.check, f.branch.0, f.subject, f.verdict))
                .collect();
            told.sort();
            told
        };
        let (coarse, fine) = (verdicts(plain), verdicts(fine));
        let lost: Vec<_> = coarse.iter().filter(|told| !fine.contains(told)).collect();
        let new: Vec<_> = fine.iter().filter(|told| !coarse.contains(told)).collect();
        assert!(
            lost.is_empty() && new.is_empty(),
            "{name}: {lost:?} became {new:?}"
        );
    }
}

/// Radii of spans that parts press on, against those found a hundred times as finely.
#[test]
fn radii_beside_parts_are_resolved() {
    for (name, tolerance) in [
        ("chafe_over", 5e-3),
        ("pinch_over", 5e-3),
        ("tourer_lower_seat", 5e-3),
    ] {
        let route = route_file(format!("routes/{name}.ron").as_ref()).unwrap();
        let radii = |accuracy: f64| -> Vec<f64> {
            let settings = Settings {
                accuracy,
                ..Settings::default()
            };
            let solution = solve(&route, &settings);
            let tightest = |branch: &neckloom::rod::BranchSolution, span: usize| {
                let shapes = branch
                    .shapes
                    .iter()
                    .map(|shape| shape.spans[span].curvature);
                1.0 / shapes.fold(0.0, f64::max)
            };
            let branches = solution.branches.iter();
            branches
                .flat_map(|b| (0..b.spans.len()).map(|span| tightest(b, span)))
                .collect()
        };
        let default = Settings::default().accuracy;
        for (got, want) in radii(default).iter().zip(radii(0.01 * default)) {
            // What is bent to more than half a metre decides nothing.
            assert!(
                want > 0.5 || (got / want - 1.0).abs() < tolerance,
                "{name}: {got}, finely {want}"
            );
        }
    }
}
