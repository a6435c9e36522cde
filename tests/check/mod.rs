//! The checks, on shapes made by hand.

mod bend_rules;
mod corners; // several joints at once
mod drag;
mod hand;
mod near_parts;
mod pairs;
mod slack;
mod straps;
mod verdicts;
