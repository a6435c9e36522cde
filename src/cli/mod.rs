//! Arguments to a job to an exit status. The only place that prints.

mod answers;
mod arguments;
mod changes;
mod check;
mod compare;
mod draw;
mod estimate;
mod export;
mod failure;
mod files;
mod interrupt;
mod kept;
mod lengthen;
mod library;
mod locate;
mod manual;
mod page;
mod place;
mod progress;
mod reach;
mod reroute;
mod retie;
mod sheet;
mod start;
mod study;
mod terminal;

use std::io::Write;
use std::num::NonZeroUsize;
use std::path::Path;
use std::process::ExitCode;

use clap::{CommandFactory, Parser};

use crate::check::{Findings, Options};
use crate::quantity::Units;
use crate::rod::{self, Solution};
use crate::route::Route;

use arguments::{Arguments, Checking, Command, Shared, UnitsChoice};
use failure::Failure;
use progress::Progress;

/// Runs the program with the arguments of the process.
pub fn run() -> ExitCode {
    let arguments = Arguments::parse();
    match dispatch(&arguments) {
        Ok(status) => ExitCode::from(status),
        Err(failure) if failure.is_broken_pipe() => ExitCode::SUCCESS,
        Err(failure) => {
            // Standard error may be gone too; the exit status still tells.
            let _told = writeln!(std::io::stderr(), "{failure}");
            ExitCode::from(failure.status())
        }
    }
}

/// How the page's questions are answered: as the commands answer them.
pub fn answers() -> crate::page::Answers {
    crate::page::Answers {
        answer: answers::answer,
        sheet: answers::sheet,
        tables: answers::tables,
    }
}

fn dispatch(arguments: &Arguments) -> Result<u8, Failure> {
    let shared = &arguments.shared;
    if let Some(threads) = shared.threads {
        // More threads than cores only take memory.
        let cores = std::thread::available_parallelism().map_or(1, NonZeroUsize::get);
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads.get().min(cores))
            .build_global()
            .map_err(|_| Failure::Threads(threads.get()))?;
    }
    match &arguments.command {
        Command::Check(command) => check::run(command, shared),
        Command::Draw(command) => draw::run(command, shared),
        Command::Estimate(command) => estimate::run(command, shared),
        Command::Export(command) => export::run(command, shared),
        Command::Lengthen(command) => lengthen::run(command, shared),
        Command::Sheet(command) => sheet::run(command, shared),
        Command::Compare(command) => compare::run(command, shared),
        Command::Reach(command) => reach::run(command, shared),
        Command::Retie(command) => retie::run(command, shared),
        Command::Study(command) => study::run(command, shared),
        Command::Start(command) => start::run(command, shared),
        Command::Library(command) => library::run(command, shared),
        Command::Locate(command) => locate::run(command, shared),
        Command::Reroute(command) => reroute::run(command, shared),
        Command::Place(command) => place::run(command, shared),
        Command::Page(command) => page::run(command, shared),
        Command::Completions(command) => {
            let mut script = Vec::new();
            clap_complete::generate(
                command.shell,
                &mut Arguments::command(),
                "neckloom",
                &mut script,
            );
            std::io::stdout().write_all(&script)?;
            Ok(0)
        }
        Command::Manual => {
            std::io::stdout().write_all(&manual::page(Arguments::command())?)?;
            Ok(0)
        }
    }
}

impl Shared {
    fn units(&self) -> Units {
        match self.units {
            UnitsChoice::Mm => Units::METRIC,
            UnitsChoice::Inch => Units::INCH,
        }
    }
}

/// A route, solved and checked.
#[derive(Debug)]
struct Checked {
    solution: Solution,
    findings: Findings,
}

/// Solves and checks a route.
fn checked(route: &Route, checking: &Checking, shared: &Shared) -> Checked {
    checked_to(route, !checking.no_spread, shared, rod::Settings::default())
}

/// The same with settings of the rod.
fn checked_to(route: &Route, spread: bool, shared: &Shared, settings: rod::Settings) -> Checked {
    let _progress = Progress::new(shared.quiet, "finding how the harness lies in every pose");
    let options = Options {
        settings,
        ..check_options(spread, shared)
    };
    let solution = rod::solve(route, &options.settings);
    let findings = crate::check::check(route, &solution, &options);
    Checked { solution, findings }
}

/// The route with a named change made to it.
fn with_change(route: &Route, name: &str) -> Result<Route, Failure> {
    let found = route.changes.iter().find(|change| change.name == name);
    let Some(change) = found else {
        let names: Vec<String> = route
            .changes
            .iter()
            .map(|c| format!("\"{}\"", c.name))
            .collect();
        let cure = match names.len() {
            0 => "the route file names no changes; write one in its field `changes`".to_owned(),
            _ => format!("the route file names {}", names.join(", ")),
        };
        return Err(Failure::Readings(format!(
            "there is no change \"{name}\"\n    {cure}"
        )));
    };
    route.changed(change, 1.0).map_err(|error| {
        Failure::Readings(format!("the change \"{name}\" cannot be made: {error}"))
    })
}

fn read_route(path: &Path) -> Result<Route, Failure> {
    Ok(crate::read::route_file(path)?)
}

/// How to check, as the person asked.
fn check_options(spread: bool, shared: &Shared) -> Options {
    Options {
        spread,
        units: shared.units(),
        ..Options::default()
    }
}

/// Prints a report as JSON.
fn print_json(report: &serde_json::Value) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    serde_json::to_writer_pretty(&mut out, report)?;
    writeln!(out)?;
    out.flush()?;
    Ok(())
}
