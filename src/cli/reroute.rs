//! `reroute`: other ways for a branch, each solved and checked again from its own text.

use std::io::{IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use indicatif::ProgressBar;
use serde_json::{Value, json};

use crate::advise::reroute::{Hooks, Options, Proposal, Rerouted, reroute};
use crate::check::{CAUTIONS, Finding, assumed, rounded};
use crate::harness::BranchId;
use crate::quantity::{Kind, Units};
use crate::read::{edited_text, route_text};
use crate::rod;
use crate::route::Route;

use super::arguments::{Reroute, Shared};
use super::failure::Failure;
use super::terminal::Paper;
use super::{files, read_route};

/// Exit status where no way was found.
const NO_WAY: u8 = 1;

pub(super) fn run(command: &Reroute, shared: &Shared) -> Result<u8, Failure> {
    let units = shared.units();
    let route = read_route(&command.route)?;
    let text = std::fs::read_to_string(&command.route)?;
    let file = command.route.display().to_string();
    let options = options(&route, command, units)?;
    let stopped = Arc::new(AtomicBool::new(false));
    let heard = Arc::clone(&stopped);
    // Without it an interruption ends the program as ever; with it the best so far is shown.
    let _listens = ctrlc::set_handler(move || {
        if heard.swap(true, Ordering::Relaxed) {
            std::process::exit(130);
        }
    });
    let begun = Instant::now();
    let longest = Duration::from_secs(command.within.max(1));
    let bar = (!shared.quiet && std::io::stderr().is_terminal()).then(|| {
        let bar = ProgressBar::new_spinner();
        bar.enable_steady_tick(Duration::from_millis(150));
        bar
    });
    let written = |new: &Route| -> Result<(String, Route), String> {
        let text = edited_text(&text, &file, new).map_err(|error| error.to_string())?;
        let read = route_text(&text, &file).map_err(|faults| faults.to_string())?;
        Ok((text, read))
    };
    let hooks = Hooks {
        written: &written,
        stop: &|| stopped.load(Ordering::Relaxed) || begun.elapsed() > longest,
        say: &|what| {
            if let Some(bar) = &bar {
                bar.set_message(format!("{what} (Ctrl-C shows what was found so far)"));
            }
        },
    };
    let done =
        reroute(&route, &options, &hooks).map_err(|error| Failure::Question(error.to_string()))?;
    if let Some(bar) = bar {
        bar.finish_and_clear();
    }
    if command.json {
        let mut out = std::io::stdout().lock();
        serde_json::to_writer_pretty(&mut out, &rounded(report(&route, &options, &done)))?;
        writeln!(out)?;
        out.flush()?;
    } else {
        tell(&route, &options, &done, units, shared.quiet)?;
    }
    if let Some(output) = &command.output {
        let Some(proposal) = command
            .write
            .checked_sub(1)
            .and_then(|nth| done.proposals.get(nth))
        else {
            return Err(Failure::Question(format!(
                "there is no proposal {} to write: {} found",
                command.write,
                counted(done.proposals.len())
            )));
        };
        files::replace(output, proposal.text.as_bytes())?;
    }
    Ok(if done.proposals.is_empty() { NO_WAY } else { 0 })
}

fn counted(count: usize) -> String {
    match count {
        0 => "none was".to_owned(),
        1 => "one was".to_owned(),
        _ => format!("{count} were"),
    }
}

pub(super) fn options(route: &Route, command: &Reroute, units: Units) -> Result<Options, Failure> {
    let names = |all: Vec<&str>| format!("\"{}\"", all.join("\", \""));
    let branch = route
        .branches
        .iter()
        .position(|b| b.name == command.branch)
        .ok_or_else(|| {
            let all = route.branches.iter().map(|b| b.name.as_str()).collect();
            Failure::Question(format!(
                "there is no branch \"{}\"\n    the route file names {}",
                command.branch,
                names(all)
            ))
        })?;
    let lay = &route.branches[branch].lay;
    let find = |name: &Option<String>, or: usize| match name {
        None => Ok(or),
        Some(name) => lay
            .iter()
            .position(|e| e.fixing.name == *name)
            .ok_or_else(|| {
                let all = lay.iter().map(|e| e.fixing.name.as_str()).collect();
                Failure::Question(format!(
                    "branch \"{}\" has no fixing \"{name}\"\n    it has {}",
                    command.branch,
                    names(all)
                ))
            }),
    };
    Ok(Options {
        branch: BranchId(branch),
        from: find(&command.from, 0)?,
        to: find(&command.to, lay.len().saturating_sub(1))?,
        most: command.most.max(1),
        units,
        settings: rod::Settings::default(),
    })
}

pub(super) fn report(route: &Route, options: &Options, done: &Rerouted) -> Value {
    let lay = &route.branches[options.branch.0].lay;
    json!({
        "format": 1,
        "title": route.title,
        "assumed": assumed(route),
        "warnings": route.warnings,
        "branch": route.branches[options.branch.0].name,
        "from": lay[options.from].fixing.name,
        "to": lay[options.to].fixing.name,
        "stopped": done.stopped,
        "proposals": done.proposals.iter().map(|p| json!({
            "way": p.way,
            "margin_pct": 100.0 * p.margin,
            "decided_by": p.decided_by.as_ref().map(|f| json!({"check": f.check, "place": f.place})),
            "elsewhere": p.elsewhere.iter().map(|f| json!({"check": f.check, "place": f.place, "branch": p.route.branches[f.branch.0].name})).collect::<Vec<_>>(),
            "length_mm": 1e3 * p.length,
            "ties": p.ties,
            "changes": p.changes,
            "route": p.text,
        })).collect::<Vec<_>>(),
        "rejected": done.rejected.iter().map(|r| json!({"way": r.way, "why": r.why})).collect::<Vec<_>>(),
    })
}

fn line(nth: usize, proposal: &Proposal, units: Units) -> String {
    let ties = match proposal.ties {
        1 => "1 tie".to_owned(),
        ties => format!("{ties} ties"),
    };
    format!(
        "{nth}. {}: {}, {ties}, margin {:.0} %",
        proposal.way,
        units.show_to(proposal.length, Kind::Length, 0),
        100.0 * proposal.margin
    )
}

/// What other branches break as they did before.
fn elsewhere(route: &Route, broken: &[Finding]) -> Option<String> {
    let mut names: Vec<&str> = broken
        .iter()
        .map(|f| route.branches[f.branch.0].name.as_str())
        .collect();
    names.sort_unstable();
    names.dedup();
    let limits = match broken.len() {
        0 => return None,
        1 => "1 limit".to_owned(),
        many => format!("{many} limits"),
    };
    Some(format!(
        "not cured by it: {limits} that {} broken now (branch {})",
        if broken.len() == 1 { "is" } else { "are" },
        names.join(", ")
    ))
}

fn tell(
    route: &Route,
    options: &Options,
    done: &Rerouted,
    units: Units,
    quiet: bool,
) -> Result<(), Failure> {
    let mut paper = Paper::of_terminal(units);
    let branch = &route.branches[options.branch.0];
    let ends = [options.from, options.to].map(|lay| branch.lay[lay].fixing.name.as_str());
    let count = done.proposals.len();
    paper.heading(&format!(
        "{}: {} from {} to {}",
        branch.name,
        match count {
            0 => "no way on which it holds every limit".to_owned(),
            1 => "1 way on which it holds every limit".to_owned(),
            _ => format!("{count} ways on which it holds every limit"),
        },
        ends[0],
        ends[1]
    ))?;
    if done.stopped {
        paper.plain(
            "  ",
            "Stopped before all ways were tried; these are the best so far.",
        )?;
    }
    for (nth, proposal) in done.proposals.iter().enumerate() {
        paper.blank()?;
        paper.heading(&line(nth + 1, proposal, units))?;
        if quiet {
            continue;
        }
        if let Some(finding) = &proposal.decided_by {
            paper.plain(
                "   ",
                &format!("least room: {} at {}", finding.check, finding.place),
            )?;
        }
        if let Some(words) = elsewhere(&proposal.route, &proposal.elsewhere) {
            paper.plain("   ", &words)?;
        }
        for change in &proposal.changes {
            paper.plain("   - ", change)?;
        }
    }
    if !quiet {
        if !done.rejected.is_empty() {
            paper.blank()?;
            let rejected: Vec<String> = done
                .rejected
                .iter()
                .map(|r| format!("{}. {}", r.way, r.why))
                .collect();
            paper.list("Ways that fall through", &rejected)?;
        }
        let cautions: Vec<String> = CAUTIONS.iter().map(ToString::to_string).collect();
        paper.list("Cautions", &cautions)?;
    }
    Ok(())
}
