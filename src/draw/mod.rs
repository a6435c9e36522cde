//! Drawings from finished results.
//!
//! A sheet is made in two steps: what it shows becomes a display list ([`display::Sheet`]: figures, rings, lines
//! of text at places on paper), and the list becomes SVG. Nothing here decides anything: verdicts, limits and
//! worst poses come with the findings. The same results give the same bytes.

mod against;
mod along;
pub mod bench;
mod bodies;
mod chart;
mod compare;
mod desk;
pub mod display;
mod harness;
mod hatch;
pub mod ink;
mod key;
mod labels;
mod layout;
mod lettering;
mod list;
mod naming;
mod notes;
mod order;
mod pdf_out;
mod png;
mod project;
mod reach;
mod scan_outline;
mod scene;
mod section;
mod sheet;
mod silhouette;
mod svg_out;
mod symbols;
mod view;
mod words;

pub use compare::compare_sheet;
pub use png::{PngError, png};
pub use reach::reach_chart;

use crate::check::Findings;
use crate::quantity::Units;
use crate::rod::Solution;
use crate::route::Route;

/// How a sheet is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SheetOptions {
    /// Units of length.
    pub units: Units,
}

/// One sheet as SVG: views, charts, findings, assumptions and cautions. The same results give the same bytes.
pub fn sheet(
    route: &Route,
    solution: &Solution,
    findings: &Findings,
    options: &SheetOptions,
) -> String {
    svg_out::svg_of_sheet(&display_list(route, solution, findings, options))
}

/// The same sheet as a display list, before any file format.
pub fn display_list(
    route: &Route,
    solution: &Solution,
    findings: &Findings,
    options: &SheetOptions,
) -> display::Sheet {
    sheet::compose(scene::Scene::new(route, solution, findings, options.units))
}

/// The sections of all bundles whose wires are known as SVG: how the wires lie beside each other, with their list.
pub fn sections(route: &Route, options: &SheetOptions) -> String {
    svg_out::svg_of_sheet(&section::compose(route, options.units))
}

/// The same as a display list.
pub fn sections_display_list(route: &Route, options: &SheetOptions) -> display::Sheet {
    section::compose(route, options.units)
}
