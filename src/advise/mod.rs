//! What to do about it: where a conductor is likely broken, and how to prove it by hand.

mod locate;

pub use locate::{
    Part, Pinned, Place, Question, Scored, Unknown, locate, locate_report, places_named,
};
