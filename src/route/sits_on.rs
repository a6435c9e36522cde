//! What a fixing sits on: the tube or bar along which it can be moved.

use crate::geometry::Shape;
use crate::harness::Branch;
use crate::machine::PartId;

use super::Route;

/// A fixing whose branch comes this near to a tube sits on it \[m\].
const NEAR: f64 = 0.02;

impl Route {
    /// The nearest tube or cylinder of its own body that the fixing `lay` of `branch` sits on.
    pub fn sits_on(&self, branch: &Branch, lay: usize) -> Option<PartId> {
        let fixing = &branch.lay[lay].fixing;
        let at = self.places[fixing.place].at;
        let parts = self.machine.parts.iter().enumerate();
        parts
            .filter(|(_, part)| part.on == fixing.on)
            .filter(|(_, part)| matches!(part.shape, Shape::Tube { .. } | Shape::Cylinder { .. }))
            .map(|(index, part)| (index, part.shape.distance(&at) - 0.5 * branch.diameter))
            .filter(|(_, gap)| *gap < NEAR)
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(index, _)| PartId(index))
    }
}
