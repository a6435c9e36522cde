//! `start`: a new route file to begin from.

use std::io::Write;

use super::arguments::{Shared, Start};
use super::failure::Failure;
use super::files;

/// The route file that `start` writes.
pub(super) const TEXT: &str = include_str!("start.ron");

pub(super) fn run(command: &Start, shared: &Shared) -> Result<u8, Failure> {
    files::create(&command.file, TEXT.as_bytes())?;
    if !shared.quiet {
        let name = command.file.display();
        writeln!(
            std::io::stdout(),
            "Wrote {name}. Put your own measurements in, then run: neckloom check {name}"
        )?;
    }
    Ok(0)
}
