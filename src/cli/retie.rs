//! `retie`: which fixings to move so that every limit holds.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use serde_json::{Value, json};

use crate::advise::{Proposal, RetieHooks, RetieOptions, Retied, Solved, retie_with};
use crate::check::{CAUTIONS, Options, Verdict, assumed, rounded, verdict_word, warnings};
use crate::read::{changed_text, edited_text, route_text};
use crate::route::{Change, Route};

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
        "solved": found.solved,
        "ran_out_of_time": found.ran_out,
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
    if found.proposals.is_empty() {
        paper.plain(
            "",
            &format!(
                "No way was found to tie it so that every limit holds; {} were solved and checked{}.",
                found.solved,
                if found.ran_out { " before it was stopped or the time ran out" } else { "" }
            ),
        )?;
        if !shared.quiet {
            let nearest: Vec<String> = found
                .nearest
                .iter()
                .filter(|(_, worst)| worst.is_finite())
                .map(|(words, worst)| {
                    format!(
                        "best found still fails: {words}, by {:.1} % of its limit",
                        100.0 * worst
                    )
                })
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
                    "what no fixing can cure is a lack of length: then the harness must be made longer or laid another way"
                        .to_owned(),
                ],
            )?;
        }
        return Ok(());
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
        quantity(
            proposal.length,
            crate::quantity::Kind::Length,
            shared.units()
        )
    ))?;
    for words in &proposal.words {
        paper.plain("     ", words)?;
    }
    Ok(())
}
