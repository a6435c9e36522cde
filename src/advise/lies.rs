//! The direction in which a branch lies at one of its fixings.

use nalgebra::{Unit, UnitVector3};

use crate::machine::BodyId;
use crate::rod::Solution;

/// The direction of branch `b` at the fixing `lay`, in the middle between the two that are farthest apart over the sweep; as
/// the body `on` has it with every joint at zero. `None` where the branch was found in no pose, or turns right round.
pub(super) fn middle_direction(
    solution: &Solution,
    (b, lay): (usize, usize),
    on: BodyId,
) -> Option<UnitVector3<f64>> {
    let solved = &solution.branches[b];
    let at = match solved.spans.get(lay) {
        Some(span) => span.start,
        None => solved.spans.last()?.end(),
    };
    let found = solved
        .shapes
        .iter()
        .zip(&solution.stances)
        .filter(|(shape, _)| shape.converged);
    let all: Vec<UnitVector3<f64>> = found
        .filter_map(|(shape, stance)| {
            let home = stance.bodies[on.0].rotation.inverse();
            Unit::try_new(home * shape.curve.tangent(at), 0.0)
        })
        .collect();
    let farthest = |from: &UnitVector3<f64>| {
        let all = all.iter();
        all.min_by(|a, b| a.dot(from).total_cmp(&b.dot(from)))
            .copied()
    };
    let one = farthest(all.first()?)?;
    let other = farthest(&one)?;
    Unit::try_new(one.into_inner() + other.into_inner(), 1e-6)
}
