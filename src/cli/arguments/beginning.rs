//! Options of what a route begins with: start, library, place.

use std::path::PathBuf;

use clap::Args;

#[derive(Debug, Args)]
pub(in crate::cli) struct Start {
    /// The file to write
    #[arg(value_name = "FILE")]
    pub(in crate::cli) file: PathBuf,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Library {
    /// One shelf only
    #[arg(value_enum, value_name = "SHELF")]
    pub(in crate::cli) shelf: Option<Shelf>,
    /// Print the entries as JSON
    #[arg(long)]
    pub(in crate::cli) json: bool,
}

/// A shelf of the library.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(in crate::cli) enum Shelf {
    Wires,
    Covers,
    Ties,
    Finishes,
    HotParts,
}

impl Shelf {
    /// Its field in a route file's `library`.
    pub(in crate::cli) fn name(self) -> &'static str {
        match self {
            Self::Wires => "wires",
            Self::Covers => "covers",
            Self::Ties => "ties",
            Self::Finishes => "finishes",
            Self::HotParts => "hot_parts",
        }
    }
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Place {
    /// A route file, a file with nothing but its `points`, or a CSV table of points and taped distances
    #[arg(value_name = "FILE")]
    pub(in crate::cli) file: PathBuf,
    /// Print the points as JSON
    #[arg(long)]
    pub(in crate::cli) json: bool,
}
