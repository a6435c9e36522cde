//! A change that reaches some branches alone gives the same as solving everything anew.

use neckloom::advise::{Laid, Solved, changed};
use neckloom::check::Options;
use neckloom::read::route_file;
use neckloom::route::Change;

#[test]
fn what_is_taken_over_is_what_would_be_found_again() {
    let options = Options {
        spread: false,
        ..Options::default()
    };
    let route = route_file("routes/tourer_lower_seat.ron".as_ref()).unwrap();
    let base = Solved::new(route, &options);
    for change in &base.route.changes {
        let changed = base.route.changed(change, 0.3).unwrap();
        let quick = base.with(changed.clone(), &options);
        let anew = Solved::new(changed.clone(), &options);
        let same = base.with_same(changed, &options);
        for (a, b) in same.findings.findings.iter().zip(&anew.findings.findings) {
            assert_eq!(
                (a.check, &a.subject, &a.advice),
                (b.check, &b.subject, &b.advice)
            );
        }
        assert_eq!(same.findings.findings.len(), anew.findings.findings.len());
        assert_eq!(same.findings.blanks.len(), anew.findings.blanks.len());
        assert_eq!(quick.findings.findings.len(), anew.findings.findings.len());
        for (a, b) in quick.findings.findings.iter().zip(&anew.findings.findings) {
            assert_eq!((a.check, &a.subject, a.pose), (b.check, &b.subject, b.pose));
            assert!(
                (a.value - b.value).abs() <= 1e-9 * b.value.abs().max(1e-6),
                "{a:?}\n{b:?}"
            );
        }
    }
}

/// Two changes together, each known by itself: strands under the seat are taken over from the one, those over the neck from
/// the other, on a stock machine, one whose seat presses on the harness, and one whose harness meets at breakouts.
#[test]
fn what_two_changes_leave_to_each_other_is_taken_over() {
    let options = Options {
        spread: false,
        ..Options::default()
    };
    for (name, shares) in [
        ("tourer_stock", [0.3, 0.6]),
        ("tourer_lower_seat", [0.2, 0.5]),
        ("tourer_whole_harness", [0.2, 0.4]),
    ] {
        let route = route_file(format!("routes/{name}.ron").as_ref()).unwrap();
        let mut base = Solved::new(route, &options);
        if base.route.changes.len() < 2 {
            // The same two as of the stock machine, of what this one has of them.
            let other = route_file("routes/tourer_stock.ron".as_ref()).unwrap();
            for change in &other.changes {
                let mut change = change.clone();
                let whole = change.clone();
                change.steps.retain(|step| {
                    let alone = Change {
                        steps: vec![step.clone()],
                        ..whole.clone()
                    };
                    base.route.changed(&alone, 0.1).is_ok()
                });
                assert!(!change.steps.is_empty());
                base.route.changes.push(change);
            }
        }
        let (bars, seat) = (&base.route.changes[0], &base.route.changes[1]);
        let (bars, seat) = ((bars, shares[0]), (seat, shares[1]));
        let single = |change| {
            let route = changed(&base.route, &[change]).unwrap();
            let (solution, _) = base.shapes_of(&route, &options);
            Laid { route, solution }
        };
        let (one, other) = (single(bars), single(seat));
        let both = changed(&base.route, &[bars, seat]).unwrap();
        let found = base.with_same_beside(&[&one, &other], both.clone(), &options);
        let anew = Solved::new(both, &options);
        assert_eq!(
            found.findings.findings.len(),
            anew.findings.findings.len(),
            "{name}"
        );
        for (a, b) in found.findings.findings.iter().zip(&anew.findings.findings) {
            assert_eq!((a.check, &a.subject, a.pose), (b.check, &b.subject, b.pose));
            assert!(
                (a.value - b.value).abs() <= 1e-9 * b.value.abs().max(1e-6),
                "{name}: {a:?}\n{b:?}"
            );
        }
        // Something of each was taken over: shapes are shared with both, or with neither alone.
        let shared = |laid: &Laid| {
            let pairs = found.solution.branches.iter().zip(&laid.solution.branches);
            pairs
                .filter(|(a, b)| std::sync::Arc::ptr_eq(&a.shapes[0], &b.shapes[0]))
                .count()
        };
        assert!(shared(&one) + shared(&other) > 0, "{name}");
    }
}

/// A cover that is rated for less changes no shape: what it is good for is judged anew.
#[test]
fn what_lies_as_it_did_is_judged_by_what_it_is_made_of_now() {
    let options = Options {
        spread: false,
        ..Options::default()
    };
    let route = route_file("routes/tourer_stock.ron".as_ref()).unwrap();
    let base = Solved::new(route.clone(), &options);
    let mut weaker = route;
    for branch in &mut weaker.branches {
        branch.cover.as_mut().unwrap().rated = Some(45.0);
    }
    let heat = |solved: &Solved| -> Vec<String> {
        let findings = solved.findings.findings.iter();
        let heat = findings.filter(|f| f.check == "heat");
        heat.map(|f| format!("{:?} {} {}", f.verdict, f.limit, f.value))
            .collect()
    };
    let same = base.with_same(weaker.clone(), &options);
    assert_eq!(heat(&same), heat(&Solved::new(weaker, &options)));
    assert_ne!(heat(&same), heat(&base));
}
