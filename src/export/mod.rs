//! Plain data for other programs, from finished results: tables as comma-separated values, and the solved shapes as
//! polylines that any viewer of scans opens. Nothing is decided here.

mod charts;
mod findings;
mod obj;
mod ply;
mod polylines;
mod poses;
mod shapes;
mod spans;
mod table;

use crate::check::Findings;
use crate::quantity::Units;
use crate::rod::Solution;
use crate::route::Route;

use polylines::Polyline;

/// What an export holds and how its numbers are written.
#[derive(Debug, Clone, PartialEq)]
pub struct ExportOptions {
    /// Units of the tables.
    pub units: Units,
    /// The poses whose shapes are written.
    pub poses: PoseChoice,
    /// Unit of the polylines.
    pub lines: LineUnit,
    /// What stands between the cells of a table.
    pub separator: Separator,
}

impl Default for ExportOptions {
    fn default() -> Self {
        Self {
            units: Units::METRIC,
            poses: PoseChoice::Ends,
            lines: LineUnit::Millimetre,
            separator: Separator::Comma,
        }
    }
}

/// Which poses.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PoseChoice {
    /// Every pose of the sweep.
    All,
    /// Rest, and every pose in which each joint is at rest or at a stop.
    Ends,
    /// Rest alone.
    Rest,
    /// Those with these ids; an id without a pose gives nothing.
    These(Vec<usize>),
}

/// Unit of polylines; files of that kind carry none, so it stands in a comment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineUnit {
    /// Millimetre.
    Millimetre,
    /// Metre.
    Metre,
}

/// What stands between the cells of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Separator {
    /// A comma, with decimal points (RFC 4180).
    Comma,
    /// A semicolon, with decimal commas.
    Semicolon,
}

/// One file of an export.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportFile {
    /// Every station of every branch in the chosen poses.
    Shapes,
    /// Every span in every pose.
    Spans,
    /// The findings, worst first.
    Findings,
    /// The strip charts along each branch.
    ChartsAlong,
    /// The strip charts against each joint.
    ChartsAgainst,
    /// The poses.
    Poses,
    /// The shapes as vertices and edges.
    Ply,
    /// The shapes as polylines, one object a branch and pose.
    Obj,
}

impl ExportFile {
    /// Every file, in the order in which they are written.
    pub const ALL: [Self; 8] = [
        Self::Shapes,
        Self::Spans,
        Self::Findings,
        Self::ChartsAlong,
        Self::ChartsAgainst,
        Self::Poses,
        Self::Ply,
        Self::Obj,
    ];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Shapes => "shapes.csv",
            Self::Spans => "spans.csv",
            Self::Findings => "findings.csv",
            Self::ChartsAlong => "charts_along.csv",
            Self::ChartsAgainst => "charts_against.csv",
            Self::Poses => "poses.csv",
            Self::Ply => "shapes.ply",
            Self::Obj => "shapes.obj",
        }
    }

    /// The file whose kind a name tells: by its ending, and for a table by what stands before that.
    pub fn of_name(name: &str) -> Option<Self> {
        let name = name.to_lowercase();
        let (stem, ending) = name.rsplit_once('.')?;
        Self::ALL.into_iter().find(|file| {
            let (own, kind) = file.name().rsplit_once('.').unwrap_or_default();
            kind == ending && (kind != "csv" || stem.ends_with(own))
        })
    }
}

/// The bytes of one file. A value that a place does not have (the radius where it is straight) is an empty cell.
pub fn export(
    file: ExportFile,
    route: &Route,
    solution: &Solution,
    findings: &Findings,
    options: &ExportOptions,
) -> Vec<u8> {
    let table = match file {
        ExportFile::Shapes => shapes::shapes(route, solution, options),
        ExportFile::Spans => spans::spans(route, solution, options),
        ExportFile::Findings => findings::findings(route, solution, findings, options),
        ExportFile::ChartsAlong => charts::along(route, findings, options),
        ExportFile::ChartsAgainst => charts::against(route, findings, options),
        ExportFile::Poses => poses::poses(route, solution, options),
        ExportFile::Ply => {
            return ply::ply(
                &polylines::polylines(route, solution, options),
                options.lines,
            );
        }
        ExportFile::Obj => {
            return obj::obj(
                &polylines::polylines(route, solution, options),
                options.lines,
            );
        }
    };
    table.csv(options.separator)
}
