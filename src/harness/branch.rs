//! A branch: a bundle and how it is laid.

use crate::machine::BodyId;

use super::{Cover, Fixing, Stiffness, StringReadings, WireId};

/// Index of a branch in [`crate::route::Route::branches`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BranchId(pub usize);

/// One bundle from end to end.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// Name from the route file.
    pub name: String,
    /// Its wires, one entry a conductor.
    pub wires: Vec<WireId>,
    /// Outside diameter \[m\].
    pub diameter: f64,
    /// Its cover, where given.
    pub cover: Option<Cover>,
    /// Length along the branch in which its wires go once round each other \[m\]; `None` where they run straight.
    pub pitch: Option<f64>,
    /// Its stiffness and mass.
    pub stiffness: Stiffness,
    /// Its fixings in order, at least two, each with how the branch gets there.
    pub lay: Vec<Lay>,
}

impl Branch {
    /// The stretches from one fixing that holds direction to the next (or to the branch's end), as indices in the lay
    /// of their first and last fixing. Nothing passes through such a fixing, so each stretch is a problem of its own.
    pub fn stretches(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        let last = self.lay.len().saturating_sub(1);
        let mut from = 0;
        (1..=last).filter_map(move |lay| {
            let ends = lay == last || self.lay[lay].fixing.holds_direction();
            ends.then(|| (std::mem::replace(&mut from, lay), lay))
        })
    }
}

/// A fixing and the span that leads to it from the fixing before.
#[derive(Debug, Clone, PartialEq)]
pub struct Lay {
    /// The fixing at the end of the span.
    pub fixing: Fixing,
    /// Waypoints of the span that leads here, in order; empty for the first fixing.
    pub vias: Vec<Via>,
    /// How long that span is; means nothing for the first fixing.
    pub length: LengthRule,
}

/// A waypoint: shapes the first guess, holds nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Via {
    /// The body that it is given on.
    pub on: BodyId,
    /// Index into [`crate::route::Route::places`].
    pub place: usize,
}

/// How long a span is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LengthRule {
    /// Length along the branch, measured \[m\].
    Measured(f64),
    /// What is over the straight distance between its two fixings at rest \[m\].
    Slack(f64),
    /// What string and gathered slack say together.
    Strung(StringReadings),
    /// That of the smooth path through the waypoints at rest.
    SmoothPath,
}
