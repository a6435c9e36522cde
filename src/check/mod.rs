//! One check a file; the finding; the limits and their sources; the report.

mod asked;
mod bend_radius;
mod between;
mod cause;
mod cautions;
mod chafe;
mod charts;
mod contacts;
mod current;
mod curvature;
mod deciding;
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
mod lost;
mod nudge;
mod pinch;
mod reach;
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
mod warmth;
mod warnings;
mod within_reach;
mod wording;

pub use cautions::CAUTIONS;
pub use charts::{AgainstJoint, AlongBranch, LeastGap};
pub use finding::{Blank, Finding, Findings, Verdict};
pub use limits::{Limit, LimitKey, LimitRule, LimitStatus, Limits};
pub use report::{assumed, exit_status, report};
pub(crate) use report::{
    entry as finding_entry, reported_unit, rounded, to_millionth, verdict_word,
};
pub(crate) use run::check_anew;
pub use run::{Options, check, check_with};
pub use warnings::warnings;
pub(crate) use wording::joint_in_words;
pub use wording::pose_in_words;

pub(crate) use curvature::is_straight;
use job::{Job, Outcome};

/// A check.
type Check = fn(&Job<'_>) -> Outcome;

/// Every check and its name, in the order in which the report lists what ties.
const CHECKS: [(Check, &str); 22] = [
    (solve::solve, "solve"),
    (snap::snap, "snap"),
    (elongation::elongation, "elongation"),
    (bend_radius::bend_radius, "bend radius"),
    (steering_drag::steering_drag, "steering drag"),
    (tie_pinch::tie_pinch, "tie pinch"),
    (pinch::pinch, "pinch"),
    (heat_distance::heat_distance, "heat distance"),
    (heat::heat, "heat"),
    (edge_distance::edge_distance, "edge distance"),
    (chafe::chafe, "chafe"),
    (snag::snag, "snag"),
    (fluid_lines::fluid_lines, "fluid lines"),
    (slack_most::slack_most, "slack most"),
    (twist::twist, "twist"),
    (support::support, "support"),
    (drip_loop::drip_loop, "drip loop"),
    (flex_life::flex_life, "flex life"),
    (current::current, "current"),
    (signal_pairs::signal_pairs, "signal pairs"),
    (contacts::contacts, "contacts"),
    (splice::splice, "splice"),
];

/// What is found of a branch by itself, whatever the others do.
const OWN: [&str; 12] = [
    "elongation",
    "bend radius",
    "pinch",
    "heat distance",
    "heat",
    "edge distance",
    "chafe",
    "snag",
    "slack most",
    "twist",
    "support",
    "flex life",
];

/// All checks on the branches of `anew`; of the others what was found `before` stands where it is of the branch by itself,
/// and is looked for again, with `whole`, where it is not.
fn some_checks(anew: &Job<'_>, whole: &Job<'_>, before: &Findings, without: &[&str]) -> Outcome {
    let mut all = Outcome::default();
    let stays = |branch, check| OWN.contains(&check) && !anew.branches.contains(&branch);
    let findings = before.findings.iter();
    all.findings
        .extend(findings.filter(|f| stays(f.branch, f.check)).cloned());
    let blanks = before.blanks.iter();
    all.blanks
        .extend(blanks.filter(|b| stays(b.branch, b.check)).cloned());
    for (check, name) in CHECKS {
        if without.contains(&name) {
            continue;
        }
        let outcome = check(if OWN.contains(&name) { anew } else { whole });
        all.findings.extend(outcome.findings);
        all.blanks.extend(outcome.blanks);
    }
    all
}

/// All checks but some; of a nudged route, those that told anything that the nudge can change.
fn all_checks(job: &Job<'_>, without: &[&str]) -> Outcome {
    let mut all = Outcome::default();
    for (check, name) in CHECKS {
        if without.contains(&name) || !job.asks(name) {
            continue;
        }
        let outcome = check(job);
        all.blanks.extend(outcome.blanks);
        for finding in outcome.findings {
            // Where a pose was not found its forces may be no numbers: then nothing is told of them.
            if finding.value.is_nan() {
                all.blanks.push(untold(&finding));
            } else {
                all.findings.push(finding);
            }
        }
    }
    all
}

fn untold(finding: &Finding) -> Blank {
    Blank {
        check: finding.check,
        branch: finding.branch,
        why: format!(
            "How the branch lies was not found in some pose, so that nothing can be told {}.",
            finding.place
        ),
    }
}
