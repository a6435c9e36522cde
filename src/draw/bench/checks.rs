//! Where to look first, and what is checked by hand with a place for the reading.

use crate::check::Verdict;
use crate::draw::scene::Scene;
use crate::draw::words;
use crate::harness::FixingKind;
use crate::quantity::Kind;

use super::Bench;
use super::flow::Flow;
use super::table::Table;

/// So many places are told.
const PLACES: usize = 6;

pub(super) fn fill(flow: &mut Flow, bench: &Bench<'_>, scene: &Scene<'_>) {
    flow.words("Before anything is bolted on for good, and again after the first ride. A box for each, a place for what you read.");
    flow.table(&by_hand(bench, scene));
}

/// What the table of [`look_first`] is called. Where something fails, the places to open for it come first.
pub(super) fn look_first_title(bench: &Bench<'_>) -> &'static str {
    match bench.broken {
        Some(_) => "Where a limit calls for it",
        None => "Where to look first",
    }
}

/// The places to look at first: what breaks a limit, then what is too close to call.
pub(super) fn look_first(bench: &Bench<'_>, scene: &Scene<'_>) -> Table {
    let mut table = Table::new(
        "look_first",
        look_first_title(bench),
        &[
            ("where", 4.6),
            ("in which position", 3.0),
            ("what", 2.2),
            ("value and limit", 4.0),
            ("do", 8.6),
        ],
    );
    table.note = "In this order; it is an order of search and no likelihood.".to_owned();
    table.none = "Nothing calls for it: every limit that was checked holds.".to_owned();
    table.tick = true;
    let calling = scene
        .findings
        .findings
        .iter()
        .filter(|f| f.verdict > Verdict::Within);
    for finding in calling.take(PLACES) {
        let branch = &scene.route.branches[finding.branch.0].name;
        table.rows.push(vec![
            format!("{branch}: {}", finding.place),
            scene.pose(finding.pose),
            match finding.verdict {
                Verdict::Over => format!("{}: over", finding.check),
                _ => format!("{}: too close to call", finding.check),
            },
            words::value_and_limit(finding, scene.units),
            finding.advice.clone(),
        ]);
    }
    table
}

/// The hand checks.
pub(super) fn by_hand(bench: &Bench<'_>, scene: &Scene<'_>) -> Table {
    let mut table = Table::new(
        "hand_checks",
        "What to check",
        &[
            ("check", 3.4),
            ("how", 9.6),
            ("must be", 4.8),
            ("read", 3.6),
        ],
    );
    table.tick = true;
    let mut row = |check: &str, how: &str, must: &str| {
        table.rows.push(vec![
            check.to_owned(),
            how.to_owned(),
            must.to_owned(),
            String::new(),
        ]);
    };
    let show = |x: f64| words::length(x, scene.units);
    row(
        "Lock to lock",
        "Slowly by hand, three times each way, front wheel off the ground; watch one span at a time, then let go.",
        "Nothing taut, kinked, dragging or pinched; the bars stay where they are.",
    );
    for (branch, solved) in scene.route.branches.iter().zip(&scene.solution.branches) {
        for (index, span) in solved
            .spans
            .iter()
            .enumerate()
            .filter(|(_, span)| span.moving)
        {
            let name = |lay: usize| branch.lay[lay].fixing.name.as_str();
            let at = |pose: Option<usize>| {
                pose.and_then(|p| solved.shapes.get(p))
                    .map(|s| show(s.spans[index].slack))
            };
            let motion = scene.motion.as_ref();
            let expected = motion.map_or_else(String::new, |m| {
                let of = [
                    (m.high, &m.names[2]),
                    (m.rest, &m.names[1]),
                    (m.low, &m.names[0]),
                ];
                let said = of
                    .into_iter()
                    .filter_map(|(pose, name)| Some(format!("{name} {}", at(Some(pose))?)));
                said.collect::<Vec<_>>().join(", ")
            });
            row(
                "Slack at the stops",
                &format!(
                    "{}, {} to {}: gather it by hand at both stops and straight ahead.",
                    branch.name,
                    name(span.from),
                    name(span.from + 1)
                ),
                &format!("Near to: {expected}."),
            );
        }
    }
    row(
        "Idle and throttle",
        "Engine idling in neutral, on its stand, outdoors: turn lock to lock; open the throttle a little and let go at both stops.",
        "Idle does not change, no lamp flickers, the throttle snaps shut.",
    );
    row(
        "Brake lever and lamp",
        "Pull the lever at full left, straight ahead and full right.",
        "Full travel, lamp lights each time.",
    );
    row(
        "Seat and travel",
        "Clay or paper under the latched seat with the rider on it; fork and rear wheel fully in and out.",
        "Nothing presses on the harness; the print shows a gap.",
    );
    row(
        "Wiggle and tug",
        "Section by section along the strip, the circuit under its own current, a meter on min/max.",
        "No change while it moves.",
    );
    let connectors: usize = scene
        .route
        .branches
        .iter()
        .flat_map(|branch| &branch.lay)
        .filter(|lay| matches!(lay.fixing.kind, FixingKind::Connector { .. }))
        .count();
    if connectors > 0 {
        row(
            "Connectors",
            &format!("Each of the {connectors}: latch, seal, gentle pull on every wire."),
            "Latched; no terminal backs out.",
        );
    }
    if let Some(work) = bench.work {
        let all = work.drops.iter();
        let most = all.max_by(|a, b| a.after.total_cmp(&b.after));
        let current = most.map_or_else(String::new, |drop| {
            format!(
                " ({} carries {}.)",
                drop.wire,
                scene.units.show(drop.current, Kind::Current)
            )
        });
        row(
            "Voltage drop under load",
            &format!(
                "Load on, meter from the supply to the consumer along each wire that grew.{current} Never force a test current through sensor or control wires."
            ),
            "At most 0.5 V for a whole side; 0.1 V over one joint.",
        );
    }
    row(
        "Hot parts",
        "After ten minutes of running, engine off: look for a lead that leans nearer than it is drawn. Do not touch.",
        "Gaps as on the drawing.",
    );
    row(
        "After the first ride",
        "Lock to lock again, every tie looked at; once more after some hundred kilometres.",
        "No shine, no mark, no tie moved.",
    );
    table
}
