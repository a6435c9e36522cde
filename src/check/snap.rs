//! Snap: a place where the branch jumps between neighbouring poses, much further than the motion that caused
//! it. A harness that flips over fatigues and can catch.

use crate::quantity::Kind;

use super::job::{Job, Outcome};
use super::{Finding, LimitStatus, Verdict};

const CHECK: &str = "snap";

pub(super) fn snap(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    for &branch in job.branches {
        for snap in &job.solved(branch).snaps {
            let words = job.pose_words(snap.to);
            outcome.findings.push(Finding {
                check: CHECK,
                subject: format!("pose {} to {}", snap.from, snap.to),
                branch,
                place: job.place_words(branch, snap.at),
                at: snap.at,
                pose: snap.to,
                value: snap.jump,
                limit: 0.0,
                kind: Kind::Length,
                at_most: true,
                verdict: Verdict::Over,
                spread: None,
                chance_over: None,
                source: format!(
                    "a branch must not flip over ({})",
                    LimitStatus::OwnChoice.in_words()
                ),
                advice: format!(
                    "Flips over by {} on the way from {} to {words}: shorten the span, or hold it so that it \
                     bends one way only.",
                    job.show(snap.jump),
                    job.pose_words(snap.from)
                ),
                follows_from: None,
            });
        }
    }
    outcome
}
