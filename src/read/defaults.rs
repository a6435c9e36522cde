//! What a complete route fills in from its own geometry: directions and lengths that were not given.

use nalgebra::UnitVector3;

use crate::harness::{FixingKind, LengthRule};
use crate::machine::Stance;
use crate::quantity::Kind;
use crate::route::Route;

use super::route_file::always_holds_direction;
use super::value::Reading;

/// Fills in the facing of clamps and connectors from the smooth path with every joint at rest, and says how long
/// the spans are for which neither length nor slack was given.
pub(super) fn fill(reading: &mut Reading<'_>, mut route: Route, rest: &Stance) -> Option<Route> {
    let units = reading.units;
    super::spare::reconcile(reading, &mut route);
    for index in 0..route.branches.len() {
        // All from the path as the file describes it, so that their order does not matter.
        let (path, knots) = route.smooth_path(&route.branches[index], rest);
        let branch = &mut route.branches[index];
        for (entry, &knot) in branch.lay.iter_mut().zip(&knots) {
            let fixing = &mut entry.fixing;
            if fixing.facing.is_some() || !always_holds_direction(fixing.kind) {
                continue;
            }
            let along = path.tangent(path.knots()[knot].at);
            let turned = rest.bodies[fixing.on.0].rotation.inverse() * along;
            let facing = UnitVector3::try_new(turned, 1e-9)?;
            fixing.facing = Some(facing);
            let [x, y, z] = [facing.x, facing.y, facing.z].map(|c| format!("{:.2}", c + 0.0));
            reading.assumed.push(if fixing.kind == FixingKind::Breakout {
                format!(
                    "at the breakout \"{}\" the branch \"{}\" runs toward ({x}, {y}, {z}) when nothing bends it, along \
                     the smooth path (no `facing` given)",
                    fixing.name, branch.name
                )
            } else {
                format!(
                    "\"{}\" faces ({x}, {y}, {z}), along the smooth path through the fixings (no `facing` given)",
                    fixing.name
                )
            });
        }
        let branch = &route.branches[index];
        for span in route.spans(branch, rest) {
            let (from, to) = (&branch.lay[span.from], &branch.lay[span.from + 1]);
            if to.length == LengthRule::SmoothPath {
                reading.assumed.push(format!(
                    "\"{}\" to \"{}\" is {} long, that of the smooth path between them (no `length` or `slack` given)",
                    from.fixing.name,
                    to.fixing.name,
                    units.show(span.length, Kind::Length)
                ));
            }
        }
    }
    route.assumed = std::mem::take(&mut reading.assumed);
    route.warnings.append(&mut reading.warnings);
    Some(route)
}
