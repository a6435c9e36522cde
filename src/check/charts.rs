//! What the strip charts show, worked out by the checks so that a drawing decides nothing.

use crate::harness::BranchId;
use crate::machine::{BodyId, PartId};

/// The least gap between a branch and a part over the sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeastGap {
    /// The part.
    pub part: PartId,
    /// Surface to surface \[m\], negative where they overlap.
    pub gap: f64,
    /// Where along the branch, from its first fixing \[m\].
    pub at: f64,
    /// Pose id; the lowest where several tie.
    pub pose: usize,
}

/// The worst over all poses at each place along a branch.
#[derive(Debug, Clone, PartialEq)]
pub struct AlongBranch {
    /// The branch.
    pub branch: BranchId,
    /// Distance from the branch's first fixing \[m\], never falling.
    pub at: Vec<f64>,
    /// Least inside radius \[m\] at each place (infinite where straight).
    pub inside_radius: Vec<f64>,
    /// Limit of the inside radius \[m\] at each place.
    pub radius_limit: Vec<f64>,
    /// Least gap to a hot part \[m\] at each place; empty where the machine has none.
    pub hot_gap: Vec<f64>,
    /// Limit of the gap to that hot part \[m\] at each place; empty like `hot_gap`.
    pub hot_limit: Vec<f64>,
}

/// What changes with one joint while the others rest, for one branch that bridges it.
#[derive(Debug, Clone, PartialEq)]
pub struct AgainstJoint {
    /// The branch.
    pub branch: BranchId,
    /// The body whose joint turns or slides.
    pub joint: BodyId,
    /// Pose ids, joint value rising.
    pub poses: Vec<usize>,
    /// Joint values (rad or m).
    pub values: Vec<f64>,
    /// Least slack of the branch's moving spans \[m\].
    pub slack: Vec<f64>,
    /// Least inside radius of its moving spans \[m\].
    pub inside_radius: Vec<f64>,
    /// Torque of the branch about the joint's axis (positive drives the joint value up) \[N m\]; for a
    /// sliding joint the force along it \[N\].
    pub load: Vec<f64>,
}
