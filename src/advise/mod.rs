//! What to do about a route: how far a change can go, what it changes, how much length to add, which fixings to move, many
//! variants at once; the quick answer that needs no route; and where a conductor is likely broken.
//!
//! Every advice is a changed copy of the route, solved and checked again; nothing here is a formula's guess.

mod chart;
mod compare;
pub mod estimate;
pub mod lengthen;
mod lies;
mod locate;
mod margin;
mod reach;
pub mod reroute;
mod retie;
mod solved;
mod study;

pub use chart::{Chart, ChartRow, chart};
pub use compare::{Compared, Comparison, Difference, KeyNumber, compare};
pub use locate::{
    Part, Pinned, Place, Question, Scored, Unknown, locate, locate_report, places_named, tests_told,
};
pub use margin::{Amount, amount};
pub use reach::{Limiting, Reach, ReachOptions, reach, reach_with};
pub use retie::{Obstacle, Proposal, RetieHooks, RetieOptions, Retied, Rewrite, retie, retie_with};
pub use solved::{Laid, Solved};
pub use study::{
    Cell, Column, StudyRow, StudyTable, StudyTableError, changed, of_machine, study_row,
};
