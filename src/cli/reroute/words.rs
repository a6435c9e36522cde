//! The ways that were found, for a person.

use crate::advise::reroute::Proposal;
use crate::check::{CAUTIONS, Finding};
use crate::cli::failure::Failure;
use crate::cli::terminal::Paper;
use crate::quantity::{Kind, Units};
use crate::route::Route;

use super::Laid;

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

pub(super) fn tell(
    route: &Route,
    Laid { options, done }: &Laid,
    (units, quiet): (Units, bool),
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
            paper.item("   ", change)?;
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
