//! What differs between two routes.

use neckloom::advise::{Difference, Solved, compare};
use neckloom::check::{Options, Verdict};
use neckloom::read::route_text;

use crate::cli::run::small_route;

#[test]
fn what_appears_one_way_vanishes_the_other() {
    let options = Options {
        spread: false,
        ..Options::default()
    };
    let solved =
        |length: f64| Solved::new(route_text(&small_route(length), "r.ron").unwrap(), &options);
    let (long, short) = (solved(280.0), solved(255.0));
    let there = compare(&long, &short);
    let back = compare(&short, &long);
    assert_eq!(there.verdicts, (Verdict::Within, Verdict::Over));
    let count = |c: &neckloom::advise::Comparison, d: Difference| {
        c.findings.iter().filter(|f| f.difference == d).count()
    };
    assert!(count(&there, Difference::Appeared) > 0);
    assert_eq!(
        count(&there, Difference::Appeared),
        count(&back, Difference::Vanished)
    );
    assert_eq!(
        count(&there, Difference::Vanished),
        count(&back, Difference::Appeared)
    );
    let slack = there
        .numbers
        .iter()
        .find(|n| n.name == "least slack")
        .unwrap();
    assert!((slack.before.unwrap() - slack.after.unwrap() - 0.025).abs() < 1e-6);
    let same = compare(&long, &long);
    assert!(same.numbers.is_empty());
    assert!(
        same.findings
            .iter()
            .all(|f| f.difference == Difference::Holds)
    );
    // Shorter still: what was over gets worse.
    let shorter = compare(&short, &solved(252.0));
    assert!(count(&shorter, Difference::Worse) > 0 && count(&shorter, Difference::Better) == 0);
}
