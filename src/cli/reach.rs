//! `reach`: how far a change can go before the first limit is broken.

use std::path::PathBuf;

use serde_json::{Value, json};

use crate::advise::{
    Chart, ChartRow, Limiting, Reach as Found, ReachOptions, Solved, chart, reach_with,
};
use crate::check::{Options, assumed, finding_entry, rounded, warnings};
use crate::draw::{SheetOptions, png, reach_chart};
use crate::rod::Settings;
use crate::route::Change;

use super::arguments::{Reach, Shared};
use super::changes::{in_words, named};
use super::failure::Failure;
use super::interrupt::Interrupt;
use super::progress::{BEST_SO_FAR, Told};
use super::terminal::Paper;
use super::{check_options, files, print_json, read_route};

/// Pixels across a PNG of the chart: A5 at 300 dots an inch.
const PNG_WIDTH: u32 = 2480;
/// Shares of the second change in a chart.
const ROWS: u32 = 9;
/// The greatest of them.
const MOST: f64 = 1.5;
/// How much of what the second change can do alone the last row has: beside the limit, not on it.
const ALMOST: f64 = 0.998;

pub(super) fn run(command: &Reach, shared: &Shared) -> Result<u8, Failure> {
    let route = read_route(&command.route)?;
    for change in &command.change {
        named(&route, change)?;
    }
    let interrupt = Interrupt::listen();
    let options = options(command, shared, interrupt.settings());
    let quick = Options {
        spread: false,
        ..options.check
    };
    let mut paper = Paper::of_terminal(shared.units());
    let progress = Told::new(shared.quiet, BEST_SO_FAR);
    let say = |what: &str| progress.say(what);
    say("finding how the harness lies as it is");
    let base = Solved::new(route, &quick);
    if interrupt.asked() {
        return Err(Failure::Stopped);
    }
    match command.change.as_slice() {
        [first, second] => {
            let changes = [named(&base.route, first)?, named(&base.route, second)?];
            let found = charted(&base, changes, &options, &say)?;
            drop(progress);
            two(command, shared, &base, &found, &mut paper)
        }
        [change, ..] => {
            let found = reach_with(&base, named(&base.route, change)?, &options, &say)?;
            drop(progress);
            if command.json {
                print_json(&report(&base, &found))?;
            } else {
                print(&mut paper, &base, &found, shared)?;
            }
            Ok(0)
        }
        [] => Ok(0),
    }
}

/// How to look; the rod's settings say who can stop it.
pub(super) fn options(command: &Reach, shared: &Shared, settings: Settings) -> ReachOptions {
    ReachOptions {
        check: Options {
            settings,
            ..check_options(!command.no_spread, shared)
        },
        most: command.most / 100.0,
        ..ReachOptions::default()
    }
}

/// How far two changes go together: rows of the second, no farther than it can go by itself.
pub(super) fn charted(
    base: &Solved,
    changes: [&Change; 2],
    options: &ReachOptions,
    say: &(dyn Fn(&str) + Sync),
) -> Result<Chart, Failure> {
    // Its spread is shown nowhere.
    let mut options = *options;
    options.check.spread = false;
    say(&format!(
        "finding how far \"{}\" goes alone",
        changes[1].name
    ));
    let alone = reach_with(base, changes[1], &options, &|_| {})?;
    let most = if alone.share > 0.0 {
        alone.share.min(MOST)
    } else {
        MOST
    };
    let shares: Vec<f64> = (0..ROWS)
        .map(|i| most * ALMOST * f64::from(i) / f64::from(ROWS - 1))
        .collect();
    let mut found = chart(base, changes, &shares, &options, say)?;
    if let (Some(limit), true, false) = (alone.decided_by, alone.share < MOST, found.stopped) {
        found.rows.push(ChartRow {
            share: most,
            allowed: None,
            decided_by: Some(limit),
        });
    }
    found.solved += alone.solved;
    Ok(found)
}

fn limiting(base: &Solved, limit: &Limiting) -> Value {
    // A change of a joint's travel may have more poses than the route; in words it is that of the changed one.
    let mut finding = limit.finding.clone();
    finding.pose = finding
        .pose
        .min(base.solution.sweep.poses.len().saturating_sub(1));
    let mut entry = finding_entry(&base.route, &base.solution, &finding);
    if let Some(fields) = entry.as_object_mut() {
        fields.insert("pose_in_words".to_owned(), json!(limit.pose));
    }
    entry
}

pub(super) fn report(base: &Solved, found: &Found) -> Value {
    let (factor, unit) = found.unit();
    let along = |share: f64| found.along(share) * factor;
    rounded(json!({
        "format": 1,
        "title": base.route.title,
        "assumed": assumed(&base.route),
        "warnings": warnings(&base.route, &base.solution),
        "change": found.change,
        "reach": along(found.share),
        "of": along(1.0),
        "unit": unit,
        "reach_pct": 100.0 * found.share,
        "spread": found.spread.map(along),
        "sure": found.sure.map(along),
        "stopped": found.stopped,
        "broken_at": found.broken_at().map(along),
        "already_over": found.already,
        "decided_by": found.decided_by.as_ref().map(|limit| limiting(base, limit)),
        "next": found.next.as_ref().map(|next| json!({
            "reach": along(next.share),
            "reach_pct": 100.0 * next.share,
            "decided_by": limiting(base, next),
        })),
        "over_between_pct": found.over_between.iter()
            .map(|(from, to)| [100.0 * from, 100.0 * to]).collect::<Vec<_>>(),
        "ends_pct": found.ends.as_ref().map(|(share, _)| 100.0 * share),
        "ends_because": found.ends.as_ref().map(|(_, why)| why),
        "solved": found.solved,
    }))
}

/// A limit in words: "pinch at 612 mm of main (seat pressed 8 mm)".
fn decides(limit: &Limiting) -> String {
    let finding = &limit.finding;
    format!(
        "{}, {}: {} ({})",
        finding.check, limit.branch, finding.place, limit.pose
    )
}

fn print(paper: &mut Paper, base: &Solved, found: &Found, shared: &Shared) -> Result<(), Failure> {
    let units = shared.units();
    let show = |share: f64| in_words(found.of, share, units);
    if !shared.quiet {
        paper.heading(&base.route.title)?;
    }
    let whole = show(1.0);
    let line = match &found.decided_by {
        None if found.stopped => format!(
            "Stopped, unfinished: \"{}\" can go {} of {whole} ({:.0} %) and perhaps further; no limit is broken as far as \
             was looked at.",
            found.change,
            show(found.share),
            100.0 * found.share
        ),
        Some(limit) if found.broken_at().is_some() => format!(
            "Stopped, unfinished: \"{}\" can go {} of {whole} ({:.0} %); at {} a limit is broken. In between was not \
             looked at.",
            found.change,
            show(found.share),
            100.0 * found.share,
            show(limit.share)
        ),
        None => format!(
            "\"{}\" can go {} of {whole} and further: no limit is broken up to {:.0} %, the most that was looked at.",
            found.change,
            show(found.share),
            100.0 * found.share
        ),
        Some(_) if found.already => format!(
            "\"{}\" cannot go at all: a limit is broken before anything is changed.",
            found.change
        ),
        Some(_) => {
            let sure = match (found.spread, found.sure) {
                (Some(spread), Some(sure)) => {
                    format!(", ±{}; surely {}", show(spread), show(sure))
                }
                (Some(spread), None) => format!(", ±{}", show(spread)),
                _ => String::new(),
            };
            format!(
                "\"{}\" can go {} of {whole} ({:.0} %{sure}).",
                found.change,
                show(found.share),
                100.0 * found.share
            )
        }
    };
    paper.plain("", &line)?;
    if shared.quiet {
        return Ok(());
    }
    if let Some(limit) = &found.decided_by {
        paper.plain("  ", &format!("Then decides: {}", decides(limit)))?;
        // At the limit itself there is nothing to cure yet: what it is says more than the finding's own advice.
        let finding = &limit.finding;
        let bound = if finding.at_most {
            "at most"
        } else {
            "at least"
        };
        let most = super::terminal::quantity(finding.limit, finding.kind, units);
        let text = format!("{}: {bound} {most}; {}", finding.measure(), finding.source);
        paper.plain("    ", &text)?;
    }
    match (&found.next, &found.decided_by) {
        (Some(next), _) => {
            let all = if found.already {
                "all that is broken now"
            } else {
                "that"
            };
            paper.plain(
                "  ",
                &format!(
                    "After curing {all}, {}: {}",
                    show(next.share),
                    decides(next)
                ),
            )?;
        }
        (None, Some(_)) if found.stopped => paper.plain(
            "  ",
            "Stopped before it was known what decides next, and how far hand measuring may put this off.",
        )?,
        (None, Some(_)) => paper.plain(
            "  ",
            "After curing that, no other limit decides as far as was looked at.",
        )?,
        (None, None) => {}
    }
    for (from, to) in &found.over_between {
        paper.plain(
            "  ",
            &format!(
                "Mind: limits are broken from {} to {}, and hold again beyond.",
                show(*from),
                show(*to)
            ),
        )?;
    }
    if let Some((share, why)) = &found.ends {
        paper.plain(
            "  ",
            &format!("At {} it can no longer be made: {why}.", show(*share)),
        )?;
    }
    Ok(())
}

/// How far one change can go at each share of another.
pub(super) fn chart_report(base: &Solved, found: &Chart) -> Value {
    let rows: Vec<Value> = found
        .rows
        .iter()
        .map(|row| {
            json!({
                "second_pct": 100.0 * row.share,
                "first_pct": row.allowed.map(|allowed| 100.0 * allowed),
                "decided_by": row.decided_by.as_ref().map(|limit| limiting(base, limit)),
            })
        })
        .collect();
    rounded(json!({
        "format": 1,
        "title": base.route.title,
        "assumed": assumed(&base.route),
        "warnings": warnings(&base.route, &base.solution),
        "changes": found.changes,
        "most_pct": 100.0 * found.most,
        "stopped": found.stopped,
        "rows": rows,
        "solved": found.solved,
    }))
}

/// Two changes at once.
fn two(
    command: &Reach,
    shared: &Shared,
    base: &Solved,
    found: &Chart,
    paper: &mut Paper,
) -> Result<u8, Failure> {
    let unfinished = if found.stopped { " (unfinished)" } else { "" };
    let title = format!(
        "{}: {} against {}{unfinished}",
        base.route.title, found.changes[0], found.changes[1]
    );
    if found.stopped && found.rows.len() < 2 {
        return Err(Failure::Stopped);
    }
    if let Some(output) = &command.output {
        let options = SheetOptions {
            units: shared.units(),
        };
        let drawn = reach_chart(found, &title, &options);
        files::replace(output, drawn.as_bytes())?;
        if let Some(named) = &command.png {
            let picture: PathBuf = named
                .clone()
                .unwrap_or_else(|| output.with_extension("png"));
            files::replace(&picture, &png(&drawn, PNG_WIDTH)?)?;
        }
    }
    if command.json {
        print_json(&chart_report(base, found))?;
        return Ok(0);
    }
    let units = shared.units();
    if !shared.quiet {
        paper.heading(&title)?;
    }
    if found.stopped {
        paper.plain("  ", "Stopped before all rows were found; these are whole.")?;
    }
    for row in &found.rows {
        let second = in_words(found.of[1], row.share, units);
        let text = match (&row.allowed, &row.decided_by) {
            (None, Some(limit)) => format!("with {second}: not at all; {}", decides(limit)),
            (Some(allowed), Some(limit)) => format!(
                "with {second}: {}; then {}",
                in_words(found.of[0], *allowed, units),
                decides(limit)
            ),
            (allowed, None) => format!(
                "with {second}: {} and further",
                in_words(found.of[0], allowed.unwrap_or(0.0), units)
            ),
        };
        paper.plain("  ", &text)?;
    }
    Ok(0)
}
