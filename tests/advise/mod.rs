//! The floor `advise`: changes, how far, what to move, how much longer, where broken.

mod changes; // what a change does to a route, and the same as text
mod compare; // findings that came and went
mod estimate; // the quick answer
mod lengthen; // lengths to add, cuts, splices, voltage drops
mod locate; // seeded faults
mod reach; // against elliptic integrals and the distance of a turning point
mod reroute; // ways round a cylinder and a box, classes told apart, every proposal read again
mod retie; // every proposal holds when read from its own text
mod reuse; // what a change does not touch is not solved again, and nothing differs
mod stopping; // what is stopped gives what it has by then
mod study; // tables of variants

pub(crate) use reroute::shed;
pub(crate) use retie::ASKEW;
