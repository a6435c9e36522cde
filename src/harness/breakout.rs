//! Where branches meet.

use crate::machine::BodyId;

use super::BranchId;

/// A breakout: a rigid joint of the branches that meet there.
///
/// It is a body of the machine, without a joint of its own and without parts, drawn where the breakout lies at rest. The
/// directions of its branches ride on it, so the branches keep the angles to each other in which they were drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Breakout {
    /// Name from the route file.
    pub name: String,
    /// Its body. Where that is in a pose, the harness decides as far as nothing holds it.
    pub body: BodyId,
    /// Index into [`crate::route::Route::places`]: where it is drawn.
    pub place: usize,
    /// What holds it.
    pub held: Held,
    /// The branches that meet here.
    pub meets: Vec<Meeting>,
}

/// How a breakout is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Held {
    /// By its branches alone.
    Floats,
    /// Its place on the body that carries it; it turns there as its branches let it.
    Pivots,
    /// Place and direction.
    Firmly,
}

/// One branch at a breakout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Meeting {
    /// The branch.
    pub branch: BranchId,
    /// Index of the breakout in its lay. A branch that runs through has one index, and two ends here.
    pub lay: usize,
}

impl Breakout {
    /// Whether the harness decides where it is, at least in part.
    pub fn floats(&self) -> bool {
        self.held != Held::Firmly
    }
}
