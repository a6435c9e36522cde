//! Other ways for a branch: every proposal holds when it is read and checked again; a closed machine says what closes it.

use std::path::Path;

use neckloom::advise::reroute::{Hooks, Options, RerouteError, Rerouted, reroute};
use neckloom::check::{Verdict, check};
use neckloom::harness::BranchId;
use neckloom::quantity::Units;
use neckloom::read::{edited_text, route_text};
use neckloom::rod::{Settings, solve};
use neckloom::route::Route;

fn options(branch: usize, from: usize, to: usize) -> Options {
    Options {
        branch: BranchId(branch),
        from,
        to,
        most: 2,
        units: Units::METRIC,
        settings: Settings::default(),
    }
}

fn run(text: &str, options: &Options) -> Result<Rerouted, RerouteError> {
    let route = route_text(text, "machine").unwrap_or_else(|faults| panic!("{faults}"));
    let written = |new: &Route| {
        let text = edited_text(text, "machine", new).map_err(|e| e.to_string())?;
        let read = route_text(&text, "machine").map_err(|e| e.to_string())?;
        Ok((text, read))
    };
    let hooks = Hooks {
        written: &written,
        stop: &|| false,
        say: &|_| {},
    };
    reroute(&route, options, &hooks)
}

/// A plug and a socket 400 mm apart, a rail beside them, and `more` parts between.
pub(crate) fn shed(more: &str) -> String {
    format!(
        r#"(format: 1, title: "shed", units: (length: "mm", temperature: "degC"), tolerance: 1,
        bodies: {{ "frame": Fixed }},
        parts: [
            (name: "rail", on: "frame", shape: Tube(along: [(-260, 0, -60), (260, 0, -60)], diameter: 20)),
            {more}
        ],
        wires: {{ "lamp": (size: "1.5 mm2", strands: 30, outside: 2.4) }},
        branches: [(name: "lead", wires: ["lamp", "lamp"], diameter: 6, lay: [
            Connector(name: "plug", on: "frame", at: (-200, 0, -35), facing: (1, 0, 0)),
            Clamp(name: "old", on: "frame", at: (0, 0, -35), facing: (1, 0, 0), width: 12, slack: 1),
            Connector(name: "socket", on: "frame", at: (200, 0, -35), facing: (1, 0, 0), slack: 1),
        ])])"#
    )
}

#[test]
fn a_hot_pipe_across_the_way_is_gone_around() {
    let pipe = r#"(name: "pipe", on: "frame", surface: 90, shape: Tube(along: [(-5, -90, -25), (-5, 90, -25)], diameter: 16)),"#;
    let text = shed(pipe);
    let done = run(&text, &options(0, 0, 2)).unwrap();
    for proposal in &done.proposals {
        let again = route_text(&proposal.text, "machine").unwrap();
        assert_eq!(again.branches, proposal.route.branches);
        let found = check(
            &again,
            &solve(&again, &Settings::default()),
            &neckloom::check::Options::default(),
        );
        assert!(found.findings.iter().all(|f| f.verdict != Verdict::Over));
    }
    assert!(!done.proposals.is_empty(), "{:?}", done.rejected);
}

/// The way over this pipe is free and too near to its heat: it was solved, and the finding that decides is told.
#[test]
fn what_falls_through_is_told_with_the_finding_that_decides() {
    let pipe = r#"(name: "pipe", on: "frame", surface: 200, shape: Tube(along: [(-5, -90, -25), (-5, 90, -25)], diameter: 16)),"#;
    let most = Options {
        most: 4,
        ..options(0, 0, 2)
    };
    let done = run(&shed(pipe), &most).unwrap();
    assert!(!done.proposals.is_empty() && !done.rejected.is_empty());
    for way in &done.rejected {
        assert!(way.way.contains("the pipe"), "{}", way.way);
        assert!(way.why.starts_with("heat distance at "), "{}", way.why);
        assert!(
            way.why.contains("beside pipe") && way.why.contains("at least"),
            "{}",
            way.why
        );
    }
    // What is proposed goes elsewhere.
    let ways = done.rejected.iter().map(|way| &way.way);
    assert!(
        done.proposals
            .iter()
            .all(|p| !ways.clone().any(|way| *way == p.way))
    );
}

#[test]
fn a_closed_machine_says_what_closes_it() {
    let wall = r#"(name: "bulkhead", on: "frame", shape: Box(centre: (60, 0, 0), size: (20, 2000, 2000))),"#;
    let done = run(&shed(wall), &options(0, 0, 2)).unwrap();
    assert!(done.proposals.is_empty());
    let [rejected] = &done.rejected[..] else {
        panic!("{:?}", done.rejected)
    };
    assert!(
        rejected.why.contains("no way was found"),
        "{}",
        rejected.why
    );
    assert!(rejected.why.contains("bulkhead"), "{}", rejected.why);
}

#[test]
fn an_end_before_its_beginning_is_refused() {
    let error = run(&shed(""), &options(0, 2, 0)).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("\"socket\" does not come before \"plug\""),
        "{error}"
    );
}

#[test]
fn every_proposal_of_the_demo_holds_when_read_again() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("routes/tourer_taller_bars.ron");
    let text = std::fs::read_to_string(file).unwrap();
    let route = route_text(&text, "machine").unwrap();
    let last = route.branches[0].lay.len() - 1;
    let done = run(
        &text,
        &Options {
            most: 1,
            ..options(0, 0, last)
        },
    )
    .unwrap();
    // As many as were asked for and no more, found without leaving anything off.
    assert_eq!(done.proposals.len(), 1, "{:?}", done.rejected);
    assert!(!done.stopped);
    for proposal in &done.proposals {
        let again = route_text(&proposal.text, "machine").unwrap();
        let found = check(
            &again,
            &solve(&again, &Settings::default()),
            &neckloom::check::Options::default(),
        );
        let ours = found.findings.iter().filter(|f| f.branch == BranchId(0));
        assert!(ours.clone().count() > 0);
        for finding in ours {
            assert_ne!(
                finding.verdict,
                Verdict::Over,
                "{}: {}",
                finding.check,
                finding.advice
            );
        }
    }
}
