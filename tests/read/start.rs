//! The file that `start` writes.

use neckloom::check::{self, Options, Verdict};
use neckloom::read::{route_text, starter};
use neckloom::rod::{self, Settings};

#[test]
fn the_starter_parses_without_a_fault() {
    let route = route_text(starter(), "start.ron").unwrap_or_else(|faults| panic!("{faults}"));
    assert_eq!(route.warnings, [""; 0]);
    assert_eq!(route.branches[0].lay.len(), 4);
    // What a person did not measure is the stiffness alone; all else stands in the file.
    let rest: Vec<_> = route
        .assumed
        .iter()
        .filter(|line| !line.contains("stiffness") && !line.contains("mass"))
        .collect();
    assert!(rest.is_empty(), "{rest:#?}");
    assert!(starter().lines().all(|line| line.chars().count() <= 120));
}

#[test]
fn the_starter_is_within_every_limit() {
    let route = route_text(starter(), "start.ron").unwrap();
    let solution = rod::solve(&route, &Settings::default());
    let found = check::check(&route, &solution, &Options::default());
    for finding in &found.findings {
        let (check, subject) = (finding.check, &finding.subject);
        assert_eq!(
            finding.verdict,
            Verdict::Within,
            "{check}, {subject}: {finding:?}"
        );
    }
    assert!(
        found.findings.len() > 10 && found.blanks.is_empty(),
        "{:?}",
        found.blanks
    );
}
