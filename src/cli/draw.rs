//! `draw`: the route as one sheet.

use std::io::Write;
use std::path::{Path, PathBuf};

use crate::check::exit_status;
use crate::draw::{SheetOptions, png, sections, sheet};

use super::arguments::{Draw, Shared};
use super::failure::Failure;
use super::{checked, files, read_route};

/// Pixels across a PNG: the long side of A4 at 300 dots an inch.
const PNG_WIDTH: u32 = 3508;

/// The same across the sections: the short side.
const SECTIONS_WIDTH: u32 = 2480;

/// Exit status where some pose was not solved.
const NOT_SOLVED: u8 = 3;

pub(super) fn run(command: &Draw, shared: &Shared) -> Result<u8, Failure> {
    let route = read_route(&command.checking.route)?;
    let checked = checked(&route, &command.checking, shared);
    let options = SheetOptions {
        units: shared.units(),
    };
    let svg = sheet(&route, &checked.solution, &checked.findings, &options);
    let output = command
        .output
        .clone()
        .unwrap_or_else(|| named_after(&command.checking.route, "svg"));
    let to_standard_output = output == Path::new("-");
    let mut written = Vec::new();
    if to_standard_output {
        std::io::stdout().write_all(svg.as_bytes())?;
    } else {
        files::replace(&output, svg.as_bytes())?;
        written.push(output.clone());
    }
    if let Some(named) = &command.png {
        let picture = named.clone().unwrap_or_else(|| {
            if to_standard_output {
                named_after(&command.checking.route, "png")
            } else {
                output.with_extension("png")
            }
        });
        files::replace(&picture, &png(&svg, PNG_WIDTH)?)?;
        written.push(picture);
    }
    if let Some(named) = &command.sections {
        let path = named.clone().unwrap_or_else(|| {
            let stem = command.checking.route.file_stem().unwrap_or_default();
            PathBuf::from(format!("{}-sections.svg", stem.to_string_lossy()))
        });
        let svg = sections(&route, &options);
        if path.extension().is_some_and(|ending| ending == "png") {
            files::replace(&path, &png(&svg, SECTIONS_WIDTH)?)?;
        } else {
            files::replace(&path, svg.as_bytes())?;
        }
        written.push(path);
    }
    if !shared.quiet && !to_standard_output {
        let mut out = std::io::stdout().lock();
        for path in written {
            writeln!(out, "{}", path.display())?;
        }
    }
    let solved = exit_status(&checked.solution, &checked.findings) != NOT_SOLVED;
    Ok(if solved { 0 } else { NOT_SOLVED })
}

/// The route's name with another ending, in the folder where the program runs.
fn named_after(route: &Path, ending: &str) -> PathBuf {
    let name = route.file_name().unwrap_or(route.as_os_str());
    Path::new(name).with_extension(ending)
}
