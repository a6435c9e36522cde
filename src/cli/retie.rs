//! `retie`: which fixings to move so that every limit holds.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use serde_json::{Value, json};

use crate::advise::{Proposal, RetieHooks, RetieOptions, Retied, Solved, retie_with};
use crate::check::{CAUTIONS, Options, Verdict, assumed, rounded, verdict_word, warnings};
use crate::quantity::{Accepts, Kind, LengthUnit, Units, parse};
use crate::read::{changed_text, edited_text, route_text};
use crate::route::{Change, Route, Step, What};

use super::arguments::{Retie, Shared};
use super::changes::named;
use super::failure::Failure;
use super::progress::Told;
use super::terminal::{Paper, quantity};
use super::{check_options, files, print_json, read_route};

/// Exit status where nothing can be proposed.
const NONE: u8 = 1;

pub(super) fn run(command: &Retie, shared: &Shared) -> Result<u8, Failure> {
    let file = command.route.display().to_string();
    let route = read_route(&command.route)?;
    let mut text = std::fs::read_to_string(&command.route).map_err(|source| Failure::Read {
        path: command.route.clone(),
        source,
    })?;
    let mut title = route.title.clone();
    if let Some(change) = &command.change {
        let change = named(&route, change)?;
        text = changed_text(&text, &file, change, 1.0)?;
        title = format!("{title}: {}", change.name);
    }
    // From here on what counts is what the text says.
    let route = route_text(&text, &file)?;
    let options = RetieOptions {
        check: check_options(true, shared),
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
        let text = edited_text(&text, &file, &target).map_err(|error| error.to_string())?;
        let read = route_text(&text, &file).map_err(|error| error.to_string())?;
        Ok((text, read))
    };
    let progress = Told::new(shared.quiet);
    let stopped = Arc::new(AtomicBool::new(false));
    let heard = Arc::clone(&stopped);
    // Without it an interruption ends the program as ever; with it the best so far is shown.
    let _listens = ctrlc::set_handler(move || {
        if heard.swap(true, Ordering::Relaxed) {
            std::process::exit(130);
        }
    });
    let base = Solved::new(route.clone(), &quick);
    let hooks = RetieHooks {
        stop: &|| stopped.load(Ordering::Relaxed),
        say: &|what| progress.say(what),
    };
    let found = retie_with(&base, &rewrite, &options, &hooks);
    drop(progress);
    if command.json {
        print_json(&report(&base, &title, &found))?;
    } else {
        print(&base, &title, &found, command, shared)?;
    }
    if let (Some(number), Some(output)) = (command.write, &command.output) {
        let chosen = number
            .checked_sub(1)
            .and_then(|index| found.proposals.get(index));
        let chosen = chosen.ok_or(Failure::NoProposal {
            number,
            count: found.proposals.len(),
        })?;
        files::replace(output, chosen.text.as_bytes())?;
    }
    let sound = base.verdict() != Verdict::Over || !found.proposals.is_empty();
    Ok(if sound { 0 } else { NONE })
}

/// By how much spans may be made longer \[m\]: as said, with a unit or in the one that lengths are shown in.
pub(super) fn longer(command: &Retie, units: Units) -> Result<f64, Failure> {
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

pub(super) fn report(base: &Solved, title: &str, found: &Retied) -> Value {
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

fn print(
    base: &Solved,
    title: &str,
    found: &Retied,
    command: &Retie,
    shared: &Shared,
) -> Result<(), Failure> {
    let mut paper = Paper::of_terminal(shared.units());
    if !shared.quiet {
        paper.heading(title)?;
    }
    if base.verdict() != Verdict::Over {
        return paper.plain(
            "",
            "Every limit holds as it is tied: nothing needs to move.",
        );
    }
    in_the_way(&mut paper, found, shared)?;
    if found.proposals.is_empty() {
        paper.plain(
            "",
            &format!(
                "No way was found to tie it so that every limit holds; {} were solved and checked{}.",
                found.solved,
                match (found.stopped, found.ran_out) {
                    (true, _) => " before it was stopped",
                    (false, true) => " before the time ran out",
                    _ => "",
                }
            ),
        )?;
        if let Some(longer) = &found.longer {
            let units = shared.units();
            let by = units.show_to(added(longer), Kind::Length, 0);
            paper.plain(
                "",
                &format!(
                    "With {by} more length every limit holds: {}. See it with --longer \"{by}\".",
                    longer.words.join("; ")
                ),
            )?;
        }
        if !shared.quiet {
            let nearest: Vec<String> = found
                .nearest
                .iter()
                .filter(|(_, worst)| worst.is_finite())
                .map(|(words, _)| format!("best found still fails: {words}"))
                .collect();
            paper.list("What came nearest", &nearest)?;
            paper.list(
                "Tried",
                &[
                    "each tie and clamp at the spans that break a limit, and one further: shifted up to 60 mm along what it \
                     sits on, put on another tube or named point within 85 mm, turned as the branch lies of itself, a strap \
                     changed for a wide one, a weaker pull or a cushioned clamp, loosened, its direction let go, taken off; \
                     a clamp added; then two of them together"
                        .to_owned(),
                    if found.longer.is_some() {
                        "the same with more length in the spans beside".to_owned()
                    } else {
                        "the same with up to 30 mm more length in the spans beside: lay it another way (neckloom reroute)"
                            .to_owned()
                    },
                ],
            )?;
        }
        return Ok(());
    }
    if found.stopped {
        paper.plain("", "Stopped before all was tried; this is the best so far.")?;
    }
    for (index, proposal) in found.proposals.iter().enumerate() {
        one(&mut paper, index + 1, proposal, shared)?;
    }
    if !shared.quiet {
        if command.output.is_none() {
            let file = command.route.display();
            paper.blank()?;
            paper.plain(
                "",
                &format!(
                    "To save one: neckloom retie {file} --write 1 -o NEW.ron (and the same options)"
                ),
            )?;
        }
        paper.list("Cautions", &CAUTIONS.map(str::to_owned))?;
    }
    Ok(())
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

/// What no tie can cure.
fn in_the_way(paper: &mut Paper, found: &Retied, shared: &Shared) -> Result<(), Failure> {
    let units = shared.units();
    for one in &found.obstacles {
        let show = |value: f64| units.show(value, Kind::Length);
        let what = if one.sweeps {
            format!("what {} sweeps", one.part)
        } else {
            format!("the heat of {}", one.part)
        };
        let cure = match one.by {
            Some(by) => {
                let moved = Step::Move {
                    what: What::Fixing(one.fixing.clone()),
                    by,
                };
                format!(
                    "so each way here also puts {} (see whether its holder allows that)",
                    moved.in_words(units)
                )
            }
            None => {
                "it must be put elsewhere first, and has no room straight away from it".to_owned()
            }
        };
        paper.plain(
            "",
            &format!(
                "No tie alone can do it: {} itself sits {} from {what}, at least {} is asked; {cure}.",
                one.fixing,
                show(one.gap),
                show(one.limit)
            ),
        )?;
    }
    Ok(())
}

fn one(
    paper: &mut Paper,
    number: usize,
    proposal: &Proposal,
    shared: &Shared,
) -> Result<(), Failure> {
    paper.blank()?;
    let close = if proposal.solved.verdict() == Verdict::Close {
        "every limit holds, some too close to call"
    } else {
        "every limit holds"
    };
    paper.heading(&format!(
        "{number}  {close}; {:.0} % room at the tightest, harness {}",
        100.0 * proposal.margin,
        quantity(proposal.length, Kind::Length, shared.units())
    ))?;
    for words in &proposal.words {
        paper.plain("     ", words)?;
    }
    Ok(())
}
