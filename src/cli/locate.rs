//! `locate`: where is it broken, and which test by hand shows it?

use std::io::Write;

use crate::advise::{Place, Question, locate, locate_report};
use crate::check::{CAUTIONS, assumed};

use super::arguments::{Locate, Shared};
use super::failure::Failure;
use super::terminal::Paper;
use super::{checked, read_route};

pub(super) fn run(command: &Locate, shared: &Shared) -> Result<u8, Failure> {
    let route = read_route(&command.checking.route)?;
    let question = Question {
        failing: command.failing.clone(),
        working: command.working.clone(),
        when: command.at.iter().chain(&command.with).cloned().collect(),
        hot: command.hot,
    };
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
        let mut out = std::io::stdout().lock();
        serde_json::to_writer_pretty(&mut out, &report)?;
        writeln!(out)?;
        out.flush()?;
        return Ok(0);
    }
    if places.is_empty() {
        paper.plain(
            "",
            "Nothing marks one place before another. Begin at the connectors.",
        )?;
    }
    for (index, place) in places.iter().enumerate() {
        // One test serves several places: it stands once.
        let same = places[..index]
            .iter()
            .find(|other| other.test == place.test);
        let test = same.map_or_else(
            || place.test.clone(),
            |same| format!("The test of place {}, bent and pulled here.", same.rank),
        );
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
