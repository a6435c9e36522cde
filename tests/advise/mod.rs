//! Advice.

mod estimate; // the quick answer
mod lengthen; // lengths to add, cuts, splices, voltage drops
