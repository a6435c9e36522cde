//! `export`: plain data for other programs.

use std::io::Write;
use std::path::{Path, PathBuf};

use crate::check::exit_status;
use crate::export::{ExportFile, ExportOptions, LineUnit, PoseChoice, Separator, export};

use super::arguments::{Export, LinesIn, SeparatorChoice, Shared};
use super::failure::Failure;
use super::{checked, files, read_route};

/// Exit status where some pose was not solved.
const NOT_SOLVED: u8 = 3;

pub(super) fn run(command: &Export, shared: &Shared) -> Result<u8, Failure> {
    // Before any work: a name that says nothing is no reason to wait.
    let single = command
        .output
        .as_ref()
        .map(|path| kind(path).map(|kind| (path.clone(), kind)))
        .transpose()?;
    let route = read_route(&command.checking.route)?;
    let checked = checked(&route, &command.checking, shared);
    let options = ExportOptions {
        units: shared.units(),
        poses: command.poses.clone(),
        lines: match command.lines_in {
            LinesIn::Mm => LineUnit::Millimetre,
            LinesIn::M => LineUnit::Metre,
        },
        separator: match command.separator {
            SeparatorChoice::Comma => Separator::Comma,
            SeparatorChoice::Semicolon => Separator::Semicolon,
        },
    };
    if let PoseChoice::These(ids) = &options.poses {
        let poses = checked.solution.sweep.poses.len();
        if let Some(&id) = ids.iter().find(|id| **id >= poses) {
            return Err(Failure::Pose {
                id,
                last: poses - 1,
            });
        }
    }
    let bytes = |file| export(file, &route, &checked.solution, &checked.findings, &options);
    let written = match single {
        Some((path, file)) => {
            files::replace(&path, &bytes(file))?;
            vec![path]
        }
        None => {
            let folder = command
                .to
                .clone()
                .unwrap_or_else(|| folder_for(&command.checking.route));
            let all = ExportFile::ALL.map(|file| (file.name(), bytes(file)));
            files::replace_all(&folder, &all)?
        }
    };
    if !shared.quiet {
        let mut out = std::io::stdout().lock();
        for path in written {
            writeln!(out, "{}", path.display())?;
        }
    }
    let solved = exit_status(&checked.solution, &checked.findings) != NOT_SOLVED;
    Ok(if solved { 0 } else { NOT_SOLVED })
}

fn kind(path: &Path) -> Result<ExportFile, Failure> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    ExportFile::of_name(&name).ok_or_else(|| Failure::NoKind(path.to_owned()))
}

/// "my-bike-data" in the folder where the program runs, for "my-bike.ron".
fn folder_for(route: &Path) -> PathBuf {
    let stem = route.file_stem().unwrap_or(route.as_os_str());
    PathBuf::from(format!("{}-data", stem.to_string_lossy()))
}
