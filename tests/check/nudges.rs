//! The spread from branches that follow what was measured by the stiffness they have, against that from branches that are
//! solved near by with everything tried.

use neckloom::check::{Options, check, check_with};
use neckloom::read::route_text;
use neckloom::rod::{Settings, solve, solve_near};

use super::invariance::PLAIN;

/// Tells of each finding whose spread is not the same to this part of it.
fn compare(name: &str, text: &str, part: f64) -> usize {
    let route = route_text(text, name).unwrap_or_else(|why| panic!("{why}"));
    let settings = Settings::default();
    let solution = solve(&route, &settings);
    let options = Options::default();
    let followed = check(&route, &solution, &options);
    let solved = check_with(&route, &solution, &options, &|nudged, near| {
        solve_near(nudged, near, &settings)
    });
    let mut told = 0;
    for finding in &followed.findings {
        let same = |other: &&neckloom::check::Finding| {
            (other.check, &other.subject, other.branch)
                == (finding.check, &finding.subject, finding.branch)
        };
        let other = solved
            .findings
            .iter()
            .find(same)
            .expect("the same findings");
        let what = format!("{name}: {} {}", finding.check, finding.subject);
        assert_eq!(finding.verdict, other.verdict, "{what}");
        match (finding.spread, other.spread) {
            (Some(a), Some(b)) => {
                // Below a thousandth of the limit nobody sees it.
                let seen = 1e-3 * finding.limit.abs();
                assert!((a - b).abs() <= part * b.max(seen), "{what}: {a} {b}");
                told += usize::from(b > seen);
            }
            (a, b) => assert_eq!(a.is_some(), b.is_some(), "{what}"),
        }
    }
    told
}

#[test]
fn branches_that_follow_spread_as_those_that_are_solved() {
    let stock = include_str!("../../routes/tourer_stock.ron");
    // Clamps, and a strand that parts press on.
    assert!(compare("tourer_stock.ron", stock, 0.02) > 40);
    let pressed = include_str!("../../routes/pinch_over.ron");
    assert!(compare("pinch_over.ron", pressed, 0.02) > 5);
    // A short span whose slack buckles it: with the matrix of another place it falls to a saddle.
    let single = include_str!("../../routes/single_high_lamp.ron");
    let buckled = single.replace(
        "at: (108, 22, 98), facing: (0.8, 0, 0.6), slack: 0.7",
        "at: (108, 30, 98), facing: (0.8, 0, 0.6), slack: 0.2",
    );
    assert_ne!(buckled, single, "the lamp stands elsewhere");
    assert!(compare("single_high_lamp.ron", &buckled, 0.02) > 10);
    // A breakout that floats and a hole that the loom slides through.
    assert!(compare("anywhere.ron", &PLAIN.route(), 0.02) > 10);
}

/// Two parts moved each by its own tolerance, the gap between them square to their faces: the sum of squares (JCGM 100:2008,
/// GUM, 5.1.2) is √2 times one of them. Where the gap grows out of what pinching looks at, only half of each is told.
#[test]
fn a_gap_between_two_parts_is_as_unsure_as_both() {
    let tolerance = 2.0e-3;
    for (name, text, least) in [
        (
            "pinch_over.ron",
            include_str!("../../routes/pinch_over.ron"),
            2.0_f64.sqrt(),
        ),
        (
            "pinch_within.ron",
            include_str!("../../routes/pinch_within.ron"),
            1.0,
        ),
    ] {
        let route = route_text(text, name).unwrap_or_else(|why| panic!("{why}"));
        assert!((route.tolerance - tolerance).abs() < 1e-12);
        let solution = solve(&route, &Settings::default());
        let found = check(&route, &solution, &Options::default());
        let gap = found
            .findings
            .iter()
            .find(|f| f.check == "pinch" && f.subject == "rail and seat pan")
            .expect("the gap under the seat");
        let parts = gap.spread.expect("a spread") / tolerance;
        assert!((parts - least).abs() < 0.01 * least, "{name}: {parts}");
    }
}
