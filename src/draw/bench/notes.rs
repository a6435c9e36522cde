//! What is to be done in sentences; cautions, assumptions, and the limits with their sources.

use crate::check::{CAUTIONS, Limit, LimitKey, LimitRule, assumed, warnings};
use crate::draw::scene::Scene;
use crate::draw::words;
use crate::quantity::Units;

use super::Bench;
use super::flow::Flow;
use super::table::Table;

/// The work, in order.
pub(super) fn to_do(bench: &Bench<'_>, scene: &Scene<'_>) -> Vec<String> {
    let show = |x: f64| words::length(x, scene.units);
    let find = "Find the break first: open the places below in their order and test each, before anything else is changed.";
    let mut todo: Vec<String> = bench.broken.iter().map(|_| find.to_owned()).collect();
    todo.extend([
        "Photograph the routing as it is, and mark every tie's place with tape before it is cut.".to_owned(),
        "Measure the check bar at the foot of each page; then cut out the strip, join its rows, and lay it beside the harness.".to_owned(),
    ]);
    if let Some(work) = bench.work {
        for add in &work.done.adds {
            let branch = &scene.route.branches[add.branch.0];
            todo.push(format!(
                "Lengthen {} by {} from {} to {}: see the cut list and the splice plan.",
                branch.name,
                show(add.by),
                branch.lay[add.span].fixing.name,
                branch.lay[add.span + 1].fixing.name
            ));
        }
        if work.done.adds.is_empty() {
            todo.push("No wire is lengthened.".to_owned());
        }
    }
    for (branch, solved) in scene.route.branches.iter().zip(&scene.solution.branches) {
        for span in solved.spans.iter().filter(|span| span.moving) {
            todo.push(format!(
                "{}: {} free between {} and {}; no tie and no splice there.",
                branch.name,
                show(span.length),
                branch.lay[span.from].fixing.name,
                branch.lay[span.from + 1].fixing.name
            ));
        }
    }
    if todo.len() > 9 {
        let more = todo.len() - 8;
        todo.truncate(8);
        todo.push(format!(
            "And {more} more spans that move: they are hatched on the strip."
        ));
    }
    todo.push("Tie as the tie list says, then do every hand check.".to_owned());
    todo
}

pub(super) fn fill(flow: &mut Flow, bench: &Bench<'_>) {
    let route = bench.after.route;
    flow.heading("Cautions");
    flow.list(CAUTIONS);
    flow.list([
        "Leads of brake, throttle, anti-lock and airbag systems are not joined on this sheet's authority.",
        "Hydraulic lines and control cables need the same check with limits of their own. Never tie anything to them, and never drill bars.",
        "Solder stiffens a wire and it breaks at the edge: never in what moves. Never crimp a tinned end.",
    ]);
    let weak = warnings(route, bench.after.solution);
    if !weak.is_empty() {
        flow.heading("Weaker than it could be");
        flow.list(weak.iter().map(String::as_str));
    }
    let assumed = assumed(route);
    if !assumed.is_empty() {
        flow.heading("Assumed");
        flow.list(assumed.iter().map(String::as_str));
    }
    flow.table(&limits(bench));
    flow.fine(&format!(
        "Positions are taken to be good to {} (one standard deviation). Made by neckloom {}.",
        words::length(route.tolerance, bench.options.units),
        env!("CARGO_PKG_VERSION")
    ));
}

/// The limits that were used.
fn limits(bench: &Bench<'_>) -> Table {
    let mut table = Table::new(
        "limits",
        "Limits used",
        &[
            ("limit", 3.2),
            ("value", 3.6),
            ("source", 8.6),
            ("how well known", 3.4),
        ],
    );
    for key in LimitKey::all() {
        let limit = bench.after.findings.limits.get(key);
        table.rows.push(vec![
            key.name().to_owned(),
            value(limit, bench.options.units),
            limit.source.clone(),
            limit.status.in_words().to_owned(),
        ]);
    }
    table
}

fn value(limit: &Limit, units: Units) -> String {
    match limit.rule {
        LimitRule::Diameters(factor) => format!("{} × diameter", words::rounded(factor, 1)),
        LimitRule::BranchOrWire { branch, wire } => format!(
            "{} × diameter, {} × largest wire",
            words::rounded(branch, 0),
            words::rounded(wire, 0)
        ),
        LimitRule::Value(value) => words::value(value, limit.kind, units),
        LimitRule::BySurface(table) => match (table.first(), table.last()) {
            (Some(low), Some(high)) => format!(
                "{} at {} °C to {} at {} °C",
                words::length(low.1, units),
                words::rounded(low.0, 0),
                words::length(high.1, units),
                words::rounded(high.0, 0)
            ),
            _ => String::new(),
        },
        LimitRule::ByEdge { sharp, rolled } => format!(
            "{} sharp, {} rolled",
            words::length(sharp, units),
            words::length(rolled, units)
        ),
        LimitRule::Aside(aside) => format!("{} aside", words::length(aside, units)),
    }
}
