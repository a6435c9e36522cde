//! The ways that were found, for a person.

use crate::advise::{Proposal, Retied};
use crate::check::{CAUTIONS, Verdict};
use crate::cli::arguments::{Retie, Shared};
use crate::cli::failure::Failure;
use crate::cli::terminal::{Paper, quantity};
use crate::quantity::Kind;
use crate::route::{Step, What};

use super::{Tied, added};

pub(super) fn print(
    Tied { base, title, found }: &Tied,
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
    in_the_way(&mut paper, found, shared)?;
    if found.proposals.is_empty() {
        paper.plain(
            "",
            &format!(
                "No way was found to tie it so that every limit holds; {} were solved and checked{}.",
                found.solved,
                match (found.stopped, found.ran_out) {
                    (true, _) => " before it was stopped",
                    (false, true) => " before the time ran out",
                    _ => "",
                }
            ),
        )?;
        if let Some(longer) = &found.longer {
            let units = shared.units();
            let by = units.show_to(added(longer), Kind::Length, 0);
            paper.plain(
                "",
                &format!(
                    "With {by} more length every limit holds: {}. See it with --longer \"{by}\".",
                    longer.words.join("; ")
                ),
            )?;
        }
        if !shared.quiet {
            let nearest: Vec<String> = found
                .nearest
                .iter()
                .filter(|(_, worst)| worst.is_finite())
                .map(|(words, _)| format!("best found still fails: {words}"))
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
                    if found.longer.is_some() {
                        "the same with more length in the spans beside".to_owned()
                    } else {
                        "the same with up to 30 mm more length in the spans beside: lay it another way (neckloom reroute)"
                            .to_owned()
                    },
                ],
            )?;
        }
        return Ok(());
    }
    if found.stopped {
        paper.plain("", "Stopped before all was tried; this is the best so far.")?;
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
                    "To save one: neckloom retie {file} --write 1 -o NEW.ron (and the same options; it is not searched for again)"
                ),
            )?;
        }
        paper.list("Cautions", &CAUTIONS.map(str::to_owned))?;
    }
    Ok(())
}

/// What no tie can cure.
fn in_the_way(paper: &mut Paper, found: &Retied, shared: &Shared) -> Result<(), Failure> {
    let units = shared.units();
    for one in &found.obstacles {
        let show = |value: f64| units.show(value, Kind::Length);
        let what = if one.sweeps {
            format!("what {} sweeps", one.part)
        } else {
            format!("the heat of {}", one.part)
        };
        let cure = match one.by {
            Some(by) => {
                let moved = Step::Move {
                    what: What::Fixing(one.fixing.clone()),
                    by,
                };
                format!(
                    "so each way here also puts {} (see whether its holder allows that)",
                    moved.in_words(units)
                )
            }
            None => {
                "it must be put elsewhere first, and has no room straight away from it".to_owned()
            }
        };
        paper.plain(
            "",
            &format!(
                "No tie alone can do it: {} itself sits {} from {what}, at least {} is asked; {cure}.",
                one.fixing,
                show(one.gap),
                show(one.limit)
            ),
        )?;
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
        quantity(proposal.length, Kind::Length, shared.units())
    ))?;
    for words in &proposal.words {
        paper.plain("     ", words)?;
    }
    Ok(())
}
