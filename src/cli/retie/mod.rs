//! `retie`: which fixings to move so that every limit holds.

mod words;

use std::time::Duration;

use serde_json::{Value, json};

use crate::advise::{Proposal, RetieHooks, RetieOptions, Retied, Solved, retie_with};
use crate::check::{Options, Verdict, assumed, rounded, verdict_word, warnings};
use crate::quantity::{Accepts, Kind, LengthUnit, Units, parse};
use crate::read::{changed_text, edited_text, route_text};
use crate::rod::Settings;
use crate::route::{Change, Route, Step};

use super::arguments::{Retie, Shared};
use super::changes::named;
use super::failure::Failure;
use super::interrupt::Interrupt;
use super::kept::{self, Kept};
use super::progress::{BEST_SO_FAR, Told};
use super::{check_options, print_json, read_route};

/// Exit status where nothing can be proposed.
const NONE: u8 = 1;

pub(super) fn run(command: &Retie, shared: &Shared) -> Result<u8, Failure> {
    let file = command.route.display().to_string();
    let route = read_route(&command.route)?;
    let text = std::fs::read_to_string(&command.route).map_err(|source| Failure::Read {
        path: command.route.clone(),
        source,
    })?;
    let kept = Kept::beside(
        &command.route,
        &text,
        json!([
            "retie",
            command.change,
            command.longer,
            format!("{:?}", shared.units().length)
        ]),
    );
    if let (Some(number), Some(output), Some(answer)) = (command.write, &command.output, kept.get())
    {
        return kept::write(&answer, number, output, (command.json, shared));
    }
    let interrupt = Interrupt::listen();
    let progress = Told::new(shared.quiet, BEST_SO_FAR);
    let hooks = RetieHooks {
        stop: &|| interrupt.asked(),
        say: &|what| progress.say(what),
    };
    let settings = Settings::default();
    let tied = tied(command, shared, (&route, &text, &file), settings, &hooks)?;
    drop(progress);
    let report = tied.report();
    if command.json {
        print_json(&report)?;
    } else {
        words::print(&tied, command, shared)?;
    }
    match (command.write, &command.output) {
        (Some(number), Some(output)) => kept::save(&report, number, output)?,
        _ => kept.put(&report),
    }
    let Tied { base, found, .. } = &tied;
    let sound = base.verdict() != Verdict::Over || !found.proposals.is_empty();
    Ok(if sound { 0 } else { NONE })
}

/// A route, and the ways that were found to tie it.
#[derive(Debug)]
pub(super) struct Tied {
    base: Solved,
    title: String,
    found: Retied,
}

/// Looks for ways to tie a route, which its text in a file says, as the options ask for.
pub(super) fn tied(
    command: &Retie,
    shared: &Shared,
    (route, text, file): (&Route, &str, &str),
    settings: Settings,
    hooks: &RetieHooks<'_>,
) -> Result<Tied, Failure> {
    let (mut text, mut title) = (text.to_owned(), route.title.clone());
    if let Some(change) = &command.change {
        let change = named(route, change)?;
        text = changed_text(&text, file, change, 1.0)?;
        title = format!("{title}: {}", change.name);
    }
    // From here on what counts is what the text says.
    let route = route_text(&text, file)?;
    let options = RetieOptions {
        check: Options {
            settings,
            ..check_options(true, shared)
        },
        longer: longer(command, shared.units())?,
        patience: Duration::from_secs(command.within),
        ..RetieOptions::default()
    };
    let quick = Options {
        spread: false,
        ..options.check
    };
    let rewrite = |change: &Change| -> Result<(String, Route), String> {
        let target = route
            .changed(change, 1.0)
            .map_err(|error| error.to_string())?;
        let text = edited_text(&text, file, &target).map_err(|error| error.to_string())?;
        let read = route_text(&text, file).map_err(|error| error.to_string())?;
        Ok((text, read))
    };
    (hooks.say)("finding how the harness lies as it is");
    let base = Solved::new(route.clone(), &quick);
    let found = retie_with(&base, &rewrite, &options, hooks);
    Ok(Tied { base, title, found })
}

/// By how much spans may be made longer \[m\]: as said, with a unit or in the one that lengths are shown in.
fn longer(command: &Retie, units: Units) -> Result<f64, Failure> {
    let Some(text) = command.longer.as_deref().map(str::trim) else {
        return Ok(0.0);
    };
    let unit = match (text.parse::<f64>().is_ok(), units.length) {
        (false, _) => "",
        (true, LengthUnit::Mm) => " mm",
        (true, LengthUnit::Inch) => " in",
    };
    parse(&format!("{text}{unit}"), Kind::Length, Accepts::NotNegative)
        .map_err(|error| Failure::Readings(format!("--longer: {error}\n    {}", error.cure())))
}

impl Tied {
    /// The report.
    pub(super) fn report(&self) -> Value {
        let Self { base, title, found } = self;
        let proposals: Vec<Value> = found
            .proposals
            .iter()
            .map(|proposal| {
                json!({
                    "route": proposal.text,
                    "margin_pct": 100.0 * proposal.margin,
                    "length_mm": 1e3 * proposal.length,
                    "verdict": verdict_word(proposal.solved.verdict()),
                    "changes": proposal.words,
                })
            })
            .collect();
        let nearest: Vec<Value> = found
            .nearest
            .iter()
            .map(|(words, worst)| json!({ "changes": words, "short_pct": 100.0 * worst }))
            .collect();
        rounded(json!({
            "format": 1,
            "title": title,
            "assumed": assumed(&base.route),
            "warnings": warnings(&base.route, &base.solution),
            "verdict": verdict_word(base.verdict()),
            "proposals": proposals,
            "nearest": nearest,
            "in_the_way": found.obstacles.iter().map(|one| json!({
                "fixing": one.fixing,
                "part": one.part,
                "gap_mm": 1e3 * one.gap,
                "limit_mm": 1e3 * one.limit,
                "move_mm": one.by.map(|by| [by.x, by.y, by.z].map(|c| 1e3 * c)),
            })).collect::<Vec<_>>(),
            "with_more_length": found.longer.as_ref().map(|p| json!({ "changes": p.words, "longer_mm": 1e3 * added(p) })),
            "solved": found.solved,
            "ran_out_of_time": found.ran_out,
            "stopped": found.stopped,
        }))
    }
}

/// By how much the steps of a proposal make spans longer \[m\].
fn added(proposal: &Proposal) -> f64 {
    let steps = proposal.change.steps.iter();
    let longer = steps.filter_map(|step| match step {
        Step::Lengthen { by, .. } => Some(*by),
        _ => None,
    });
    longer.sum()
}
