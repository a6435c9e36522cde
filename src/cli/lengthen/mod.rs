//! `lengthen`: how much longer, which wires, joined where.

mod once;
mod report;
mod words;

use std::sync::Arc;

use serde_json::Value;

use crate::advise::lengthen::{
    Cut, Drop, Join, Lengthened, NoSplice, Options, Splice, SpliceRules, cuts, drops, splices,
};
use crate::check::{Finding, Verdict, check, rounded};
use crate::quantity::{Accepts, Kind, LengthUnit, Units, parse};
use crate::read::edited_text;
use crate::rod;
use crate::route::Route;

use super::arguments::{JoinChoice, Lengthen, Shared};
use super::failure::Failure;
use super::interrupt::Interrupt;
use super::progress::{BEST_SO_FAR, Told as Progress};
use super::terminal::Paper;
use super::{check_options, files, print_json, read_route, with_change};

pub(super) use once::lengthened;

/// Exit status where some limit is still broken.
const STILL_OVER: u8 = 1;
/// Exit status where some pose was not solved.
const NOT_SOLVED: u8 = 3;

/// All that the report tells.
struct Told<'a> {
    route: &'a Route,
    done: &'a Lengthened,
    cuts: &'a [Cut],
    splices: &'a [Splice],
    none: &'a [NoSplice],
    drops: &'a [Drop],
    change: Option<&'a str>,
    step: f64,
}

pub(super) fn run(command: &Lengthen, shared: &Shared) -> Result<u8, Failure> {
    let units = shared.units();
    let mut route = read_route(&command.checking.route)?;
    if let Some(name) = &command.change {
        route = with_change(&route, name)?;
    }
    let interrupt = Interrupt::listen();
    let worked = {
        let progress = Progress::new(shared.quiet, BEST_SO_FAR);
        let say = |what: &str| progress.say(what);
        worked(command, shared, &route, interrupt.settings(), &say)?
    };
    let done = &worked.done;
    if command.json {
        print_json(&worked.report(&route, command))?;
    } else {
        let mut paper = Paper::of_terminal(units);
        words::tell(
            &mut paper,
            &worked.told(&route, command),
            units,
            shared.quiet,
        )?;
    }
    if let Some(output) = &command.output {
        let text = std::fs::read_to_string(&command.checking.route)?;
        let file = command.checking.route.display().to_string();
        let edited = edited_text(&text, &file, &done.route)
            .map_err(|error| Failure::Readings(format!("{}: {error}", output.display())))?;
        files::replace(output, edited.as_bytes())?;
    }
    Ok(status(done))
}

/// A route lengthened, and what is to be done to its wires.
pub(super) struct Worked {
    pub(super) done: Arc<Lengthened>,
    cuts: Vec<Cut>,
    splices: Vec<Splice>,
    none: Vec<NoSplice>,
    drops: Vec<Drop>,
    step: f64,
}

/// Lengthens a route as the options say; the rod's settings say who can stop it.
pub(super) fn worked(
    command: &Lengthen,
    shared: &Shared,
    route: &Route,
    settings: rod::Settings,
    say: &(dyn Fn(&str) + Sync),
) -> Result<Worked, Failure> {
    let units = shared.units();
    let step = step_of(command.step.as_deref(), units)?;
    let options = Options {
        step,
        units,
        settings,
        spread: !command.checking.no_spread,
    };
    say("finding how the harness lies as it is");
    let checks = crate::check::Options {
        settings,
        ..check_options(options.spread, shared)
    };
    let done = lengthened(route, &options, say, || {
        let solution = rod::solve(route, &settings);
        let findings = check(route, &solution, &checks);
        if settings.halt.asked() {
            return Err(Failure::Stopped);
        }
        Ok((solution, findings))
    })?;
    let cuts = cuts(&done.route, &done.solution, &done.adds);
    let rules = SpliceRules::default();
    let join = match command.join {
        JoinChoice::Crimp => Join::Crimp,
        JoinChoice::SolderSleeve => Join::SolderSleeve,
    };
    let (splices, none) = splices(&done.route, &done.solution, &done.adds, &cuts, join, &rules);
    let drops = drops(&done.route, &done.solution, &done.adds);
    Ok(Worked {
        done,
        cuts,
        splices,
        none,
        drops,
        step,
    })
}

impl Worked {
    fn told<'a>(&'a self, route: &'a Route, command: &'a Lengthen) -> Told<'a> {
        Told {
            route,
            done: &self.done,
            cuts: &self.cuts,
            splices: &self.splices,
            none: &self.none,
            drops: &self.drops,
            change: command.change.as_deref(),
            step: self.step,
        }
    }

    /// The report.
    pub(super) fn report(&self, route: &Route, command: &Lengthen) -> Value {
        rounded(report::report(&self.told(route, command)))
    }
}

/// 3 where a pose was not solved, 1 where what length was to cure is still over or something was harmed, else 0.
fn status(done: &Lengthened) -> u8 {
    let lost = done
        .solution
        .branches
        .iter()
        .flat_map(|branch| &branch.shapes)
        .any(|shape| !shape.converged);
    let over = |finding: &Finding| finding.verdict == Verdict::Over;
    if lost {
        NOT_SOLVED
    } else if done.uncured.iter().any(over) || done.harmed.iter().any(over) {
        STILL_OVER
    } else {
        0
    }
}

/// The step in which lengths are added \[m\], as said or as is usual with these units.
pub(super) fn step_of(text: Option<&str>, units: Units) -> Result<f64, Failure> {
    let Some(text) = text else {
        return Ok(match units.length {
            LengthUnit::Mm => 0.010,
            LengthUnit::Inch => 0.0127,
        });
    };
    let bare = text.trim().parse::<f64>().is_ok();
    let unit = match (bare, units.length) {
        (false, _) => "",
        (true, LengthUnit::Mm) => " mm",
        (true, LengthUnit::Inch) => " in",
    };
    let step = parse(
        &format!("{}{unit}", text.trim()),
        Kind::Length,
        Accepts::Positive,
    )
    .map_err(|error| Failure::Readings(format!("--step: {error}\n    {}", error.cure())))?;
    if (0.000_5..=0.2).contains(&step) {
        Ok(step)
    } else {
        Err(Failure::Readings(format!(
            "--step: {} is no step that wires are cut in\n    choose one from 0.5 mm to 200 mm",
            units.show_to(step, Kind::Length, 1)
        )))
    }
}

fn name_of(route: &Route, branch: usize, lay: usize) -> &str {
    &route.branches[branch].lay[lay].fixing.name
}

/// What else changes with the bars, and is no wire.
const MUST_GROW: [&str; 3] = [
    "Throttle and clutch cables, hydraulic hoses, speedometer drive: measure each at both stops; only their reach can be \
     told here, and their own bends and lengths are the maker's.",
    "Twisted or shielded pairs: both by the same length, the twist kept up to the splice, the shield in one piece.",
    "Sleeve and braid over what grows; the bundle must still pass its holes where splices make it thicker.",
];
