//! One check a file; the finding; the limits and their sources; the report.

mod bend_radius;
mod between;
mod cause;
mod cautions;
mod chafe;
mod charts;
mod contacts;
mod current;
mod drip_loop;
mod edge_distance;
mod elongation;
mod finding;
mod flex_life;
mod fluid_lines;
mod gaps;
mod hanging;
mod heat;
mod heat_distance;
mod job;
mod least_along;
mod limit_table;
mod limits;
mod nudge;
mod pinch;
mod recheck;
mod report;
mod run;
mod signal_pairs;
mod slack_most;
mod snag;
mod snap;
mod solve;
mod splice;
mod spread;
mod steering_drag;
mod support;
mod tie_pinch;
mod touching;
mod twist;
mod within_reach;
mod wording;

pub use cautions::CAUTIONS;
pub use charts::{AgainstJoint, AlongBranch, LeastGap};
pub use finding::{Blank, Finding, Findings, Verdict};
pub use limits::{Limit, LimitKey, LimitRule, LimitStatus, Limits};
pub use report::{assumed, exit_status, report, warnings};
pub(crate) use report::{
    entry as finding_entry, reported_unit, rounded, to_millionth, verdict_word,
};
pub use run::{Options, check, check_with};
pub use wording::pose_in_words;

pub(crate) use job::is_straight;
use job::{Job, Outcome};

/// Every check, in the order in which the report lists what ties.
const CHECKS: [fn(&Job<'_>) -> Outcome; 22] = [
    solve::solve,
    snap::snap,
    elongation::elongation,
    bend_radius::bend_radius,
    steering_drag::steering_drag,
    tie_pinch::tie_pinch,
    pinch::pinch,
    heat_distance::heat_distance,
    heat::heat,
    edge_distance::edge_distance,
    chafe::chafe,
    snag::snag,
    fluid_lines::fluid_lines,
    slack_most::slack_most,
    twist::twist,
    support::support,
    drip_loop::drip_loop,
    flex_life::flex_life,
    current::current,
    signal_pairs::signal_pairs,
    contacts::contacts,
    splice::splice,
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
