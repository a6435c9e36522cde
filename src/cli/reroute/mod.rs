//! `reroute`: other ways for a branch, each solved and checked again from its own text.

mod words;

use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::advise::reroute::{Hooks, Options, Rerouted, reroute};
use crate::check::{assumed, rounded};
use crate::harness::BranchId;
use crate::quantity::Units;
use crate::read::{edited_text, route_text};
use crate::rod;
use crate::route::Route;

use super::arguments::{Reroute, Shared};
use super::failure::Failure;
use super::interrupt::Interrupt;
use super::kept::{self, Kept};
use super::progress::{BEST_SO_FAR, Told};
use super::{print_json, read_route};

/// Exit status where no way was found.
const NO_WAY: u8 = 1;

pub(super) fn run(command: &Reroute, shared: &Shared) -> Result<u8, Failure> {
    let units = shared.units();
    let route = read_route(&command.route)?;
    let text = std::fs::read_to_string(&command.route)?;
    let file = command.route.display().to_string();
    let asked = json!([
        "reroute",
        command.branch,
        command.from,
        command.to,
        command.most,
        format!("{:?}", units.length),
    ]);
    let kept = Kept::beside(&command.route, &text, asked);
    if let (Some(number), Some(output), Some(answer)) = (command.write, &command.output, kept.get())
    {
        return kept::write(&answer, number, output, (command.json, shared));
    }
    let interrupt = Interrupt::listen();
    let progress = Told::new(shared.quiet, BEST_SO_FAR);
    let laid = laid_anew(
        command,
        units,
        (&route, &text, &file),
        &|| interrupt.asked(),
        &|what| progress.say(what),
    )?;
    drop(progress);
    let report = laid.report(&route);
    if command.json {
        print_json(&report)?;
    } else {
        words::tell(&route, &laid, (units, shared.quiet))?;
    }
    match &command.output {
        Some(output) => kept::save(&report, command.write.unwrap_or(1), output)?,
        None => kept.put(&report),
    }
    Ok(if laid.done.proposals.is_empty() {
        NO_WAY
    } else {
        0
    })
}

/// What was asked for, and the ways that were found.
#[derive(Debug)]
pub(super) struct Laid {
    options: Options,
    done: Rerouted,
}

/// Looks for other ways of a route, which its text in a file says, as the options ask for.
pub(super) fn laid_anew(
    command: &Reroute,
    units: Units,
    (route, text, file): (&Route, &str, &str),
    stop: &(dyn Fn() -> bool + Sync),
    say: &(dyn Fn(&str) + Sync),
) -> Result<Laid, Failure> {
    let options = options(route, command, units)?;
    let begun = Instant::now();
    let longest = Duration::from_secs(command.within.max(1));
    let written = |new: &Route| -> Result<(String, Route), String> {
        let text = edited_text(text, file, new).map_err(|error| error.to_string())?;
        let read = route_text(&text, file).map_err(|faults| faults.to_string())?;
        Ok((text, read))
    };
    let hooks = Hooks {
        written: &written,
        stop: &|| stop() || begun.elapsed() > longest,
        say,
    };
    let done =
        reroute(route, &options, &hooks).map_err(|error| Failure::Question(error.to_string()))?;
    Ok(Laid { options, done })
}

fn options(route: &Route, command: &Reroute, units: Units) -> Result<Options, Failure> {
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

impl Laid {
    /// The report.
    pub(super) fn report(&self, route: &Route) -> Value {
        let Self { options, done } = self;
        let lay = &route.branches[options.branch.0].lay;
        rounded(json!({
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
        }))
    }
}
