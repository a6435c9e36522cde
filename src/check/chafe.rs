//! Chafe: how much a branch rubs against each part in one sweep of a joint from stop to stop and back, the force
//! that presses it there times the way that it slides.
//!
//! A place of the branch is a piece of its material. From one pose to the next it moves, and so does the part;
//! what is left of its way as the part sees it, less what leads off the surface, is slid. The forces of both
//! poses count half each (the trapezoidal rule), and the way back is as the way there. The branch also turns about
//! itself where it lies; that way is not counted.
//!
//! Where the sweep does not slide a branch along what it presses on, vibration still may: its distance to edges is
//! a check of its own.

use crate::harness::BranchId;
use crate::machine::{BodyId, Edge, Joint, PartId};
use crate::quantity::Kind;

use super::job::{Job, Measured, Outcome, poses_of_joint};
use super::touching::{Touch, touches};
use super::{Finding, LimitKey};

const CHECK: &str = "chafe";

/// A branch that is rubbed by less than this in a sweep \[N m\] lies still but for the solver's accuracy.
const STILL: f64 = 1e-6;

/// There and back.
const WAYS: f64 = 2.0;

/// What one branch rubs against one thing over a sweep of one joint.
#[derive(Debug, Clone, Copy)]
struct Rubbed {
    part: PartId,
    joint: BodyId,
    /// Force times way, there and back \[N m\].
    work: f64,
    /// Where most of it is.
    at: f64,
    /// The pose of the greatest single share.
    pose: usize,
    /// Greatest force in one pose \[N\].
    force: f64,
}

/// Nudged routes are solved in a few poses only, over which nothing can be summed.
pub(super) fn chafe(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    if !job.is_whole() {
        return outcome;
    }
    for &branch in job.branches {
        let rubbed = against_parts(job, branch);
        outcome
            .findings
            .extend(rubbed.iter().map(|rubbed| finding(job, branch, rubbed)));
        outcome.findings.extend(through_holes(job, branch));
    }
    outcome
}

/// For each hole or loose tie that the branch slides through: the force that the lip presses with, across the branch,
/// times the length that goes through.
fn through_holes(job: &Job<'_>, branch: BranchId) -> Vec<Finding> {
    let bundle = job.branch(branch);
    let shapes = &job.solved(branch).shapes;
    let spans = &job.solved(branch).spans;
    let mut findings = Vec::new();
    // A span begins at each inner fixing.
    for (lay, span) in spans.iter().enumerate().skip(1) {
        let fixing = &bundle.lay[lay].fixing;
        if !fixing.slides() {
            continue;
        }
        let at = |pose: usize| span.start + shapes[pose].slid_at(lay);
        let force = |pose: usize| {
            let along = shapes[pose].curve.tangent(at(pose));
            let force = shapes[pose].holds[lay].force;
            (force - along * force.dot(&along)).norm()
        };
        let mut worst: Option<(f64, f64, f64, usize, BodyId)> = None;
        for (index, body) in job.route.machine.bodies.iter().enumerate() {
            if matches!(body.joint, Joint::Fixed) {
                continue;
            }
            let chain = poses_of_joint(job.solution, BodyId(index));
            let (mut work, mut way, mut most) = (0.0, 0.0, (0.0, 0));
            for step in chain.windows(2) {
                let (here, there) = (step[0].0, step[1].0);
                let through = (shapes[there].slid_at(lay) - shapes[here].slid_at(lay)).abs();
                let share = WAYS * 0.5 * (force(here) + force(there)) * through;
                work += share;
                way += WAYS * through;
                if share > most.0 {
                    most = (share, here);
                }
            }
            if worst.is_none_or(|known| work > known.0) {
                worst = Some((work, way, most.0, most.1, BodyId(index)));
            }
        }
        let Some((work, way, _, pose, joint)) = worst.filter(|worst| worst.0 > STILL) else {
            continue;
        };
        let limit = job.limit(LimitKey::Rubbing);
        let name = &fixing.name;
        let says = format!(
            "{} goes through {name} while {} goes from stop to stop and back: {} of rubbing",
            job.show(way),
            job.route.machine.bodies[joint.0].name,
            job.units.show_to(work, Kind::Torque, 3)
        );
        let measured = Measured {
            check: CHECK,
            subject: name.clone(),
            branch,
            place: format!("at {name}"),
            at: at(pose),
            pose,
            value: work,
            limit: limit.value(),
            kind: Kind::Torque,
            at_most: true,
            from: limit,
        };
        findings.push(measured.judged(
            || format!("{says}. Clamp the branch there, and give each side its own slack."),
            || format!("{says}: look at the lip for wear, and sleeve the branch."),
        ));
    }
    findings
}

/// For each part that the branch slides on, the joint that makes it slide most.
fn against_parts(job: &Job<'_>, branch: BranchId) -> Vec<Rubbed> {
    let shapes = &job.solved(branch).shapes;
    let pressed = |pose: usize| shapes[pose].stations.iter().any(|s| s.contact > 0.0);
    if !(0..shapes.len()).any(pressed) {
        return Vec::new();
    }
    let mut worst: Vec<Rubbed> = Vec::new();
    for (index, body) in job.route.machine.bodies.iter().enumerate() {
        if matches!(body.joint, Joint::Fixed) {
            continue;
        }
        for rubbed in over_sweep(job, branch, BodyId(index)) {
            match worst.iter_mut().find(|known| known.part == rubbed.part) {
                Some(known) if known.work < rubbed.work => *known = rubbed,
                Some(_) => {}
                None => worst.push(rubbed),
            }
        }
    }
    worst.sort_by_key(|rubbed| rubbed.part);
    worst
}

/// One part while the sweep is summed.
struct Sum {
    part: PartId,
    work: f64,
    force: f64,
    /// Work by place.
    places: Vec<(f64, f64)>,
    /// The greatest share of one step, and its pose.
    most: (f64, usize),
}

fn over_sweep(job: &Job<'_>, branch: BranchId, joint: BodyId) -> Vec<Rubbed> {
    let chain = poses_of_joint(job.solution, joint);
    let pressed: Vec<(usize, Vec<Touch>)> = chain
        .iter()
        .map(|&(pose, _)| (pose, touches(job, branch, pose)))
        .collect();
    let mut sums: Vec<Sum> = Vec::new();
    for step in pressed.windows(2) {
        for (here, there) in [(&step[0], &step[1]), (&step[1], &step[0])] {
            for touch in &here.1 {
                let way = slid(job, branch, touch, here.0, there.0);
                let work = 0.5 * WAYS * touch.force * way;
                let sum = match sums.iter().position(|sum| sum.part == touch.part) {
                    Some(known) => &mut sums[known],
                    None => {
                        sums.push(Sum {
                            part: touch.part,
                            work: 0.0,
                            force: 0.0,
                            places: Vec::new(),
                            most: (0.0, here.0),
                        });
                        let last = sums.len() - 1;
                        &mut sums[last]
                    }
                };
                sum.work += work;
                if work > sum.most.0 {
                    sum.most = (work, here.0);
                }
                match sum
                    .places
                    .iter_mut()
                    .find(|place| (place.0 - touch.at).abs() < 1e-9)
                {
                    Some(place) => place.1 += work,
                    None => sum.places.push((touch.at, work)),
                }
            }
        }
    }
    for (_, touches) in &pressed {
        for sum in &mut sums {
            let own = touches.iter().filter(|touch| touch.part == sum.part);
            sum.force = sum.force.max(own.map(|touch| touch.force).sum());
        }
    }
    sums.into_iter()
        .filter(|sum| sum.work > STILL)
        .map(|sum| Rubbed {
            part: sum.part,
            joint,
            work: sum.work,
            at: sum
                .places
                .iter()
                .fold(
                    (0.0, 0.0),
                    |best, place| if place.1 > best.1 { *place } else { best },
                )
                .0,
            pose: sum.most.1,
            force: sum.force,
        })
        .collect()
}

/// How far the material at a touch slides along its part from one pose to another \[m\].
fn slid(job: &Job<'_>, branch: BranchId, touch: &Touch, here: usize, there: usize) -> f64 {
    let on = job.route.machine.parts[touch.part.0].on;
    let seen = |pose: usize, p: &nalgebra::Point3<f64>| {
        job.solution.stances[pose].bodies[on.0].inverse_transform_point(p)
    };
    let next = job.solved(branch).shapes[there].curve.position(touch.at);
    let way = seen(there, &next) - seen(here, &touch.position);
    let normal = job.solution.stances[here].bodies[on.0].inverse_transform_vector(&touch.normal);
    (way - normal * way.dot(&normal)).norm()
}

fn finding(job: &Job<'_>, branch: BranchId, rubbed: &Rubbed) -> Finding {
    let part = &job.route.machine.parts[rubbed.part.0];
    let limit = job.limit(LimitKey::Rubbing);
    let sharp = part.edge == Some(Edge::Sharp);
    let rubs = format!(
        "Rubs {} while {} goes from stop to stop and back, pressed with up to {}",
        job.units.show_to(rubbed.work, Kind::Torque, 3),
        job.route.machine.bodies[rubbed.joint.0].name,
        job.units.show_to(rubbed.force, Kind::Force, 1)
    );
    let name = &part.name;
    let finding = Measured {
        check: CHECK,
        subject: name.clone(),
        branch,
        place: format!("{}, on {name}", job.place_words(branch, rubbed.at)),
        at: rubbed.at,
        pose: rubbed.pose,
        value: rubbed.work,
        limit: if sharp { 0.0 } else { limit.value() },
        kind: Kind::Torque,
        at_most: true,
        from: limit,
    }
    .judged(
        || {
            if sharp {
                format!("{rubs}, on the sharp edge of {name}: clamp it clear of the edge.")
            } else {
                format!("{rubs}: lead it clear of {name}, or clamp it so that it cannot slide there, and sleeve it.")
            }
        },
        || format!("{rubs}: look there for wear, and sleeve it."),
    );
    if sharp {
        Finding {
            source: format!(
                "nothing may rub against a sharp edge (FAA AC 43.13-1B para 11-115 allows no preload on edges, {})",
                super::LimitStatus::Read.in_words()
            ),
            ..finding
        }
    } else {
        finding
    }
}
