//! What to do: proposals that are solved and checked again before they are shown, the quick answer that needs no route,
//! and where a conductor is likely broken.

pub mod estimate;
pub mod lengthen;
mod locate;
pub mod reroute;

pub use locate::{
    Part, Pinned, Place, Question, Scored, Unknown, locate, locate_report, places_named,
};
