//! What to do: proposals that are solved and checked again before they are shown, and the quick answer that needs no
//! route.

pub mod estimate;
pub mod lengthen;
