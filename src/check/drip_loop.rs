//! Drip loop: in the last span before a connector that the branch enters from above, the branch must come lower than the
//! entry, so that water falls off before it reaches the contacts.
//!
//! Down is −z: the machine stands upright. A branch that rises into its connector needs no loop.

use crate::harness::{BranchId, FixingKind};
use crate::quantity::Kind;
use crate::rod::Shape;

use super::job::{Job, Measured, Outcome, below};
use super::wording::fixing_stations;
use super::{Finding, LimitKey};

const CHECK: &str = "drip loop";

/// A connector counts as entered from above where the branch goes into it steeper than this downward, with every joint
/// at rest (sine of 30°: what is nearer to level drips at its lowest place anyway).
const DOWNWARD: f64 = 0.5;

pub(super) fn drip_loop(job: &Job<'_>) -> Outcome {
    let mut findings = Vec::new();
    for &branch in job.branches {
        let last = job.branch(branch).lay.len().saturating_sub(1);
        findings.extend(at_end(job, branch, 0));
        if last > 0 {
            findings.extend(at_end(job, branch, last));
        }
    }
    Outcome {
        findings,
        blanks: Vec::new(),
    }
}

/// The loop before the connector at one end of a branch, where there is one and it is entered from above.
fn at_end(job: &Job<'_>, branch: BranchId, lay: usize) -> Option<Finding> {
    let bundle = job.branch(branch);
    let fixing = &bundle.lay[lay].fixing;
    if !matches!(fixing.kind, FixingKind::Connector { .. }) {
        return None;
    }
    let stations = fixing_stations(&job.solved(branch).spans);
    let entry = stations[lay];
    // `facing` leads from the branch's start to its end: into the connector at the end, out of it at the start.
    let (into, until) = if lay == 0 {
        (-1.0, stations[1.min(stations.len() - 1)])
    } else {
        (1.0, stations[lay.saturating_sub(1)])
    };
    let (from, to) = (entry.min(until), entry.max(until));
    let facing = job
        .route
        .fixing_facing(bundle, lay, &job.solution.stances[job.rest()])?;
    if into * facing.z > -DOWNWARD {
        return None;
    }
    let (mut least, mut worst) = (f64::INFINITY, None);
    for (pose, shape) in job.solved(branch).shapes.iter().enumerate() {
        let (low, at) = lowest(shape, from, to)?;
        let depth = shape.curve.position(entry).z - low;
        if below(depth, least) {
            (least, worst) = (depth, Some((at, pose)));
        }
    }
    let (at, pose) = worst?;
    let limit = job.limit(LimitKey::DripLoop);
    let name = &fixing.name;
    Some(
        Measured {
            check: CHECK,
            subject: name.clone(),
            branch,
            place: format!("before {name}"),
            at,
            pose,
            value: least,
            limit: limit.value(),
            kind: Kind::Length,
            at_most: false,
            from: limit,
        }
        .judged(
            || {
                let hangs = if least > 0.0 {
                    format!("hangs only {} lower than its entry", job.show(least))
                } else {
                    "never hangs lower than its entry".to_owned()
                };
                format!(
                    "Water runs down the branch into {name}, which is entered from above: the branch {hangs}. Let it \
                     hang at least {} lower before it rises to {name}, or turn the connector.",
                    job.show(limit.value())
                )
            },
            || format!("Hangs {} lower than the entry of {name}.", job.show(least)),
        ),
    )
}

/// The lowest place of the centreline between two places along the branch, and where.
fn lowest(shape: &Shape, from: f64, to: f64) -> Option<(f64, f64)> {
    let between = shape
        .stations
        .iter()
        .filter(|s| (from..=to).contains(&s.at));
    between
        .map(|s| (s.position.z, s.at))
        .min_by(|a, b| a.0.total_cmp(&b.0))
}
