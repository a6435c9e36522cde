//! Every proposal holds when it is read from its own text and solved from nothing.

use std::time::Duration;

use neckloom::advise::{RetieHooks, RetieOptions, Solved, retie, retie_with};
use neckloom::check::{Options, Verdict, check};
use neckloom::read::{edited_text, route_text};
use neckloom::rod::{Settings, solve};
use neckloom::route::{Change, Route};

/// An invented run on which a tie faces askew, so that the branch bends too sharply on either side of it.
pub(crate) const ASKEW: &str = r#"(
    format: 1, title: "askew", units: (length: "mm", temperature: "degC"), tolerance: 1,
    bodies: { "frame": Fixed },
    parts: [(name: "rail", on: "frame", shape: Tube(along: [(-20, 0, -14), (320, 0, -14)], diameter: 20))],
    branches: [(
        name: "run", diameter: 8,
        stiffness: (bend: "0.004 N m2", twist: "0.003 N m2", stretch: "30000 N", mass: "0.08 kg/m"),
        lay: [
            Clamp(name: "A", on: "frame", at: (0, 0, 0), facing: (1, 0, 0), width: 12),
            Tie(name: "T", on: "frame", at: (150, 0, 0), facing: (0.5, 0.85, 0), width: 4.8, pull: "15 N", slack: 3), // askew
            Clamp(name: "B", on: "frame", at: (300, 0, 0), facing: (1, 0, 0), width: 12, slack: 3),
        ],
    )],
)"#;

#[test]
fn a_tie_that_faces_askew_is_turned_let_go_or_taken_off() {
    let route = route_text(ASKEW, "r.ron").unwrap();
    let quick = Options {
        spread: false,
        ..Options::default()
    };
    let base = Solved::new(route.clone(), &quick);
    assert_eq!(base.verdict(), Verdict::Over);
    let rewrite = |change: &Change| -> Result<(String, Route), String> {
        let target = route.changed(change, 1.0).map_err(|e| e.to_string())?;
        let text = edited_text(ASKEW, "r.ron", &target).map_err(|e| e.to_string())?;
        let read = route_text(&text, "r.ron").map_err(|e| e.to_string())?;
        Ok((text, read))
    };
    let options = RetieOptions {
        patience: Duration::from_secs(300),
        ..RetieOptions::default()
    };
    let found = retie(&base, &rewrite, &options);
    assert!(!found.proposals.is_empty(), "{found:?}");
    let mut kinds: Vec<&Vec<String>> = found.proposals.iter().map(|p| &p.words).collect();
    kinds.dedup();
    assert_eq!(kinds.len(), found.proposals.len());
    for proposal in &found.proposals {
        assert!(
            proposal.text.contains("// askew") || !proposal.text.contains("\"T\""),
            "{}",
            proposal.text
        );
        let read = route_text(&proposal.text, "r.ron").unwrap();
        let solution = solve(&read, &Settings::default());
        let checked = check(&read, &solution, &Options::default());
        let over = checked
            .findings
            .iter()
            .filter(|f| f.verdict == Verdict::Over);
        assert_eq!(over.count(), 0, "{:?}\n{}", proposal.words, proposal.text);
    }
}

#[test]
fn nothing_to_do_is_said_and_what_cannot_be_cured_too() {
    let rewrite = |_: &Change| -> Result<(String, Route), String> { Err("not asked".to_owned()) };
    let quick = Options {
        spread: false,
        ..Options::default()
    };
    let sound = route_text(&crate::cli::run::small_route(280.0), "r.ron").unwrap();
    let found = retie(
        &Solved::new(sound, &quick),
        &rewrite,
        &RetieOptions::default(),
    );
    assert!(found.proposals.is_empty() && found.nearest.is_empty());
    // Both fixings are ends, and 5 mm of slack are too few whichever way they face.
    let short = route_text(&crate::cli::run::small_route(251.0), "r.ron").unwrap();
    let found = retie(
        &Solved::new(short, &quick),
        &rewrite,
        &RetieOptions::default(),
    );
    assert!(
        found.proposals.is_empty() && !found.nearest.is_empty(),
        "{found:?}"
    );
}

#[test]
fn on_the_demo_with_a_tie_too_tight_ways_are_found_that_differ_and_hold() {
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("routes/tourer_tight_tie.ron");
    let text = std::fs::read_to_string(file).unwrap();
    let route = route_text(&text, "r.ron").unwrap();
    let quick = Options {
        spread: false,
        ..Options::default()
    };
    let rewrite = |change: &Change| -> Result<(String, Route), String> {
        let target = route.changed(change, 1.0).map_err(|e| e.to_string())?;
        let text = edited_text(&text, "r.ron", &target).map_err(|e| e.to_string())?;
        let read = route_text(&text, "r.ron").map_err(|e| e.to_string())?;
        Ok((text, read))
    };
    let options = RetieOptions {
        patience: Duration::from_secs(600),
        ..RetieOptions::default()
    };
    let base = Solved::new(route.clone(), &quick);
    let found = retie(&base, &rewrite, &options);
    assert!(!found.proposals.is_empty(), "{:?}", found.nearest);
    for (nth, proposal) in found.proposals.iter().enumerate() {
        let read = route_text(&proposal.text, "r.ron").unwrap();
        let checked = check(
            &read,
            &solve(&read, &Settings::default()),
            &Options::default(),
        );
        let over = checked
            .findings
            .iter()
            .filter(|f| f.verdict == Verdict::Over);
        assert_eq!(over.count(), 0, "{:?}", proposal.words);
        let others = &found.proposals[nth + 1..];
        assert!(others.iter().all(|other| other.words != proposal.words));
    }
}

#[test]
fn a_search_that_is_stopped_at_once_solves_hardly_anything_and_says_so() {
    let route = route_text(ASKEW, "r.ron").unwrap();
    let quick = Options {
        spread: false,
        ..Options::default()
    };
    let rewrite = |_: &Change| -> Result<(String, Route), String> { Err("not asked".to_owned()) };
    let hooks = RetieHooks {
        stop: &|| true,
        say: &|_| {},
    };
    let found = retie_with(
        &Solved::new(route, &quick),
        &rewrite,
        &RetieOptions::default(),
        &hooks,
    );
    assert!(found.ran_out && found.proposals.is_empty());
    assert!(found.solved <= 2, "{}", found.solved);
}
