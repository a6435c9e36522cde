//! The elastic rod: where the harness lies in every pose.

mod solution;

pub use solution::{BranchSolution, Hold, Resolution, Shape, Snap, Solution, SpanState, Station};
