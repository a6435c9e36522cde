//! `lengthen`: how much longer, which wires, joined where.

use std::io::Write;

use serde_json::{Value, json};

use crate::advise::lengthen::{
    Cut, Drop, Join, Lengthened, NoSplice, Options, Splice, SpliceRules, VOLTAGE_DROP, cuts, drops,
    lengthen, splices,
};
use crate::check::{CAUTIONS, Finding, Verdict, assumed, rounded, warnings};
use crate::quantity::{Accepts, Kind, LengthUnit, Units, parse};
use crate::read::edited_text;
use crate::rod;
use crate::route::Route;

use super::arguments::{JoinChoice, Lengthen, Shared};
use super::failure::Failure;
use super::progress::Progress;
use super::terminal::Paper;
use super::{files, read_route, with_change};

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
    let worked = {
        let _progress = Progress::new(shared.quiet, "trying lengths until every limit holds");
        worked(command, shared, &route, rod::Settings::default())?
    };
    let told = worked.told(&route, command);
    let done = &worked.done;
    if command.json {
        let mut out = std::io::stdout().lock();
        serde_json::to_writer_pretty(&mut out, &rounded(report(&told)))?;
        writeln!(out)?;
        out.flush()?;
    } else {
        let mut paper = Paper::of_terminal(units);
        tell(&mut paper, &told, units, shared.quiet)?;
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
    pub(super) done: Lengthened,
    cuts: Vec<Cut>,
    splices: Vec<Splice>,
    none: Vec<NoSplice>,
    drops: Vec<Drop>,
    step: f64,
}

/// Lengthens a route as the options say.
pub(super) fn worked(
    command: &Lengthen,
    shared: &Shared,
    route: &Route,
    settings: rod::Settings,
) -> Result<Worked, Failure> {
    let units = shared.units();
    let step = step_of(command.step.as_deref(), units)?;
    let options = Options {
        step,
        units,
        settings,
        spread: !command.checking.no_spread,
    };
    let done = lengthen(route, &options);
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
        rounded(report(&self.told(route, command)))
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

fn short(finding: &Finding, route: &Route) -> Value {
    json!({
        "check": finding.check,
        "branch": route.branches[finding.branch.0].name,
        "place": finding.place,
        "verdict": match finding.verdict {
            Verdict::Over => "over",
            Verdict::Close => "close",
            Verdict::Within => "within",
        },
        "advice": finding.advice,
    })
}

fn report(told: &Told<'_>) -> Value {
    let (route, done) = (told.route, told.done);
    let mm = |metres: f64| 1e3 * metres;
    let branch = |id: crate::harness::BranchId| route.branches[id.0].name.clone();
    let shorts = |findings: &[Finding]| -> Vec<Value> {
        findings
            .iter()
            .map(|finding| short(finding, route))
            .collect()
    };
    let verdict = match done.findings.findings.iter().map(|f| f.verdict).max() {
        Some(Verdict::Over) => "over",
        Some(Verdict::Close) => "close",
        _ => "within",
    };
    json!({
        "format": 1,
        "title": route.title,
        "assumed": assumed(&done.route),
        "warnings": warnings(&done.route, &done.solution),
        "change": told.change,
        "step_mm": mm(told.step),
        "verdict_after": verdict,
        "spans": done.adds.iter().map(|add| json!({
            "branch": branch(add.branch),
            "from": name_of(route, add.branch.0, add.span),
            "to": name_of(route, add.branch.0, add.span + 1),
            "add_mm": mm(add.by),
            "length_mm": mm(done.solution.branches[add.branch.0].spans[add.span].length),
        })).collect::<Vec<_>>(),
        "cuts": told.cuts.iter().map(|cut| json!({
            "wire": cut.wire,
            "number": cut.number,
            "branch": branch(cut.branch),
            "size_mm2": cut.area * 1e6,
            "colour": cut.marks.colour,
            "from": cut.between[0],
            "to": cut.between[1],
            "from_cavity": cut.marks.from,
            "to_cavity": cut.marks.to,
            "add_mm": mm(cut.add),
            "finished_mm": mm(cut.finished),
            "cut_mm": mm(cut.cut),
            "safety": cut.safety,
        })).collect::<Vec<_>>(),
        "splices": told.splices.iter().map(|splice| json!({
            "wire": splice.wire,
            "number": splice.number,
            "branch": branch(splice.branch),
            "at_mm": mm(splice.at),
            "nearest": splice.from.0,
            "from_nearest_mm": mm(splice.from.1),
            "new_piece_to": if splice.onward { "the branch's end" } else { "the branch's beginning" },
            "piece_mm": mm(splice.piece),
            "piece_cut_mm": mm(splice.piece_cut),
            "join": splice.join.in_words(),
            "sleeve_mm": mm(splice.sleeve),
        })).collect::<Vec<_>>(),
        "not_spliced": told.none.iter().map(|none| json!({
            "wire": none.wire,
            "branch": branch(none.branch),
            "why": none.why,
        })).collect::<Vec<_>>(),
        "voltage_drops": told.drops.iter().map(|drop| json!({
            "wire": drop.wire,
            "branch": drop.branch,
            "current_a": drop.current,
            "before_v": drop.before,
            "after_v": drop.after,
            "limit_v": VOLTAGE_DROP,
            "source": drop.source,
        })).collect::<Vec<_>>(),
        "cured": shorts(&done.asked.iter().filter(|old| {
            !done.uncured.iter().any(|new| (new.check, new.branch, &new.subject) == (old.check, old.branch, &old.subject))
        }).cloned().collect::<Vec<_>>()),
        "not_cured": shorts(&done.uncured),
        "too_much": shorts(&done.harmed),
        "must_grow_too": MUST_GROW,
    })
}

/// What else changes with the bars, and is no wire.
const MUST_GROW: [&str; 3] = [
    "Throttle and clutch cables, hydraulic hoses, speedometer drive: measure each at both stops; only their reach can be \
     told here, and their own bends and lengths are the maker's.",
    "Twisted or shielded pairs: both by the same length, the twist kept up to the splice, the shield in one piece.",
    "Sleeve and braid over what grows; the bundle must still pass its holes where splices make it thicker.",
];

fn tell(paper: &mut Paper, told: &Told<'_>, units: Units, quiet: bool) -> Result<(), Failure> {
    let (route, done) = (told.route, told.done);
    let show = |x: f64| units.show(x, Kind::Length);
    if !quiet {
        paper.heading(&route.title)?;
    }
    let spans: Vec<String> = done
        .adds
        .iter()
        .map(|add| {
            format!(
                "{}: {} longer from {} to {}, {} in all",
                route.branches[add.branch.0].name,
                show(add.by),
                name_of(route, add.branch.0, add.span),
                name_of(route, add.branch.0, add.span + 1),
                show(done.solution.branches[add.branch.0].spans[add.span].length)
            )
        })
        .collect();
    let says = match (done.asked.is_empty(), spans.is_empty()) {
        (true, _) => "Nothing to lengthen: every limit that length could cure holds.".to_owned(),
        (_, true) => "No length cures what is wrong here; see below what does.".to_owned(),
        _ if done.uncured.is_empty() && done.harmed.is_empty() => format!(
            "Lengthen {}: then every limit that length can cure holds at 95 %, with nothing else harmed.",
            if spans.len() == 1 {
                "one span".to_owned()
            } else {
                format!("{} spans", spans.len())
            }
        ),
        _ => "Lengthen as follows; not all is cured by it.".to_owned(),
    };
    paper.heading(&says)?;
    if quiet {
        return Ok(());
    }
    paper.list("Add", &spans)?;
    let told_of = |findings: &[Finding]| -> Vec<String> {
        findings
            .iter()
            .map(|f| {
                let branch = &route.branches[f.branch.0].name;
                format!("{}, {branch}, {}: {}", f.check, f.place, f.advice)
            })
            .collect()
    };
    paper.list("What no length cures", &told_of(&done.uncured))?;
    paper.list(
        "What the length harms: guide the span, or add a fixing",
        &told_of(&done.harmed),
    )?;
    let cut: Vec<String> = told
        .cuts
        .iter()
        .map(|cut| {
            format!(
                "{}{}, {}: cut {} ({} finished, {} more than before), {} to {}{}",
                cut.wire,
                number(cut.number),
                units.show(cut.area, Kind::Area),
                show(cut.cut),
                show(cut.finished),
                show(cut.add),
                cut.between[0],
                cut.between[1],
                if cut.safety { "; do not join it" } else { "" }
            )
        })
        .collect();
    paper.list(
        "Cut, where a conductor is made anew (two re-terminations kept at each connector)",
        &cut,
    )?;
    let joined: Vec<String> = told
        .splices
        .iter()
        .map(|splice| {
            format!(
                "{}{}: at {} ({} {} {}), new piece of {} to {}; {}, sleeve {}",
                splice.wire,
                number(splice.number),
                show(splice.at),
                show(splice.from.1.abs()),
                if splice.from.1 < 0.0 {
                    "before"
                } else {
                    "after"
                },
                splice.from.0,
                show(splice.piece_cut),
                if splice.onward {
                    "the far end"
                } else {
                    "the beginning"
                },
                splice.join.in_words(),
                show(splice.sleeve)
            )
        })
        .chain(
            told.none
                .iter()
                .map(|none| format!("{}: none; {}", none.wire, none.why)),
        )
        .collect();
    paper.list(
        "Or join: one splice a conductor, nothing joined in what moves",
        &joined,
    )?;
    let dropped: Vec<String> = told
        .drops
        .iter()
        .map(|drop| {
            format!(
                "{} in {}: {:.3} V, was {:.3} V, at {} one way; {:.1} V are allowed for the whole circuit",
                drop.wire,
                drop.branch,
                drop.after,
                drop.before,
                units.show(drop.current, Kind::Current),
                VOLTAGE_DROP
            )
        })
        .collect();
    paper.list("Voltage drop", &dropped)?;
    if !done.adds.is_empty() {
        paper.list("What must grow with it", &MUST_GROW.map(str::to_owned))?;
    }
    paper.list("Assumed", &assumed(&done.route))?;
    paper.list("Cautions", &CAUTIONS.map(str::to_owned))
}

fn number(number: usize) -> String {
    if number == 0 {
        String::new()
    } else {
        format!(" no. {number}")
    }
}
