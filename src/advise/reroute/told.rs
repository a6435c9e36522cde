//! What to do for a way, in words.

use nalgebra::Point3;

use crate::harness::FixingKind;
use crate::machine::{BodyId, PartId};
use crate::quantity::Kind;
use crate::route::Route;

use super::trial::Trials;
use super::words::on_part;

impl Trials<'_> {
    /// Indices in the lay of what stands between the two fixings that stay.
    pub(super) fn between(&self, route: &Route) -> std::ops::Range<usize> {
        let old = self.route.branches[self.options.branch.0].lay.len();
        let new = route.branches[self.options.branch.0].lay.len();
        self.options.from + 1..(self.options.to + new).saturating_sub(old)
    }

    /// What to do, in words.
    pub(super) fn changes(&self, route: &Route) -> Vec<String> {
        let (from, to) = (self.options.from, self.options.to);
        let old = &self.route.branches[self.options.branch.0].lay;
        let branch = &route.branches[self.options.branch.0];
        let units = self.options.units;
        let show = |value: f64| units.show_to(value, Kind::Length, 0);
        let between = self.between(route);
        let stands = |name: &str| {
            branch.lay[between.clone()]
                .iter()
                .any(|e| e.fixing.name == name)
        };
        let mut changes: Vec<String> = (from + 1..to)
            .filter(|lay| !stands(&old[*lay].fixing.name))
            .map(|lay| format!("take off {}", old[lay].fixing.name))
            .collect();
        let rest = route.machine.stance(&route.machine.rest());
        let spans = route.spans(branch, &rest);
        for lay in between.clone() {
            let fixing = &branch.lay[lay].fixing;
            let length = show(spans[lay - 1].length);
            let before = &branch.lay[lay - 1].fixing.name;
            let at = route.places[fixing.place].at;
            let kept = old[from + 1..to].iter().any(|e| {
                e.fixing.name == fixing.name && self.route.places[e.fixing.place].at == at
            });
            changes.push(if kept {
                format!("keep {}, {length} of branch after {before}", fixing.name)
            } else {
                let kind = if matches!(fixing.kind, FixingKind::Tie { .. }) {
                    "strap"
                } else {
                    "clamp"
                };
                format!(
                    "{kind} {} on {} at x {}, y {}, z {}{}, {length} of branch after {before}",
                    fixing.name,
                    route.machine.bodies[fixing.on.0].name,
                    show(at.x),
                    show(at.y),
                    show(at.z),
                    on_part(route, nearest(route, fixing.on, &at))
                )
            });
        }
        if let Some(span) = spans.get(between.end - 1) {
            let last = &branch.lay[between.end].fixing.name;
            changes.push(format!(
                "{} of branch from there to {last}",
                show(span.length)
            ));
        }
        changes
    }
}

/// The part of a body that is nearest to a place of it.
fn nearest(route: &Route, on: BodyId, at: &Point3<f64>) -> Option<PartId> {
    let parts = route.machine.parts.iter().enumerate();
    let own = parts.filter(|(_, part)| part.on == on);
    let gaps = own.map(|(id, part)| (part.shape.distance(at), PartId(id)));
    gaps.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, id)| id)
}
