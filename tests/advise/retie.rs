//! Every proposal holds when it is read from its own text and solved from nothing.

use std::time::Duration;

use neckloom::advise::{Proposal, RetieHooks, RetieOptions, Solved, retie, retie_with};
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

/// A plug beside a hot part, nearer to it than a lead may come: its own place breaks the limit however it is tied.
fn beside_heat(aside_mm: f64) -> String {
    ASKEW
        .replace("facing: (0.5, 0.85, 0)", "facing: (1, 0, 0)")
        .replace("Clamp(name: \"A\", on: \"frame\", at: (0, 0, 0), facing: (1, 0, 0), width: 12)", "Connector(name: \"A\", on: \"frame\", at: (0, 0, 0), facing: (1, 0, 0))")
        .replace(
            "parts: [",
            &format!("limits: {{ \"hot distance\": (value: \"40 mm\", why: \"test\") }},
             parts: [(name: \"pipe\", on: \"frame\", surface: 200, shape: Ball(centre: (0, -{aside_mm}, 0), diameter: 20)), "),
        )
}

#[test]
fn a_plug_in_the_way_is_told_and_moved_in_each_way() {
    // Surface to surface it is 46 − 10 − 4 mm, 40 mm are to be kept.
    let text = beside_heat(46.0);
    let route = route_text(&text, "r.ron").unwrap_or_else(|faults| panic!("{faults}"));
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
        patience: Duration::from_secs(300),
        ..RetieOptions::default()
    };
    let base = Solved::new(route.clone(), &quick);
    let found = retie(&base, &rewrite, &options);
    let [obstacle] = &found.obstacles[..] else {
        panic!("{found:?}")
    };
    assert_eq!(
        (obstacle.fixing.as_str(), obstacle.part.as_str()),
        ("A", "pipe")
    );
    assert!(!obstacle.sweeps);
    assert!((obstacle.gap - 0.032).abs() < 1e-6, "{}", obstacle.gap);
    assert!((obstacle.limit - 0.040).abs() < 1e-9, "{}", obstacle.limit);
    // Straight away from it, in whole millimetres: what lacks, and what two points measured to 1 mm may be off at 95 %.
    let by = obstacle.by.unwrap();
    let least = 0.008 + 1.645 * std::f64::consts::SQRT_2 * 1e-3;
    assert!(by.y >= least && by.y < least + 2e-3, "{by}");
    assert!(by.x.abs() < 1e-3 && by.z.abs() < 1e-3, "{by}");
    assert!(!found.proposals.is_empty(), "{:?}", found.nearest);
    for proposal in &found.proposals {
        assert!(
            proposal.words.iter().any(|words| words.contains('A')),
            "{:?}",
            proposal.words
        );
        let read = route_text(&proposal.text, "r.ron").unwrap();
        let moved = read.branches[0].lay[0].fixing.place;
        assert!((read.places[moved].at.coords - by).norm() < 1e-6);
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

#[test]
fn a_plug_that_has_no_room_is_told_and_nothing_is_proposed() {
    // It lacks more than a plug is put elsewhere by.
    let text = beside_heat(10.0);
    let route = route_text(&text, "r.ron").unwrap();
    let quick = Options {
        spread: false,
        ..Options::default()
    };
    let rewrite = |_: &Change| -> Result<(String, Route), String> { Err("not asked".to_owned()) };
    let found = retie(
        &Solved::new(route, &quick),
        &rewrite,
        &RetieOptions::default(),
    );
    assert!(
        found
            .obstacles
            .iter()
            .any(|one| one.fixing == "A" && one.by.is_none())
    );
    assert!(found.proposals.is_empty() && found.longer.is_none());
}

/// A lead over the steering axis whose clamps have no slack to give: only more length does it.
const TAUT: &str = r#"(
    format: 1, title: "taut", units: (length: "mm", temperature: "degC"), tolerance: 1,
    bodies: {
        "frame": Fixed,
        "steering": Turns(on: "frame", through: (0, 0, 0), axis: (0, 0, 1), from: "-20 deg", to: "20 deg"),
    },
    parts: [(name: "rail", on: "frame", shape: Tube(along: [(-320, 40, -14), (-100, 40, -14)], diameter: 20))],
    branches: [(
        name: "lead", diameter: 4,
        stiffness: (bend: "0.001 N m2", twist: "0.0008 N m2", stretch: "20000 N", mass: "0.02 kg/m"),
        lay: [
            Clamp(name: "A", on: "frame", at: (-300, 40, 0), facing: (1, 0, 0), width: 12),
            Clamp(name: "M", on: "frame", at: (-150, 40, 0), facing: (1, 0, 0), width: 12, slack: 0.2),
            Clamp(name: "B", on: "steering", at: (20, 40, 60), facing: (0.6, 0, 0.8), width: 12, slack: 8),
        ],
    )],
)"#;

#[test]
fn where_only_more_length_helps_it_is_told_and_with_it_a_way_is_found() {
    let route = route_text(TAUT, "r.ron").unwrap_or_else(|faults| panic!("{faults}"));
    let quick = Options {
        spread: false,
        ..Options::default()
    };
    let rewrite = |change: &Change| -> Result<(String, Route), String> {
        let target = route.changed(change, 1.0).map_err(|e| e.to_string())?;
        let text = edited_text(TAUT, "r.ron", &target).map_err(|e| e.to_string())?;
        let read = route_text(&text, "r.ron").map_err(|e| e.to_string())?;
        Ok((text, read))
    };
    let base = Solved::new(route.clone(), &quick);
    assert_eq!(base.verdict(), Verdict::Over);
    let with = |longer: f64| {
        let options = RetieOptions {
            patience: Duration::from_secs(300),
            longer,
            ..RetieOptions::default()
        };
        retie(&base, &rewrite, &options)
    };
    let added = |proposal: &Proposal| -> f64 {
        let rest = |route: &Route| -> f64 {
            let rest = route.machine.stance(&route.machine.rest());
            let spans = route.spans(&route.branches[0], &rest);
            spans.iter().map(|span| span.length).sum()
        };
        rest(&proposal.solved.route) - rest(&route)
    };
    // Without more length nothing is proposed, and it is told what more would do.
    let none = with(0.0);
    assert!(
        none.proposals.is_empty(),
        "{:?}",
        none.proposals.iter().map(|p| &p.words).collect::<Vec<_>>()
    );
    assert!(!none.nearest.is_empty());
    let told = none.longer.as_ref().expect("more length helps");
    assert!(
        added(told) > 1e-3 && added(told) <= 0.030 + 1e-9,
        "{}",
        added(told)
    );
    // With as much as it asked for there are ways, none with more than was allowed, and each holds.
    let most = (added(told) * 1e3).ceil() * 1e-3;
    let found = with(most);
    assert!(!found.proposals.is_empty(), "{:?}", found.nearest);
    for proposal in &found.proposals {
        assert!(added(proposal) <= most + 1e-6, "{}", added(proposal));
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
