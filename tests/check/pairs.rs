//! The pairs of route files in routes/: each check has one that holds every limit and one that breaks its own.
//! And the demo machine: as built it holds, and each way of spoiling it is found.

use std::path::Path;

use neckloom::check::{Findings, Options, Verdict, check, exit_status};
use neckloom::read::{route_file, route_text};
use neckloom::rod::{Settings, solve};

fn checked(stem: &str) -> (u8, Findings) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("routes/{stem}.ron"));
    let route = route_file(&path).unwrap_or_else(|faults| panic!("{faults}"));
    let solution = solve(&route, &Settings::default());
    let findings = check(&route, &solution, &Options::default());
    (exit_status(&solution, &findings), findings)
}

fn over(findings: &Findings) -> Vec<(&str, &str)> {
    let over = findings
        .findings
        .iter()
        .filter(|f| f.verdict == Verdict::Over);
    over.map(|f| (f.check, f.place.as_str())).collect()
}

#[test]
fn each_check_tells_its_pair_apart() {
    for name in [
        "bend radius",
        "chafe",
        "contacts",
        "current",
        "drip loop",
        "edge distance",
        "elongation",
        "flex life",
        "fluid lines",
        "heat",
        "heat distance",
        "pinch",
        "signal pairs",
        "slack most",
        "snag",
        "splice",
        "steering drag",
        "support",
        "tie pinch",
        "twist",
    ] {
        let stem = name.replace(' ', "_");
        let (status, findings) = checked(&format!("{stem}_within"));
        let not_within = findings
            .findings
            .iter()
            .filter(|f| f.verdict != Verdict::Within);
        let not_within: Vec<_> = not_within.map(|f| (f.check, f.place.as_str())).collect();
        assert!(
            status == 0 && not_within.is_empty(),
            "{stem}_within: {not_within:?}"
        );
        assert!(
            findings.findings.iter().any(|f| f.check == name),
            "{stem}_within: not judged"
        );
        let (status, findings) = checked(&format!("{stem}_over"));
        let over = over(&findings);
        assert!(
            status == 1 && over.iter().any(|(check, _)| *check == name),
            "{stem}_over: {over:?}"
        );
    }
}

/// Strands that are worked too far follow from the bend that works them, or from what brings that about; how long they
/// last is told all the same.
#[test]
fn worked_strands_follow_from_the_bend_that_works_them() {
    let read = |stem: &str| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("routes/{stem}.ron"));
        std::fs::read_to_string(path).unwrap()
    };
    // Clamped where it was strapped nothing but the bend is left; where there is more length, the strands are worked
    // most beside it.
    let clamped = |length: &str| {
        read("flex_life_over")
            .replace("Tie(name: \"T3\"", "Clamp(name: \"T3\"")
            .replace("pull: \"12 N\", length: 161", &format!("length: {length}"))
    };
    for (text, cause) in [
        (
            read("single_high_lamp").replace("length: 193", "length: 187"),
            Some("K2–K3 being too short"),
        ),
        (read("flex_life_over"), Some("the bend at the strap T3")),
        (clamped("161"), Some("the tight bend of K2–T3")),
        (clamped("190"), None),
    ] {
        let route = route_text(&text, "my.ron").unwrap_or_else(|faults| panic!("{faults}"));
        let solution = solve(&route, &Settings::default());
        let options = Options {
            spread: false,
            ..Options::default()
        };
        let findings = check(&route, &solution, &options).findings;
        let mut worked = findings
            .iter()
            .filter(|f| f.check == "flex life" && f.verdict == Verdict::Over);
        let found = worked
            .next()
            .unwrap_or_else(|| panic!("{cause:?}: {findings:#?}"));
        assert_eq!(found.follows_from.as_deref(), cause);
        assert!(found.advice.contains("sweeps"), "{}", found.advice);
    }
}

#[test]
fn the_tourer_holds_as_built_and_fails_for_the_reason_it_was_spoiled_by() {
    let (status, findings) = checked("tourer_stock");
    assert!(
        status == 0 && over(&findings).is_empty(),
        "{:?}",
        over(&findings)
    );
    for (stem, check, place) in [
        ("tourer_taller_bars", "elongation", "K2–K3"),
        ("tourer_lower_seat", "pinch", "K1–T1"),
        ("tourer_tight_tie", "tie pinch", "K2"),
    ] {
        let (status, findings) = checked(stem);
        let over = over(&findings);
        assert!(
            status == 1 && over.iter().any(|(c, p)| *c == check && p.contains(place)),
            "{stem}: {over:?}"
        );
    }
}
