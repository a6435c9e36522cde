//! One check a file; the finding; the limits and their sources; the report.

mod bend_radius;
mod charts;
mod elongation;
mod finding;
mod heat_distance;
mod limits;
mod pinch;
mod report;
mod spread;
mod steering_drag;
mod support;
mod tie_pinch;
mod twist;

pub use charts::{AgainstJoint, AlongBranch, LeastGap};
pub use finding::{Blank, Finding, Findings, Verdict};
pub use limits::{Limit, LimitStatus, Limits};
pub use report::report;
pub use spread::check;
