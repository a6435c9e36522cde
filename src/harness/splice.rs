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

impl Splice {
    /// A splice with its sleeve is so many times as thick as its wire: common practice, no source.
    pub const THICKER: f64 = 1.6;
    /// Length of a splice with its sleeve \[m\]: common practice, no source.
    pub const LENGTH: f64 = 25e-3;

    /// By how much the bundle is thicker here \[m\], where the splice is in a wire of this outside diameter \[m\].
    pub fn lump(&self, outside: f64, branch: BranchId, at: f64) -> f64 {
        if branch == self.branch && (at - self.at).abs() <= 0.5 * Self::LENGTH {
            (Self::THICKER - 1.0) * outside
        } else {
            0.0
        }
    }
}
