//! The checks, on shapes made by hand.

mod alike; // what two reports say, compared
mod bend_rules;
mod chafe;
mod chance;
mod corners; // several joints at once
mod degenerate;
mod demos; // the routes that come with the program
mod drag;
mod drip;
mod edges;
mod elsewhere;
mod fluids;
pub(crate) mod hand;
mod invariance;
mod lumps;
mod near_parts;
mod nudges; // how they are followed
mod pairs;
mod plugs;
mod resolution;
mod reversed;
mod shuffled;
mod slack;
mod snag;
mod squeezed;
mod straps;
mod too_slack;
mod verdicts;
