//! Route files: RON text to a [`Route`], with every fault of a file in one run.
//!
//! A text becomes a tree in which every value knows its place (`syntax`); the tree is read field by field into
//! quantities, points and names that are resolved at once; what the file leaves out is filled in and said. No later
//! stage sees the text. The other way round, `edit` makes a text read as a changed route.

mod bodies;
mod branches;
mod breakouts;
mod changes;
mod circuits;
mod defaults;
mod duty;
mod edit;
mod fault;
mod fields;
mod fixings;
mod library;
mod limits;
mod literals;
mod outline;
mod parts;
mod places;
mod points;
mod points_from;
mod route_file;
mod scan;
mod source;
mod spare;
mod splices;
mod syntax;
mod table;
mod tree;
mod value;
mod wires;

use std::path::Path;

use crate::route::Route;

pub(crate) use edit::changed_from;
pub use edit::{At, EditError, changed_text, edited_text, put_text, value_text};
pub use fault::{Fault, Faults};
pub use library::{LibraryEntry, LibraryValue, library};
pub use outline::{files_named, title_of};
pub use places::{
    NamedPoint, Suspect, TapedPoint, TapedPoints, TapedReading, named_points, places_file,
    places_table, places_text,
};
pub use scan::{ScanFault, ScanFormat, Soup, scan_bytes, scan_file};

/// Reads a route file.
///
/// # Errors
/// Every fault of the file, each with line and column; or the one reason why it cannot be read at all (missing, a
/// folder, too large, not text).
pub fn route_file(path: &Path) -> Result<Route, Faults> {
    let text = source::text_of(path, "route file")?;
    route_text(&text, &path.display().to_string())
}

/// Reads the text of a route file; `file` is the name that faults carry, and the scans that the text names lie beside
/// it.
///
/// # Errors
/// Every fault of the text, each with line and column.
pub fn route_text(text: &str, file: &str) -> Result<Route, Faults> {
    route_file::route(text, file)
}

/// A commented route file to begin from: an invented small machine whose harness is sound as it stands.
pub fn starter() -> &'static str {
    include_str!("start.ron")
}
