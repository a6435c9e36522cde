//! Snag: whether a branch lies, or could be drawn by its slack, where a moving part sweeps.
//!
//! Looked at is every span together with every part that moves against both of its fixings: the span does not
//! follow such a part out of its way. Two things are told apart:
//!
//! - how the branch lies: its least gap to the part over all poses, and between them near the worst one. That is
//!   the gap to the volume that the part sweeps. It has a limit.
//! - where its slack could be: how far it can be drawn from there (`within_reach.rs`). Where that is more than is
//!   usual between supports, and meets the part in some pose, the part may catch a loop of it. Nobody can say that it
//!   will, so the verdict is close.
//!
//! A span whose two fixings move against each other lies between parts that move with the one or the other. What
//! those do to it, its own shape in every pose tells: they are for pinch and chafe.

use crate::harness::BranchId;
use crate::machine::{BodyId, Joint, PartId};
use crate::quantity::Kind;
use crate::route::Span;

use super::job::{Job, Measured, Outcome, below, is_beyond, poses_of_joint, stations_of};
use super::least_along::least_along;
use super::within_reach::{loose, reach};
use super::{Finding, LimitKey, Verdict};

const CHECK: &str = "snag";

/// A moving part further away than so many limits is not worth a line.
const WORTH_A_LINE: f64 = 3.0;
/// Places in half the way to the next pose at which the part is looked at: every 1/8 of 1°.
const BETWEEN: u32 = 8;

pub(super) fn snag(job: &Job<'_>) -> Outcome {
    let mut findings = Vec::new();
    let parts = &job.route.machine.parts;
    for &branch in job.branches {
        let spans = &job.solved(branch).spans;
        for (index, part) in parts.iter().enumerate() {
            let passed: Vec<&Span> = spans
                .iter()
                .filter(|span| sweeps_past(job, branch, span, part.on))
                .collect();
            if !passed.is_empty() {
                findings.extend(by_part(job, branch, PartId(index), &passed));
            }
        }
    }
    Outcome {
        findings,
        blanks: Vec::new(),
    }
}

/// Whether a body moves against both ends of a span.
fn sweeps_past(job: &Job<'_>, branch: BranchId, span: &Span, body: BodyId) -> bool {
    let lay = &job.branch(branch).lay;
    [span.from, span.from + 1].iter().all(|&end| {
        let carriers = job.route.carriers(lay[end].fixing.on);
        carriers
            .iter()
            .all(|&on| job.route.machine.moves_against(body, on))
    })
}

/// How near the branch lies to what a part sweeps.
#[derive(Debug, Clone, Copy)]
struct Nearest {
    gap: f64,
    at: f64,
    pose: usize,
}

fn by_part(job: &Job<'_>, branch: BranchId, part: PartId, spans: &[&Span]) -> Vec<Finding> {
    let least = job.limit(LimitKey::SnagDistance).value();
    let near = job.nearest[branch.0].get(part.0).map(|near| near.gap);
    let lies = near
        .filter(|&gap| gap <= WORTH_A_LINE * least)
        .map(|_| as_it_lies(job, branch, part, spans))
        .filter(|lies| lies.gap <= WORTH_A_LINE * least);
    // What lies in the way is not told of twice. Where slack could be is a verdict and no value, so that there is nothing
    // to tell of a nudged route.
    let drawn = if job.is_whole() && lies.is_none_or(|lies| lies.gap >= least) {
        drawn_by_slack(job, branch, part, spans)
    } else {
        None
    };
    let lies = lies.map(|lies| lying(job, branch, part, lies));
    lies.into_iter().chain(drawn).collect()
}

fn measured<'j>(job: &Job<'j>, branch: BranchId, nearest: Nearest) -> Measured<'j> {
    let from = job.limit(LimitKey::SnagDistance);
    Measured {
        check: CHECK,
        subject: String::new(),
        branch,
        place: job.place_words(branch, nearest.at),
        at: nearest.at,
        pose: nearest.pose,
        value: nearest.gap,
        limit: from.value(),
        kind: Kind::Length,
        at_most: false,
        from,
    }
}

fn lying(job: &Job<'_>, branch: BranchId, part: PartId, nearest: Nearest) -> Finding {
    let name = &job.route.machine.parts[part.0].name;
    let measured = measured(job, branch, nearest);
    let missing = measured.limit - nearest.gap;
    Measured {
        subject: name.clone(),
        place: format!("{}, where {name} sweeps", measured.place),
        ..measured
    }
    .judged(
        || {
            let state = if nearest.gap <= 0.0 {
                format!("Lies in the way of {name}")
            } else {
                format!(
                    "Lies only {} outside what {name} sweeps",
                    job.show(nearest.gap)
                )
            };
            format!(
                "{state}: tie it at least {} further away, on the side where {name} does not come.",
                job.show_up(missing)
            )
        },
        || format!("{} outside what {name} sweeps.", job.show(nearest.gap)),
    )
}

fn as_it_lies(job: &Job<'_>, branch: BranchId, part: PartId, spans: &[&Span]) -> Nearest {
    let girths = job.route.girths(branch);
    let mut least = Nearest {
        gap: f64::INFINITY,
        at: 0.0,
        pose: 0,
    };
    let solved = job.solved(branch);
    for pose in job.poses_for(CHECK, branch) {
        let (shape, stance) = (&solved.shapes[pose], &job.solution.stances[pose]);
        for span in spans {
            let stations = stations_of(shape, span);
            let (at, gap) = least_along(&shape.curve, stations, &girths, least.gap, |p| {
                job.surroundings.distance(stance, part, p)
            });
            if below(gap, least.gap) {
                least = Nearest { gap, at, pose };
            }
        }
    }
    // The few poses of a nudged route have no neighbours whose shape is near.
    if job.is_whole() {
        least.gap = between_poses(job, branch, part, spans, least);
    }
    least
}

/// The least gap to the part while its joint goes from the worst pose to the neighbours of that, with the branch as
/// it lies in the worst pose: no more than in that pose itself.
fn between_poses(
    job: &Job<'_>,
    branch: BranchId,
    part: PartId,
    spans: &[&Span],
    worst: Nearest,
) -> f64 {
    let machine = &job.route.machine;
    let (worst, mut least) = (worst.pose, worst.gap);
    let shape = &job.solved(branch).shapes[worst];
    let girths = job.route.girths(branch);
    for joint in (0..machine.bodies.len()).map(BodyId) {
        let moves = !matches!(machine.bodies[joint.0].joint, Joint::Fixed);
        if !moves || !is_beyond(machine, joint, machine.parts[part.0].on) {
            continue;
        }
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
            for step in 1..=BETWEEN {
                let mut joints = job.solution.sweep.poses[worst].joints.clone();
                // Half way is nearer to the other pose's own shape.
                let share = 0.5 * f64::from(step) / f64::from(BETWEEN);
                joints[joint.0] += (next.1 - joints[joint.0]) * share;
                let stance = machine.stance(&joints);
                for span in spans {
                    let stations = stations_of(shape, span);
                    let (_, gap) = least_along(&shape.curve, stations, &girths, least, |p| {
                        job.surroundings.distance(&stance, part, p)
                    });
                    least = least.min(gap);
                }
            }
        }
    }
    least
}

/// What stands in the subject of a finding about slack, after the part's name.
const SLACK_OF: &str = ", slack of ";

/// Whether a finding is about where slack could be, not about how the branch lies.
pub(super) fn is_about_slack(finding: &Finding) -> bool {
    finding.check == CHECK && finding.subject.contains(SLACK_OF)
}

/// The first span whose slack can be caught by the part, in the pose in which it lies nearest to it of those in which it can.
fn drawn_by_slack(
    job: &Job<'_>,
    branch: BranchId,
    part: PartId,
    spans: &[&Span],
) -> Option<Finding> {
    let held = job.limit(LimitKey::SlackMost);
    let girths = job.route.girths(branch);
    for &span in spans {
        let mut near: Vec<(Nearest, f64)> = Vec::new();
        for (pose, stance) in job.solution.stances.iter().enumerate() {
            let room = reach(job, branch, span, pose);
            let slack = room.length - room.straight();
            let far = job.surroundings.distance(stance, part, &room.middle())
                > room.farthest() + 0.5 * job.branch(branch).diameter;
            if far || slack <= held.slack(room.straight()) {
                continue;
            }
            let shape = &job.solved(branch).shapes[pose];
            let stations = stations_of(shape, span);
            let (at, gap) = least_along(&shape.curve, stations, &girths, f64::INFINITY, |p| {
                job.surroundings.distance(stance, part, p)
            });
            near.push((
                Nearest { gap, at, pose },
                slack - held.slack(room.straight()),
            ));
        }
        near.sort_by(|(a, _), (b, _)| a.gap.total_cmp(&b.gap));
        for (nearest, spare) in near {
            let loose = loose(job, branch, span, nearest.pose);
            if loose.bends < spare && loose.touches(job, branch, span, nearest.pose, part) {
                return Some(caught(job, branch, part, span, nearest, loose.aside));
            }
        }
    }
    None
}

fn caught(
    job: &Job<'_>,
    branch: BranchId,
    part: PartId,
    span: &Span,
    nearest: Nearest,
    aside: f64,
) -> Finding {
    let name = &job.route.machine.parts[part.0].name;
    let words = job.span_words(branch, span);
    let gap = nearest.gap;
    let measured = measured(job, branch, nearest);
    let mut finding = Measured {
        subject: format!("{name}{SLACK_OF}{words}"),
        place: format!("{}, where {name} sweeps", measured.place),
        ..measured
    }
    .judged(String::new, String::new);
    finding.verdict = Verdict::Close;
    finding.advice = format!(
        "Lies {} clear, but the slack of {words} can be drawn {} aside, and {name} may catch it: shorten it, or tie it \
         between.",
        job.show(gap),
        job.show(aside)
    );
    finding
}
