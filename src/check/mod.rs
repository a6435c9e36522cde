//! One check a file; the finding; the limits and their sources; the report.

mod bend_radius;
mod between;
mod cause;
mod cautions;
mod charts;
mod elongation;
mod finding;
mod hanging;
mod heat_distance;
mod job;
mod limit_table;
mod limits;
mod nudge;
mod pinch;
mod recheck;
mod report;
mod run;
mod snap;
mod solve;
mod spread;
mod steering_drag;
mod support;
mod tie_pinch;
mod twist;
mod wording;

pub use cautions::CAUTIONS;
pub use charts::{AgainstJoint, AlongBranch, LeastGap};
pub use finding::{Blank, Finding, Findings, Verdict};
pub use limits::{Limit, LimitKey, LimitRule, LimitStatus, Limits};
pub use report::{assumed, exit_status, report, warnings};
pub(crate) use report::{rounded, to_millionth};
pub use run::{Options, check, check_with};
pub use wording::pose_in_words;

pub(crate) use job::is_straight;
use job::{Job, Outcome};

/// Every check, in the order in which the report lists what ties.
const CHECKS: [fn(&Job<'_>) -> Outcome; 10] = [
    solve::solve,
    snap::snap,
    elongation::elongation,
    bend_radius::bend_radius,
    steering_drag::steering_drag,
    tie_pinch::tie_pinch,
    pinch::pinch,
    heat_distance::heat_distance,
    twist::twist,
    support::support,
];

fn all_checks(job: &Job<'_>) -> Outcome {
    let mut all = Outcome::default();
    for check in CHECKS {
        let outcome = check(job);
        all.findings.extend(outcome.findings);
        all.blanks.extend(outcome.blanks);
    }
    all
}
