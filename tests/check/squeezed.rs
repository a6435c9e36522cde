//! A squeeze leads what follows from it.

use neckloom::check::{Options, Verdict, check};
use neckloom::read::route_text;
use neckloom::rod::{Settings, solve};

/// A seat that comes down on the harness until nothing is left between it and the crossmember (the invented tourer): the
/// squeeze is to be mended first. That the branch sways or jumps out of the way, or pulls thousands of newtons at
/// its plug, is no news of its own.
#[test]
fn what_a_squeeze_does_to_the_branch_follows_from_it() {
    let stock = include_str!("../../routes/tourer_stock.ron");
    let drawn = "centre: (-650, 0, -40)";
    assert!(stock.contains(drawn));
    for (lower, closes) in [(16.0, false), (25.0, true)] {
        let text = stock.replace(drawn, &format!("centre: (-650, 0, {})", -40.0 - lower));
        let route = route_text(&text, "lower.ron").unwrap_or_else(|faults| panic!("{faults}"));
        let solution = solve(&route, &Settings::default());
        let options = Options {
            spread: false,
            ..Options::default()
        };
        let found = check(&route, &solution, &options).findings;
        let squeeze = "the squeeze between seat crossmember and seat pan";
        let pinch = &found[0];
        assert_eq!(
            (pinch.check, pinch.verdict),
            ("pinch", Verdict::Over),
            "{lower} mm lower"
        );
        assert!(pinch.follows_from.is_none());
        assert_eq!(pinch.value < 0.0, closes, "{lower} mm lower");
        let moved: Vec<_> = found
            .iter()
            .filter(|f| matches!(f.check, "contacts" | "snap") && f.verdict == Verdict::Over)
            .collect();
        for finding in &moved {
            assert_eq!(
                finding.follows_from.as_deref(),
                Some(squeeze),
                "{lower} mm lower: {finding:?}"
            );
            assert!(finding.advice.contains("mend that first"));
        }
        let jumps = moved.iter().any(|f| f.check == "snap");
        let pulls = moved.iter().any(|f| f.check == "contacts");
        assert_eq!((pulls, jumps), (true, closes), "{lower} mm lower");
    }
}
