//! Options of what shows results: check, draw, sheet, export, compare.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::export::PoseChoice;

use super::advice::{JoinChoice, Symptom};
use super::per_cent;

/// A route and how to check it.
#[derive(Debug, Args)]
pub(in crate::cli) struct Checking {
    /// The route file
    #[arg(value_name = "ROUTE")]
    pub(in crate::cli) route: PathBuf,
    /// Do not work out how far hand measuring may put each finding off: faster, but nothing is called close
    #[arg(long)]
    pub(in crate::cli) no_spread: bool,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Check {
    #[command(flatten)]
    pub(in crate::cli) checking: Checking,
    /// Print the whole report as JSON
    #[arg(long)]
    pub(in crate::cli) json: bool,
    /// Named in the report, for records; nothing in a check is drawn by chance
    #[arg(long, value_name = "N")]
    pub(in crate::cli) seed: Option<u64>,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Draw {
    #[command(flatten)]
    pub(in crate::cli) checking: Checking,
    /// Where to write the SVG, "-" for standard output [default: the route's name with .svg]
    #[arg(long, short, value_name = "FILE")]
    pub(in crate::cli) output: Option<PathBuf>,
    /// Write a PNG too [default FILE: the SVG's name with .png]
    #[arg(long, value_name = "FILE", num_args = 0..=1, require_equals = false)]
    pub(in crate::cli) png: Option<Option<PathBuf>>,
    /// Draw the sections of the bundles too: how the wires lie beside each other [default FILE: the route's name with
    /// -sections.svg; a name in .png gives a PNG]
    #[arg(long, value_name = "FILE", num_args = 0..=1, require_equals = false)]
    pub(in crate::cli) sections: Option<Option<PathBuf>>,
}

/// Sizes of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum PaperChoice {
    /// A4, 297 by 210 mm
    A4,
    /// Letter, 11 by 8 1/2 in
    Letter,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct SheetPages {
    #[command(flatten)]
    pub(in crate::cli) checking: Checking,
    /// Make this change of the route file first, and draw before and after
    #[arg(long, value_name = "NAME")]
    pub(in crate::cli) change: Option<String>,
    /// Where to write: .pdf, .svg or .png [default: the route's name with -sheet.pdf]
    #[arg(long, short, value_name = "FILE")]
    pub(in crate::cli) output: Option<PathBuf>,
    /// Paper, lying
    #[arg(long, value_enum, default_value_t = PaperChoice::A4, value_name = "SIZE")]
    pub(in crate::cli) paper: PaperChoice,
    /// Write the tables as CSV into this folder too
    #[arg(long, value_name = "FOLDER")]
    pub(in crate::cli) tables: Option<PathBuf>,
    /// Draw the harness as it is, even where it is too short
    #[arg(long)]
    pub(in crate::cli) as_is: bool,
    /// Lengths are added in whole steps [default: 10 mm, or 1/2 in with --units inch]
    #[arg(long, value_name = "LENGTH", conflicts_with = "as_is")]
    pub(in crate::cli) step: Option<String>,
    /// How conductors are joined
    #[arg(long, value_enum, default_value_t = JoinChoice::Crimp, value_name = "HOW")]
    pub(in crate::cli) join: JoinChoice,
    #[command(flatten)]
    pub(in crate::cli) symptom: Symptom,
    /// Date to stand on every page
    #[arg(long, value_name = "TEXT")]
    pub(in crate::cli) date: Option<String>,
    /// Revision to stand on every page
    #[arg(long, value_name = "TEXT")]
    pub(in crate::cli) revision: Option<String>,
    /// What the work is for, in the owner's words
    #[arg(long, value_name = "TEXT")]
    pub(in crate::cli) work_order: Option<String>,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Export {
    #[command(flatten)]
    pub(in crate::cli) checking: Checking,
    /// The folder to fill, made where it is missing [default: the route's name with -data]
    #[arg(long, value_name = "FOLDER", conflicts_with = "output")]
    pub(in crate::cli) to: Option<PathBuf>,
    /// Write one file; its name says which: .ply, .obj, or a table's own name such as findings.csv
    #[arg(long, short, value_name = "FILE")]
    pub(in crate::cli) output: Option<PathBuf>,
    /// Poses whose shapes are written: all, ends (rest, and every joint at rest or a stop), rest, or ids: 0,19,38
    #[arg(long, value_name = "WHICH", default_value = "ends", value_parser = poses)]
    pub(in crate::cli) poses: PoseChoice,
    /// Unit of the lines in PLY and OBJ files: that of the scan beside them
    #[arg(long, value_enum, default_value_t = LinesIn::Mm, value_name = "UNIT")]
    pub(in crate::cli) lines_in: LinesIn,
    /// Between the cells of a table; with semicolons go decimal commas
    #[arg(long, value_enum, default_value_t = SeparatorChoice::Comma, value_name = "SIGN")]
    pub(in crate::cli) separator: SeparatorChoice,
}

/// Unit of polylines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum LinesIn {
    /// Millimetres
    Mm,
    /// Metres
    M,
}

/// What stands between cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum SeparatorChoice {
    /// Commas, decimal points
    Comma,
    /// Semicolons, decimal commas
    Semicolon,
}

fn poses(text: &str) -> Result<PoseChoice, &'static str> {
    match text {
        "all" => Ok(PoseChoice::All),
        "ends" => Ok(PoseChoice::Ends),
        "rest" => Ok(PoseChoice::Rest),
        ids => {
            let ids: Result<Vec<usize>, _> = ids.split(',').map(|id| id.trim().parse()).collect();
            ids.map(PoseChoice::These)
                .map_err(|_| "write all, ends, rest, or ids of poses such as 0,19,38")
        }
    }
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Compare {
    /// The route file, as it is before
    #[arg(value_name = "ROUTE")]
    pub(in crate::cli) route: PathBuf,
    /// Another route file, as it is after
    #[arg(
        value_name = "AFTER",
        conflicts_with = "change",
        required_unless_present = "change"
    )]
    pub(in crate::cli) other: Option<PathBuf>,
    /// A change of the route file, made to it
    #[arg(long, value_name = "NAME")]
    pub(in crate::cli) change: Option<String>,
    /// How much of the change, in per cent
    #[arg(long, value_name = "PCT", default_value_t = 100.0, value_parser = per_cent)]
    pub(in crate::cli) share: f64,
    /// Do not work out how far hand measuring may put each finding off
    #[arg(long)]
    pub(in crate::cli) no_spread: bool,
    /// Print the comparison as JSON
    #[arg(long)]
    pub(in crate::cli) json: bool,
    /// Draw what it is after, with the harness before as a dashed line
    #[arg(long, short, value_name = "FILE")]
    pub(in crate::cli) output: Option<PathBuf>,
    /// Write a PNG too [default FILE: the SVG's name with .png]
    #[arg(long, value_name = "FILE", num_args = 0..=1, requires = "output")]
    pub(in crate::cli) png: Option<Option<PathBuf>>,
}
