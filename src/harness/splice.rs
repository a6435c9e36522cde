//! Splices.

use super::{BranchId, WireId};

/// Where a wire is spliced.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Splice {
    /// The wire.
    pub wire: WireId,
    /// The branch.
    pub branch: BranchId,
    /// Distance along the branch from its first fixing \[m\].
    pub at: f64,
}
