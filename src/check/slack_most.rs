//! Slack most: whether a span has so much slack that it can be pulled, or sag, against what harms it.
//!
//! Supports are far enough apart or slack enough where a span can be pulled aside by more than half an inch; even
//! that is allowed where the span cannot touch a surface that harms it (FAA AC 43.13-1B para 11-118). Slack is what a
//! span is longer than the straight way; what its bends need of it is allowed on top. How far the rest lets it be
//! pulled `within_reach.rs` tells; what it can touch there are hot parts and edges. What moves is the check of snags.
//!
//! A limit of the route file's own is a slack, and holds for every span.

use crate::geometry::Reach;
use crate::harness::BranchId;
use crate::machine::{Edge, PartId};
use crate::quantity::Kind;
use crate::route::Span;

use super::job::{Job, Measured, Outcome, below, holds};
use super::within_reach::{Loose, loose, slack_to_touch};
use super::{Finding, LimitKey, LimitStatus};

const CHECK: &str = "slack most";

pub(super) fn slack_most(job: &Job<'_>) -> Outcome {
    let findings = job
        .spans()
        .filter_map(|(branch, index, span)| judged(job, branch, index, span));
    Outcome {
        findings: findings.collect(),
        blanks: Vec::new(),
    }
}

fn judged(job: &Job<'_>, branch: BranchId, index: usize, span: &Span) -> Option<Finding> {
    let (mut most, mut pose) = (f64::NEG_INFINITY, 0);
    for (id, shape) in job.solved(branch).shapes.iter().enumerate() {
        if below(-shape.spans[index].slack, -most) {
            (most, pose) = (shape.spans[index].slack, id);
        }
    }
    let limit = job.limit(LimitKey::SlackMost);
    let loose = loose(job, branch, span, pose);
    let straight = loose.room.straight();
    let (mut allowed, mut touched) = (limit.value(), None);
    if limit.status != LimitStatus::Overridden {
        allowed = loose.bends + limit.slack(straight);
        // Of a nudged route only the value is looked at.
        if job.is_whole() && !holds(most, allowed, true) {
            // Looser than between supports: a fault only where there is something to touch.
            let (slack, part) = least_to_touch(job, branch, span, pose, &loose, (allowed, most))?;
            (allowed, touched) = (slack, Some(part));
        }
    }
    let words = job.span_words(branch, span);
    let aside = job.show(loose.aside);
    Some(
        Measured {
            check: CHECK,
            subject: words.clone(),
            branch,
            place: format!("{words}, whole span"),
            at: 0.5 * (span.start + span.end()),
            pose,
            value: most,
            limit: allowed,
            kind: Kind::Length,
            at_most: true,
            from: limit,
        }
        .judged(
            || {
                let against = touched.map_or_else(String::new, |part| {
                    format!(", against {}", job.route.machine.parts[part.0].name)
                });
                let without = if span.moving {
                    "shorten it as far as its sweep allows, or guide it"
                } else {
                    "shorten it, or add a fixing between"
                };
                format!(
                    "Its slack of {} lets it be pulled {aside} aside{against}: {without}. {} less is enough.",
                    job.show(most),
                    job.show_up(most - allowed)
                )
            },
            || {
                if loose.aside < 0.5e-3 {
                    "Its bends need all of its slack.".to_owned()
                } else {
                    format!("Can be pulled {aside} aside.")
                }
            },
        ),
    )
}

/// The least slack with which the span touches what harms it, and that part; `None` where it cannot.
fn least_to_touch(
    job: &Job<'_>,
    branch: BranchId,
    span: &Span,
    pose: usize,
    loose: &Loose,
    bounds: (f64, f64),
) -> Option<(f64, PartId)> {
    let stance = &job.solution.stances[pose];
    let radius = 0.5 * job.branch(branch).diameter;
    harmful(job)
        .filter(|&part| loose.touches(job, branch, span, pose, part))
        .map(|part| {
            let thread = slack_to_touch(job, stance, &loose.room, part, radius, bounds);
            let aside = loose.must_be_drawn(job, branch, span, pose, part);
            let drawn = loose.bends + Reach::slack_for(loose.room.straight(), aside);
            (thread.max(drawn).min(bounds.1), part)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

/// The parts that harm what touches them: hot ones, and edges that are not lined.
fn harmful<'j>(job: &'j Job<'_>) -> impl Iterator<Item = PartId> + 'j {
    let parts = job.route.machine.parts.iter().enumerate();
    parts
        .filter(|(_, part)| {
            part.surface.is_some() || matches!(part.edge, Some(Edge::Sharp | Edge::Rolled))
        })
        .map(|(index, _)| PartId(index))
}
