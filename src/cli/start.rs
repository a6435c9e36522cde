//! `start`: a new route file to begin from.

use std::io::Write;

use super::arguments::{Shared, Start};
use super::failure::Failure;
use super::files;

pub(super) fn run(command: &Start, shared: &Shared) -> Result<u8, Failure> {
    files::create(&command.file, crate::read::starter().as_bytes())?;
    if !shared.quiet {
        let name = command.file.display();
        writeln!(
            std::io::stdout(),
            "Wrote {name}. Put your own measurements in, then run: neckloom check {name}"
        )?;
    }
    Ok(0)
}
