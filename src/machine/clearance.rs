//! Distances from the harness to the parts: k-d tree first, then exactly.

use nalgebra::Point3;

use crate::geometry::{Contact, Curve};

use super::{Machine, PartId, Stance};

/// The least gap between a curve and a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// The part.
    pub part: PartId,
    /// Signed distance from the centreline to the part's surface \[m\].
    pub distance: f64,
    /// Where on the curve \[m\].
    pub at: f64,
    /// The nearest point on the part, in the pose's machine frame.
    pub on_part: Point3<f64>,
}

/// The machine's surfaces, indexed so that what is near a point is found fast and nothing is missed.
#[derive(Debug)]
pub struct Surroundings<'m> {
    machine: &'m Machine,
}

impl<'m> Surroundings<'m> {
    /// Indexes a machine.
    pub fn new(machine: &'m Machine) -> Self {
        Self { machine }
    }

    /// Every part whose surface may be within `reach` \[m\] of `p` in `stance`; may hold a few that are not.
    pub fn near(&self, _stance: &Stance, _p: &Point3<f64>, _reach: f64, _found: &mut Vec<PartId>) {
        todo!()
    }

    /// The nearest place on `part` from `p`, all in the machine frame of `stance`.
    pub fn contact(&self, stance: &Stance, part: PartId, p: &Point3<f64>) -> Contact {
        let _ = (stance, part, p, self.machine);
        todo!()
    }

    /// The least distance from `curve` to every part in `stance`, in the order of the parts.
    pub fn nearest(&self, _stance: &Stance, _curve: &Curve) -> Vec<Nearest> {
        todo!()
    }
}
