//! What was found, for a person.

use crate::advise::lengthen::VOLTAGE_DROP;
use crate::check::{CAUTIONS, Finding, assumed};
use crate::cli::failure::Failure;
use crate::cli::terminal::Paper;
use crate::quantity::{Kind, Units};

use super::{MUST_GROW, Told, name_of};

pub(super) fn tell(
    paper: &mut Paper,
    told: &Told<'_>,
    units: Units,
    quiet: bool,
) -> Result<(), Failure> {
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
        _ if done.stopped => {
            "Stopped, unfinished: more may be needed than stands here, or less.".to_owned()
        }
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
    let uncured = if done.stopped {
        "What is not cured yet"
    } else {
        "What no length cures"
    };
    paper.list(uncured, &told_of(&done.uncured))?;
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
