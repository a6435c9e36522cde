//! A route with longer spans.

use crate::harness::{BranchId, LengthRule};
use crate::route::Route;

/// Length added to one span.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Add {
    /// The branch.
    pub branch: BranchId,
    /// Index of the span: it ends at the fixing `span + 1` of the lay.
    pub span: usize,
    /// How much \[m\].
    pub by: f64,
}

/// The route with longer spans. A rule keeps its kind as far as it can: slack grows, a measured length grows, what was read
/// with string grows by as much; a smooth path becomes a length.
pub fn longer(route: &Route, adds: &[Add]) -> Route {
    let rest = route.machine.stance(&route.machine.rest());
    let mut new = route.clone();
    for add in adds {
        let branch = &route.branches[add.branch.0];
        let rule = &mut new.branches[add.branch.0].lay[add.span + 1].length;
        *rule = match *rule {
            LengthRule::Measured(length) => LengthRule::Measured(length + add.by),
            LengthRule::Slack(slack) => LengthRule::Slack(slack + add.by),
            LengthRule::Strung(readings) => LengthRule::Strung(readings.longer(add.by)),
            LengthRule::SmoothPath => {
                LengthRule::Measured(route.spans(branch, &rest)[add.span].length + add.by)
            }
        };
    }
    new
}
