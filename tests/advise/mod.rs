//! What to do about it.

mod estimate; // the quick answer
mod lengthen; // lengths to add, cuts, splices, voltage drops
mod locate;
mod reroute; // other ways, classes, clamps // seeded faults
