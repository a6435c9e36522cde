//! What holds a branch.

use nalgebra::UnitVector3;

use crate::machine::BodyId;

/// A fixing of a branch. Where it is stands in [`crate::route::Route::places`].
#[derive(Debug, Clone, PartialEq)]
pub struct Fixing {
    /// Name from the route file, unique in the harness.
    pub name: String,
    /// What it is.
    pub kind: FixingKind,
    /// The body that it is on.
    pub on: BodyId,
    /// Index into [`crate::route::Route::places`]: where it is with every joint at zero.
    pub place: usize,
    /// Direction in which the branch runs on, with every joint at zero; `None`: the branch pivots here.
    /// Always present for a clamp, a grommet, a connector and a breakout.
    pub facing: Option<UnitVector3<f64>>,
    /// Width along the branch \[m\], where given.
    pub width: Option<f64>,
}

impl Fixing {
    /// Whether the direction of the branch (and its turning about itself) is held here.
    pub fn holds_direction(&self) -> bool {
        self.facing.is_some()
    }

    /// Whether the branch slides through, so that its neighbouring spans share their length.
    pub fn slides(&self) -> bool {
        matches!(
            self.kind,
            FixingKind::Grommet | FixingKind::Tie { loose: true, .. }
        )
    }
}

/// Kinds of fixing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FixingKind {
    /// A strap.
    Tie {
        /// Strap tension \[N\], where given.
        pull: Option<f64>,
        /// Whether the branch slides through it.
        loose: bool,
        /// Temperature rating \[°C\], where given.
        rated: Option<f64>,
    },
    /// A cushioned clamp: no squeeze.
    Clamp,
    /// A hole that the branch slides through.
    Grommet,
    /// Where branches meet. It stands on the body of its [`super::Breakout`].
    Breakout,
    /// A connector at an end of the branch.
    Connector {
        /// Finish of its contacts, where given.
        finish: Option<Finish>,
        /// Finish of the half that it mates with, where given.
        mated: Option<Finish>,
        /// Temperature rating \[°C\], where given.
        rated: Option<f64>,
    },
}

/// Finish of a contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Finish {
    /// Tin.
    Tin,
    /// Silver.
    Silver,
    /// Gold.
    Gold,
}
