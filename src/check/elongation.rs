//! Elongation: the least slack of every moving span, and the strain of every span, over all poses.

use crate::harness::BranchId;
use crate::quantity::Kind;
use crate::route::Span;

use super::between::{Run, runs};
use super::job::{Job, Measured, Outcome, below, joints_between, poses_of_joint};
use super::wording::{joint_in_words, trimmed};
use super::{Finding, LimitKey};

const CHECK: &str = "elongation";

/// How much lower the slack may be between two poses before the finding says so \[m\].
const BETWEEN_POSES: f64 = 0.1e-3;

pub(super) fn elongation(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    let runs = runs(job.route, job.solution, job.branches, false);
    for run in runs.iter().filter(|run| run.moving) {
        outcome.findings.push(slack(job, run));
    }
    for (branch, index, span) in job.spans() {
        outcome.findings.push(stretch(job, branch, index, span));
    }
    outcome
}

fn slack(job: &Job<'_>, run: &Run) -> Finding {
    let (least, pose) = run.least_slack(job.route, job.solution);
    let limit = job.limit(LimitKey::SlackLeast);
    let needed = limit.value();
    let words = run.words(job.route);
    let strains = run.spans.iter().flat_map(|&(branch, index)| {
        let shapes = job.solved(branch).shapes.iter();
        shapes.map(move |shape| shape.spans[index].strain)
    });
    let stretched = strains.fold(0.0, f64::max);
    let taut = stretched > job.limit(LimitKey::StretchMost).value();
    let between = between_poses(job, run, pose, least)
        .map(|note| format!(" {note}"))
        .unwrap_or_default();
    let (branch, index) = run.last();
    let span = &job.solved(branch).spans[index];
    let whole = if run.spans.len() == 1 {
        "whole span"
    } else {
        "the whole way"
    };
    let stretched_by = &job.stretch_words(branch, span, pose);
    let at = 0.5 * (span.start + span.end());
    Measured {
        check: CHECK,
        subject: format!("{words} slack"),
        branch,
        place: format!("{words}, {whole}"),
        at,
        pose,
        value: least,
        limit: needed,
        kind: Kind::Length,
        at_most: false,
        from: limit,
    }
    .judged(
        || {
            let state = if least < 0.0 {
                let missing = job.show_up(-least);
                format!("Too short by {missing} with {}", stretched_by)
            } else if taut {
                format!(
                    "Too short: only {} is spare over the straight line with {}, and its bends take more",
                    job.show(least),
                    stretched_by
                )
            } else {
                format!(
                    "Only {} is spare with {}",
                    job.show(least),
                    stretched_by
                )
            };
            format!(
                "{state}: lengthen {words} by at least {} (first estimate), or move its fixings closer.{between}",
                job.show_up(needed - least)
            )
        },
        || {
            format!(
                "{} spare with {}.{between}",
                job.show(least),
                stretched_by
            )
        },
    )
}

fn stretch(job: &Job<'_>, branch: BranchId, index: usize, span: &Span) -> Finding {
    let (mut most, mut pose) = (f64::NEG_INFINITY, 0);
    for (id, shape) in job.solved(branch).shapes.iter().enumerate() {
        if below(-shape.spans[index].strain, -most) {
            (most, pose) = (shape.spans[index].strain, id);
        }
    }
    let limit = job.limit(LimitKey::StretchMost);
    let words = job.span_words(branch, span);
    Measured {
        check: CHECK,
        subject: format!("{words} stretch"),
        branch,
        place: format!("{words}, whole span"),
        at: 0.5 * (span.start + span.end()),
        pose,
        value: most,
        limit: limit.value(),
        kind: Kind::Ratio,
        at_most: true,
        from: limit,
    }
    .judged(
        || {
            format!(
                "Stretched by {} % with {}: lengthen {words} by at least {} (first estimate).",
                trimmed(most * 100.0, 2),
                job.pose_words(pose),
                job.show_up(most * span.length)
            )
        },
        || {
            if most > 1e-5 {
                format!("Stretched by {} %.", trimmed(most * 100.0, 3))
            } else {
                "Not stretched in any pose.".to_owned()
            }
        },
    )
}

/// A note where the slack between the worst pose and a neighbour is lower by more than a tenth of a
/// millimetre. Exact: it needs only where the fixings are.
fn between_poses(job: &Job<'_>, run: &Run, worst: usize, least: f64) -> Option<String> {
    const STEPS: u32 = 16;
    let mut lowest = least;
    let mut found = None;
    for joint in joints_between(job.route, run.ends(job.route)) {
        let chain = poses_of_joint(job.solution, joint);
        let Some(here) = chain.iter().position(|&(id, _)| id == worst) else {
            continue;
        };
        let neighbours = [here.checked_sub(1), Some(here + 1)];
        for next in neighbours
            .into_iter()
            .flatten()
            .filter_map(|n| chain.get(n))
        {
            for step in 1..STEPS {
                let share = f64::from(step) / f64::from(STEPS);
                let mut joints = job.solution.sweep.poses[worst].joints.clone();
                joints[joint.0] += (next.1 - joints[joint.0]) * share;
                let stance = job.route.machine.stance(&joints);
                let slack = run.slack(job.route, &stance);
                if slack < lowest {
                    lowest = slack;
                    found = Some((joint, joints[joint.0]));
                }
            }
        }
    }
    let (joint, value) = found?;
    let body = &job.route.machine.bodies[joint.0];
    (least - lowest > BETWEEN_POSES).then(|| {
        format!(
            "Between two poses, with {} {}, it is {}.",
            body.name,
            joint_in_words(body, value, job.units),
            job.show(lowest)
        )
    })
}
