//! Solve: poses in which the shape of a branch was not found. Nothing that is said about them can be trusted.

use crate::quantity::Kind;

use super::job::{Job, Outcome};
use super::{Finding, Verdict};

const CHECK: &str = "solve";

pub(super) fn solve(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    for &branch in job.branches {
        let lost: Vec<usize> = job
            .solved(branch)
            .shapes
            .iter()
            .enumerate()
            .filter(|(_, shape)| !shape.converged)
            .map(|(pose, _)| pose)
            .collect();
        let Some(&first) = lost.first() else {
            continue;
        };
        let share = lost.len() as f64 / job.solution.sweep.poses.len() as f64;
        let more = match lost.len() {
            1 => String::new(),
            count => format!(" and in {} other poses", count - 1),
        };
        outcome.findings.push(Finding {
            check: CHECK,
            subject: "poses not solved".to_owned(),
            branch,
            place: format!(
                "{}, {}{more}",
                job.branch(branch).name,
                job.pose_words(first)
            ),
            at: 0.0,
            pose: first,
            value: share,
            limit: 0.0,
            kind: Kind::Ratio,
            at_most: true,
            verdict: Verdict::Over,
            spread: None,
            chance_over: None,
            source: "every pose must be solved before the route is judged".to_owned(),
            advice:
                "The shape was not found here, so trust no value of these poses: check lengths and \
                     waypoints of the branch, and turn this pose by hand."
                    .to_owned(),
            follows_from: None,
        });
    }
    outcome
}
