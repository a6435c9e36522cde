//! Steering drag: the torque of the harness about every turning joint, summed over the branches that bridge it;
//! and where a span runs taut before the joint reaches its stop, so that the harness stops the bars.

use crate::harness::{Branch, BranchId};
use crate::machine::{BodyId, Joint};
use crate::quantity::Kind;
use crate::route::Span;

use super::job::{Job, Measured, Outcome, below, is_beyond, joints_across, poses_of_joint};
use super::touching::touches;
use super::wording::{fixing_stations, joint_in_words};
use super::{Finding, LimitKey};

const CHECK: &str = "steering drag";

/// Bisections of the angle at which a span runs taut: from 2° to below a millionth of a degree.
const BISECTIONS: u32 = 22;

pub(super) fn steering_drag(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    for index in 0..job.route.machine.bodies.len() {
        let joint = BodyId(index);
        if matches!(job.route.machine.bodies[index].joint, Joint::Turns { .. }) {
            outcome.findings.extend(drag(job, joint));
        }
    }
    for (branch, _, span) in job.spans() {
        for joint in joints_across(job.route, job.branch(branch), span) {
            outcome.findings.extend(binds(job, branch, span, joint));
        }
    }
    outcome
}

/// Whether a branch has fixings on both sides of a joint.
pub(super) fn bridges(job: &Job<'_>, branch: &Branch, joint: BodyId) -> bool {
    let mut beyond = branch
        .lay
        .iter()
        .map(|entry| is_beyond(&job.route.machine, joint, entry.fixing.on));
    let first = beyond.next();
    beyond.any(|side| Some(side) != first)
}

/// The torque of a branch about a turning joint's axis \[N m\], or its force along a sliding joint \[N\], in one
/// pose; positive drives the joint's value up. It is what the branch's fixings and the parts that it presses on
/// feel on the bodies beyond the joint.
pub(super) fn load(job: &Job<'_>, branch: BranchId, joint: BodyId, pose: usize) -> f64 {
    let machine = &job.route.machine;
    let stance = &job.solution.stances[pose];
    let bundle = job.branch(branch);
    let shape = &job.solved(branch).shapes[pose];
    let motion = stance.bodies[joint.0];
    let about = |position: nalgebra::Point3<f64>, force: nalgebra::Vector3<f64>| match machine
        .bodies[joint.0]
        .joint
    {
        Joint::Fixed => 0.0,
        Joint::Slides { along, .. } => force.dot(&(motion * along.into_inner())),
        Joint::Turns { through, axis, .. } => (position - motion * through)
            .cross(&force)
            .dot(&(motion * axis.into_inner())),
    };
    let mut sum = 0.0;
    let stations = fixing_stations(&job.solved(branch).spans);
    for ((entry, hold), &station) in bundle.lay.iter().zip(&shape.holds).zip(&stations) {
        if !is_beyond(machine, joint, entry.fixing.on) {
            continue;
        }
        // What the fixing does to the branch, the branch does to the fixing the other way round.
        sum -= about(shape.curve.position(station), hold.force);
        if let Joint::Turns { axis, .. } = machine.bodies[joint.0].joint {
            sum -= hold.moment.dot(&(motion * axis.into_inner()));
        }
    }
    sum + pressed(job, branch, pose, joint, about)
}

/// The share of [`load`] from parts that the branch lies against.
fn pressed(
    job: &Job<'_>,
    branch: BranchId,
    pose: usize,
    joint: BodyId,
    about: impl Fn(nalgebra::Point3<f64>, nalgebra::Vector3<f64>) -> f64,
) -> f64 {
    let machine = &job.route.machine;
    touches(job, branch, pose)
        .iter()
        .filter(|touch| is_beyond(machine, joint, machine.parts[touch.part.0].on))
        .map(|touch| about(touch.on_part, -touch.normal * touch.force))
        .sum()
}

fn drag(job: &Job<'_>, joint: BodyId) -> Option<Finding> {
    let route = job.route;
    let bridging: Vec<BranchId> = (0..route.branches.len())
        .map(BranchId)
        .filter(|branch| bridges(job, job.branch(*branch), joint))
        .collect();
    if !bridging.iter().any(|branch| job.branches.contains(branch)) {
        return None;
    }
    let (mut most, mut worst) = (0.0_f64, None);
    for pose in 0..job.solution.sweep.poses.len() {
        let each: Vec<f64> = bridging
            .iter()
            .map(|&branch| load(job, branch, joint, pose))
            .collect();
        let sum: f64 = each.iter().sum();
        if worst.is_none() || below(-sum.abs(), -most.abs()) {
            most = sum;
            worst = Some((pose, each));
        }
    }
    let (pose, each) = worst?;
    let heaviest = (0..each.len()).fold(0, |best, i| {
        if below(-each[i].abs(), -each[best].abs()) {
            i
        } else {
            best
        }
    });
    let branch = bridging[heaviest];
    let body = &route.machine.bodies[joint.0];
    let limit = job.limit(LimitKey::SteeringDrag);
    let (low, high) = stiffness_range(job, &bridging);
    let torque = |value| job.units.show_to(value, Kind::Torque, 2);
    let range = if high > low {
        format!(
            " ({} to {} over the range of the bundle's stiffness)",
            torque(most.abs() * low),
            torque(most.abs() * high)
        )
    } else {
        String::new()
    };
    let pull = format!(
        "The harness {} {} with {}{range}",
        if pushes_home(job, joint, pose, most) {
            "pulls back on"
        } else {
            "drives on"
        },
        body.name,
        torque(most.abs())
    );
    Some(
        Measured {
            check: CHECK,
            subject: format!("about {}", body.name),
            branch,
            place: format!("about the axis of {}", body.name),
            at: bridge_middle(job, branch, joint),
            pose,
            value: most.abs(),
            limit: limit.value(),
            kind: Kind::Torque,
            at_most: true,
            from: limit,
        }
        .judged(
            || {
                format!(
                    "{pull}: lead {} along the axis for a longer stretch, or lengthen its moving span.",
                    job.branch(branch).name
                )
            },
            || format!("{pull}."),
        ),
    )
}

/// Whether a torque brings the joint back toward rest.
fn pushes_home(job: &Job<'_>, joint: BodyId, pose: usize, torque: f64) -> bool {
    let poses = &job.solution.sweep.poses;
    let away = poses[pose].joints[joint.0] - poses[job.rest()].joints[joint.0];
    away * torque <= 0.0
}

/// The widest range of stiffness among some branches, as factors.
fn stiffness_range(job: &Job<'_>, branches: &[BranchId]) -> (f64, f64) {
    branches.iter().fold((1.0, 1.0), |(low, high), &branch| {
        let range = job.branch(branch).stiffness.range;
        (f64::min(low, range.0), f64::max(high, range.1))
    })
}

/// The middle of the first span of a branch that bridges a joint.
fn bridge_middle(job: &Job<'_>, branch: BranchId, joint: BodyId) -> f64 {
    let bundle = job.branch(branch);
    job.solved(branch)
        .spans
        .iter()
        .find(|span| joints_across(job.route, bundle, span).contains(&joint))
        .map_or(0.0, |span| 0.5 * (span.start + span.end()))
}

/// Where a span runs taut on the way from rest to each stop of a joint, with the other joints at rest.
fn binds(job: &Job<'_>, branch: BranchId, span: &Span, joint: BodyId) -> Vec<Finding> {
    let chain = poses_of_joint(job.solution, joint);
    let rest = job.solution.sweep.poses[job.rest()].joints[joint.0];
    let upward: Vec<(usize, f64)> = chain.iter().copied().filter(|&(_, v)| v >= rest).collect();
    let mut downward: Vec<(usize, f64)> =
        chain.iter().copied().filter(|&(_, v)| v <= rest).collect();
    downward.reverse();
    [upward, downward]
        .iter()
        .filter_map(|way| bind_on_the_way(job, branch, span, joint, way))
        .collect()
}

fn bind_on_the_way(
    job: &Job<'_>,
    branch: BranchId,
    span: &Span,
    joint: BodyId,
    way: &[(usize, f64)],
) -> Option<Finding> {
    let (rest, stop) = (way.first()?.1, way.last()?.1);
    let reached = way
        .iter()
        .position(|&(_, value)| slack_at(job, branch, span, joint, value) < 0.0)?;
    let (pose, mut taut) = way[reached];
    if let Some(before) = reached.checked_sub(1) {
        let mut slack = way[before].1;
        for _ in 0..BISECTIONS {
            let middle = 0.5 * (slack + taut);
            if slack_at(job, branch, span, joint, middle) < 0.0 {
                taut = middle;
            } else {
                slack = middle;
            }
        }
    }
    let body = &job.route.machine.bodies[joint.0];
    let kind = match body.joint {
        Joint::Slides { .. } => Kind::Length,
        _ => Kind::Angle,
    };
    let words = job.span_words(branch, span);
    let limit = job.limit(LimitKey::SteeringDrag);
    let missing = -slack_at(job, branch, span, joint, stop);
    let way_words = joint_in_words(body, stop, job.units);
    let taut_words = joint_in_words(body, taut, job.units);
    let finding = Measured {
        check: CHECK,
        subject: format!(
            "{words} binds {} {}",
            body.name,
            if stop >= rest { "up" } else { "down" }
        ),
        branch,
        place: format!("{words}, whole span"),
        at: 0.5 * (span.start + span.end()),
        pose,
        value: (taut - rest).abs(),
        limit: (stop - rest).abs(),
        kind,
        at_most: false,
        from: limit,
    }
    .judged(
        || {
            format!(
                "Runs taut with {} {taut_words}, before the stop at {way_words}, and binds: lengthen {words} by \
                 at least {}, and the slack it must keep on top.",
                body.name,
                job.show_up(missing.max(0.0))
            )
        },
        || format!("Runs taut only at the stop, {} {taut_words}.", body.name),
    );
    Some(Finding {
        source: format!(
            "the joint must reach its stop without tension (FAA AC 43.13-1B para 11-118, {})",
            super::LimitStatus::Read.in_words()
        ),
        ..finding
    })
}

/// Slack of a span \[m\] with one joint at `value` and the others at rest.
fn slack_at(job: &Job<'_>, branch: BranchId, span: &Span, joint: BodyId, value: f64) -> f64 {
    let mut joints = job.solution.sweep.poses[job.rest()].joints.clone();
    joints[joint.0] = value;
    let stance = job.route.machine.stance(&joints);
    let bundle = job.branch(branch);
    let a = job.route.fixing_position(bundle, span.from, &stance);
    let b = job.route.fixing_position(bundle, span.from + 1, &stance);
    span.length - (b - a).norm()
}
