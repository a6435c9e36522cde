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

    /// By how much the bundle is thicker where the splice is \[m\], in a wire of this outside diameter \[m\].
    pub fn lump(&self, outside: f64) -> f64 {
        (Self::THICKER - 1.0) * outside
    }

    /// Where along the branch it begins and ends \[m\].
    pub fn extent(&self) -> (f64, f64) {
        (self.at - 0.5 * Self::LENGTH, self.at + 0.5 * Self::LENGTH)
    }
}
