//! The poses of a sweep, and the order in which to walk them.

/// One value a body's joint: radians for a turning one, metres for a sliding one, zero for a fixed one.
#[derive(Debug, Clone, PartialEq)]
pub struct Pose {
    /// Joint values, in the order of [`super::Machine::bodies`].
    pub joints: Vec<f64>,
}

/// One step of the walk: go to `to` starting from the solution at `from`.
#[derive(Debug, Clone, PartialEq)]
pub struct PoseStep {
    /// Index into [`Sweep::poses`], already solved. The first step of the walk has none: it is rest.
    pub from: Option<usize>,
    /// Index into [`Sweep::poses`].
    pub to: usize,
    /// The step continues the same joint in the same direction as the step that reached `from`, which
    /// lets the walk extrapolate.
    pub straight_on: bool,
}

/// The poses that are reported, and a walk that reaches each from a neighbour.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    /// The poses; their index is the pose's `id` in the report.
    pub poses: Vec<Pose>,
    /// Index of the rest pose in `poses`.
    pub rest: usize,
    /// Every pose exactly once, rest first.
    pub walk: Vec<PoseStep>,
}

impl Sweep {
    /// The default sweep of a machine.
    pub fn of(_machine: &super::Machine) -> Self {
        todo!()
    }
}
