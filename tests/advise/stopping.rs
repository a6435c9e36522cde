//! A search that is stopped gives what it has by then, says so, and gives nothing that was left off in the middle.

use std::sync::atomic::{AtomicUsize, Ordering};

use neckloom::advise::lengthen::{Options as Lengthening, lengthen, lengthen_checked};
use neckloom::advise::{
    Reach, ReachOptions, RetieHooks, RetieOptions, Solved, chart, reach, reach_with, retie_with,
};
use neckloom::check::{Options, Verdict, check};
use neckloom::read::{edited_text, route_text};
use neckloom::rod::{Halting, Settings, solve};
use neckloom::route::{Change, Route};

use super::lengthen::{over_the_axis, settings};
use super::reach::{options, passing, solved};
use super::retie::ASKEW;

/// How far it goes where it is stopped as it says something for the so manyth time.
fn stopped_at(base: &Solved, change: usize, said: usize, spread: bool) -> Reach {
    let halting = Halting::new();
    let count = AtomicUsize::new(0);
    let mut options = ReachOptions { ..options() };
    options.check.spread = spread;
    options.check.settings.halt = halting.halt();
    let say = |_: &str| {
        if count.fetch_add(1, Ordering::Relaxed) + 1 == said {
            halting.ask();
        }
    };
    reach_with(base, &base.route.changes[change], &options, &say).unwrap()
}

#[test]
fn a_reach_that_is_stopped_says_up_to_where_it_holds() {
    let base = solved(&passing());
    let whole = reach(&base, &base.route.changes[0], &options()).unwrap();
    assert!(!whole.stopped && whole.broken_at().is_none());
    // Stopped in its first trial nothing is known but that it holds as it is.
    let first = stopped_at(&base, 0, 1, false);
    assert!(first.stopped && first.share <= 0.0 && first.decided_by.is_none() && !first.already);
    let (mut told, mut last) = (0, 0.0);
    for said in 2..60 {
        let found = stopped_at(&base, 0, said, false);
        if !found.stopped {
            assert_eq!(found, whole, "what was not stopped is the same as ever");
            break;
        }
        // What was found holds, and grows with the time that it is given.
        assert!(
            found.share <= whole.share + 1e-9 && found.share >= last - 1e-9,
            "{found:?}"
        );
        last = found.share;
        if let Some(broken) = found.broken_at() {
            assert!(broken >= whole.share - 1e-3, "{broken} {}", whole.share);
            let there = base
                .route
                .changed(&base.route.changes[0], found.share)
                .unwrap();
            assert_ne!(
                Solved::new(there, &options().check).verdict(),
                Verdict::Over
            );
            told += 1;
        }
        assert!(found.next.is_none(), "{found:?}");
    }
    assert!(told > 2, "{told}");
    assert!(last > 0.9 * whole.share, "{last}");
}

#[test]
fn a_reach_that_is_stopped_in_its_spread_keeps_its_share() {
    let text = passing()
        .replace("slack: 0.02", "slack: 8")
        .replace("150, 40)", "150, 20)");
    let base = solved(&text);
    let with = ReachOptions {
        check: Options::default(),
        ..options()
    };
    let whole = reach(&base, &base.route.changes[0], &with).unwrap();
    let halting = Halting::new();
    let mut stopping = with;
    stopping.check.settings.halt = halting.halt();
    let say = |what: &str| {
        if what.contains("hand measuring") {
            halting.ask();
        }
    };
    let found = reach_with(&base, &base.route.changes[0], &stopping, &say).unwrap();
    assert!(found.stopped && found.spread.is_none() && found.sure.is_none());
    assert!((found.share - whole.share).abs() < 1e-12 && found.broken_at().is_none());
}

#[test]
fn a_chart_that_is_stopped_has_whole_rows_alone() {
    let text = passing().replace(
        "\"away\"",
        "\"up\": [Move(what: \"pipe\", by: (0, 0, 30))], \"away\"",
    );
    let base = solved(&text);
    let changes = [&base.route.changes[0], &base.route.changes[1]];
    let shares = [0.0, 0.25, 0.5, 0.75, 1.0];
    let whole = chart(&base, changes, &shares, &options(), &|_| {}).unwrap();
    assert!(!whole.stopped && whole.rows.len() == 5);
    let halting = Halting::new();
    let mut stopping = options();
    stopping.check.settings.halt = halting.halt();
    let say = |what: &str| {
        if what.starts_with("2 of 5") {
            halting.ask();
        }
    };
    let found = chart(&base, changes, &shares, &stopping, &say).unwrap();
    assert!(
        found.stopped && (2..5).contains(&found.rows.len()),
        "{found:?}"
    );
    for row in &found.rows {
        assert!(whole.rows.contains(row), "{row:?}");
    }
}

#[test]
fn lengths_that_are_stopped_are_solved_and_checked_as_far_as_they_go() {
    let route = over_the_axis(152.0);
    let whole = lengthen(&route, &settings(1e-3, false));
    assert!(!whole.stopped);
    let add = |done: &neckloom::advise::lengthen::Lengthened| -> f64 {
        done.adds.iter().map(|add| add.by).sum()
    };
    let base = Solved::new(route.clone(), &options().check);
    let mut unfinished = 0;
    for said in 1..200 {
        let halting = Halting::new();
        let count = AtomicUsize::new(0);
        let mut stopping = Lengthening {
            ..settings(1e-3, false)
        };
        stopping.settings.halt = halting.halt();
        let say = |what: &str| {
            let trial = what.starts_with("trying lengths");
            if trial && count.fetch_add(1, Ordering::Relaxed) + 1 == said {
                halting.ask();
            }
        };
        let known = (base.solution.clone(), base.findings.clone());
        let done = lengthen_checked(&route, known.0, known.1, &stopping, &say);
        // Whatever it gives was solved and checked without being left off.
        let mut shapes = done.solution.branches.iter().flat_map(|b| &b.shapes);
        assert!(shapes.all(|shape| shape.converged));
        if !done.stopped {
            assert_eq!(done.adds, whole.adds);
            break;
        }
        assert!(add(&done) <= add(&whole) + 1e-9, "{:?}", done.adds);
        unfinished += usize::from(!done.uncured.is_empty());
    }
    assert!(unfinished > 0);
}

#[test]
fn ways_to_tie_that_are_found_before_it_is_stopped_hold() {
    let route = route_text(ASKEW, "r.ron").unwrap();
    let quick = Options {
        spread: false,
        ..Options::default()
    };
    let rewrite = |change: &Change| -> Result<(String, Route), String> {
        let target = route.changed(change, 1.0).map_err(|e| e.to_string())?;
        let text = edited_text(ASKEW, "r.ron", &target).map_err(|e| e.to_string())?;
        let read = route_text(&text, "r.ron").map_err(|e| e.to_string())?;
        Ok((text, read))
    };
    // As someone who sees that one holds, and has seen enough.
    let holds = std::sync::atomic::AtomicBool::new(false);
    let hooks = RetieHooks {
        stop: &|| holds.load(Ordering::Relaxed),
        say: &|what| {
            if what.contains("hold so far") && !what.contains(" 0 hold") {
                holds.store(true, Ordering::Relaxed);
            }
        },
    };
    let base = Solved::new(route.clone(), &quick);
    let found = retie_with(&base, &rewrite, &RetieOptions::default(), &hooks);
    assert!(found.stopped && found.ran_out);
    assert!(!found.proposals.is_empty(), "{found:?}");
    for proposal in &found.proposals {
        let read = route_text(&proposal.text, "r.ron").unwrap();
        let solution = solve(&read, &Settings::default());
        let checked = check(&read, &solution, &Options::default());
        let mut findings = checked.findings.iter();
        assert!(
            findings.all(|f| f.verdict != Verdict::Over),
            "{:?}",
            proposal.words
        );
    }
}
