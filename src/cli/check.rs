//! `check`: is this route sound?

use std::io::Write;

use serde_json::json;

use crate::check::{exit_status, report};

use super::arguments::{Check, Shared};
use super::failure::Failure;
use super::terminal::{self, Paper};
use super::{checked, read_route};

pub(super) fn run(command: &Check, shared: &Shared) -> Result<u8, Failure> {
    let route = read_route(&command.checking.route)?;
    let mut paper = Paper::of_terminal(shared.units());
    if !command.json && !shared.quiet {
        // The first line stands before the work begins, so that nobody wonders whether it did.
        paper.heading(&route.title)?;
    }
    let checked = checked(&route, &command.checking, shared);
    if command.json {
        let mut report = report(&route, &checked.solution, &checked.findings);
        if let (Some(seed), Some(fields)) = (command.seed, report.as_object_mut()) {
            fields.insert("seed".to_owned(), json!(seed));
        }
        let mut out = std::io::stdout().lock();
        serde_json::to_writer_pretty(&mut out, &report)?;
        writeln!(out)?;
        out.flush()?;
    } else {
        terminal::verdict(&mut paper, &checked)?;
        if !shared.quiet {
            terminal::report(&mut paper, &route, &checked, command.seed)?;
        }
    }
    Ok(exit_status(&checked.solution, &checked.findings))
}
