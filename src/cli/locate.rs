//! `locate`: where is it broken, and which test by hand shows it?

use crate::advise::{Place, Question, locate, locate_report, tests_told};
use crate::check::{CAUTIONS, assumed};

use super::arguments::{Locate, Shared, Symptom};
use super::failure::Failure;
use super::terminal::Paper;
use super::{checked, print_json, read_route};

pub(super) fn run(command: &Locate, shared: &Shared) -> Result<u8, Failure> {
    let route = read_route(&command.checking.route)?;
    let question = question(&command.symptom);
    let mut paper = Paper::of_terminal(shared.units());
    if !command.json && !shared.quiet {
        paper.heading(&route.title)?;
    }
    let checked = checked(&route, &command.checking, shared);
    let places = locate(
        &route,
        &checked.solution,
        &checked.findings,
        &question,
        shared.units(),
    )
    .map_err(|unknown| Failure::Question(unknown.to_string()))?;
    if command.json {
        let report = locate_report(&route, &places, &assumed(&route), command.why);
        print_json(&report)?;
        return Ok(0);
    }
    if places.is_empty() {
        paper.plain(
            "",
            "Nothing marks one place before another. Begin at the connectors.",
        )?;
    }
    for (place, test) in places.iter().zip(tests_told(&places)) {
        entry(&mut paper, place, &test, command.why, shared.quiet)?;
    }
    if !shared.quiet {
        paper.plain("", "This is an order of search, not a chance: a place that is not named may be the broken one.")?;
        for caution in CAUTIONS {
            paper.plain("", caution)?;
        }
    }
    Ok(0)
}

/// What was seen, as a question.
pub(super) fn question(symptom: &Symptom) -> Question {
    Question {
        failing: symptom.failing.clone(),
        working: symptom.working.clone(),
        when: symptom.at.iter().chain(&symptom.with).cloned().collect(),
        hot: symptom.hot,
    }
}

fn entry(
    paper: &mut Paper,
    place: &Place,
    test: &str,
    arithmetic: bool,
    quiet: bool,
) -> Result<(), Failure> {
    paper.plain("", &format!("{}. {}", place.rank, place.place))?;
    if quiet {
        return Ok(());
    }
    paper.plain("   ", &place.why)?;
    paper.plain("   ", test)?;
    if arithmetic {
        let scored = &place.scored;
        let parts: Vec<String> = scored
            .parts
            .iter()
            .map(|part| {
                format!(
                    "{} {:.3} (share of its limit {:.2})",
                    part.what, part.adds, part.share
                )
            })
            .collect();
        let working = match scored.sound {
            (0, _) => String::new(),
            (many, weight) => {
                format!(" (all but contacts already × {weight:.2} for {many} working here)")
            }
        };
        paper.plain(
            "   ",
            &format!(
                "({}) × {:.2} for {} failing here × {:.2} for the pose = {:.3}{working}",
                parts.join(" + "),
                scored.passing.1,
                scored.passing.0,
                scored.moment,
                scored.total
            ),
        )?;
    }
    Ok(())
}
