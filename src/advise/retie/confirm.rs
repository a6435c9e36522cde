//! What holds in the search is put together, written, read again, solved from nothing and checked with its spread.

use crate::check::{Options, Verdict, check};
use crate::quantity::Units;
use crate::rod;
use crate::route::{Change, Step};

use super::places::tube_under;
use super::problem::said;
use super::{Proposal, RetieOptions, Retied, Rewrite, Watch};
use crate::advise::Solved;
use crate::advise::margin::{excess, margin};

/// Puts the ways of the clusters together, and keeps what holds.
pub(super) fn confirm(
    base: &Solved,
    found: &[Vec<Vec<Step>>],
    rewrite: &Rewrite<'_>,
    (options, watch): (&RetieOptions, &Watch<'_>),
    result: &mut Retied,
) {
    let most = found.iter().map(Vec::len).max().unwrap_or(0);
    // Whoever stops the search waits for the one that is looked at again: the best so far is worth it.
    let whole = Options {
        spread: true,
        settings: rod::Settings {
            halt: rod::Halt::default(),
            ..options.check.settings
        },
        ..options.check
    };
    let quick = Options {
        spread: false,
        ..whole
    };
    for n in 0..most {
        let sound = result.proposals.iter();
        let sound = sound.filter(|p| p.solved.verdict() == Verdict::Within);
        if sound.count() >= options.proposals {
            return;
        }
        // Out of time: one that holds is enough, and without one the first is still worth a look.
        if watch.is_over() && (!result.proposals.is_empty() || n > 0) {
            result.ran_out = true;
            return;
        }
        let ways = found.iter().map(|ways| ways[n.min(ways.len() - 1)].clone());
        let change = Change {
            name: "tied anew".to_owned(),
            steps: ways.flatten().collect(),
        };
        if change.steps.is_empty() {
            continue;
        }
        (watch.hooks.say)(&format!(
            "{} found; reading another back and checking it with its spread",
            result.proposals.len()
        ));
        let Ok((text, route)) = rewrite(&change) else {
            continue;
        };
        let solved = Solved::new(route, &quick);
        result.solved += 1;
        let words: Vec<String> = change
            .steps
            .iter()
            .map(|step| in_words(base, step))
            .collect();
        if solved.verdict() == Verdict::Over || !solved.is_found() {
            let worst = solved
                .findings
                .findings
                .iter()
                .max_by(|a, b| excess(a).total_cmp(&excess(b)));
            if let Some(worst) = worst {
                let words = format!("{}: {}", words.join("; "), said(worst, options.check.units));
                result.nearest.push((words, excess(worst)));
            }
            continue;
        }
        let findings = check(&solved.route, &solved.solution, &whole);
        let solved = Solved { findings, ..solved };
        let length = solved.solution.branches.iter().flat_map(|b| &b.spans);
        let length = length.map(|span| span.length).sum();
        result.proposals.push(Proposal {
            text,
            margin: margin(&solved),
            length,
            change,
            words,
            solved,
        });
    }
}

/// The best first: what surely holds, then fewest changes, then most room.
pub(super) fn ranked(proposals: &mut [Proposal]) {
    proposals.sort_by(|a, b| {
        a.solved
            .verdict()
            .cmp(&b.solved.verdict())
            .then(key(&a.change.steps).len().cmp(&key(&b.change.steps).len()))
            .then(b.margin.total_cmp(&a.margin))
    });
}

/// Keeps the first of those with the same key.
pub(super) fn different<T>(all: &mut Vec<T>, key: impl Fn(&T) -> Vec<String>) {
    let mut seen: Vec<Vec<String>> = Vec::new();
    all.retain(|one| {
        let key = key(one);
        let new = !seen.contains(&key);
        if new {
            seen.push(key);
        }
        new
    });
}

/// What is done to what, without how far: two ways with the same key are one way. That a fixing is turned tells two ways
/// apart only where nothing else is done to it.
pub(super) fn key(steps: &[Step]) -> Vec<String> {
    let mut key: Vec<String> = Vec::new();
    for step in steps {
        match step {
            Step::Shift { what, .. } => key.push(format!("shift {what}")),
            Step::Remove { what } => key.push(format!("remove {what}")),
            Step::Add(added) => key.push(format!("add after {}", added.after)),
            Step::Lengthen { to, .. } => key.push(format!("longer to {to}")),
            Step::Move { what, .. } => key.push(format!("move {}", what.name())),
            Step::Hold { what, hold } => {
                let other = hold.pull.is_some() || hold.loose.is_some() || hold.cushioned.is_some();
                if other || hold.facing == Some(None) {
                    key.push(format!(
                        "hold {what} {} {} {:?} {:?}",
                        hold.facing == Some(None),
                        hold.width.is_some() && hold.pull.is_some(),
                        hold.loose,
                        hold.cushioned
                    ));
                } else if !steps
                    .iter()
                    .any(|s| matches!(s, Step::Shift { what: other, .. } if other == what))
                {
                    key.push(format!("turn {what}"));
                }
            }
            other => key.push(format!("{other:?}")),
        }
    }
    key.sort();
    key
}

/// A step as a person would say it at the machine: "T1 25 mm back (along left seat rail)".
pub(super) fn in_words(base: &Solved, step: &Step) -> String {
    let words = step.in_words(Units::METRIC);
    let route = &base.route;
    let (on, at) = match step {
        Step::Shift { what, by, .. } => {
            let found = route.branches.iter().flat_map(|b| &b.lay);
            let Some(entry) = found.clone().find(|entry| entry.fixing.name == *what) else {
                return words;
            };
            let by = by.unwrap_or_default();
            (entry.fixing.on, route.places[entry.fixing.place].at + by)
        }
        Step::Add(added) => {
            let found = route.machine.bodies.iter().position(|b| b.name == added.on);
            let Some(on) = found else { return words };
            (crate::machine::BodyId(on), added.at)
        }
        _ => return words,
    };
    match tube_under(route, on, &at, 0.0) {
        Some((name, _)) => format!("{words} (on {name})"),
        None => words,
    }
}
