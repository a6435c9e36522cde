//! The elastic rod: where the harness lies in every pose.

#![allow(
    clippy::needless_range_loop,
    reason = "matrices are read by row and column, as in the formulas"
)]

mod again;
mod assembly;
mod at_pose;
mod balance;
mod bend;
mod beside;
mod carried;
mod caught;
mod chain;
mod cluster;
mod contact;
mod cutting;
#[cfg(test)]
mod derivatives_test;
mod descend;
mod drawn;
mod element;
mod equilibrium;
mod extrapolate;
mod fall;
mod follow;
mod guess;
mod halt;
mod held;
mod keep;
mod measure;
mod middle;
mod modes;
mod near;
mod newton;
mod patience;
mod piece;
mod pulls;
mod refine;
mod resolve;
mod response;
mod rest;
mod solution;
mod solve;
mod step;
mod strand;
mod tangent;
mod tension;
mod together;
mod twist;
mod walk;
mod ways;

pub use at_pose::solve_pose;
pub use beside::{Beside, solve_beside};
pub use drawn::{DrawnThrough, drawn_through};
pub use halt::{Halt, Halting};
pub use solution::{BranchSolution, Hold, Resolution, Shape, Snap, Solution, SpanState, Station};
pub use solve::{KnownAround, Moved, solve, solve_near, solve_near_in};
pub use tangent::Neighbourhood;

/// Settings of the rod.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Least number of elements in a span before refinement.
    pub elements: usize,
    /// Relative error of the tightest radius at which refinement stops; infinite: no refinement.
    pub accuracy: f64,
    /// Whether to leave off; what comes of it then is no answer.
    pub halt: Halt,
    /// How wide the steps between poses are, as a multiple of those of a report: 1 for all that is shown; wider steps are for
    /// a search, which looks again with narrow ones at what it finds.
    pub stride: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            elements: 12,
            accuracy: 1e-4,
            halt: Halt::NEVER,
            stride: 1.0,
        }
    }
}
