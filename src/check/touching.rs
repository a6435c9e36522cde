//! Where a branch presses on parts, and which part it is.

use nalgebra::{Point3, Vector3};

use crate::harness::BranchId;
use crate::machine::PartId;

use super::job::Job;

/// A place where a branch presses on a part in one pose.
#[derive(Debug, Clone, Copy)]
pub(super) struct Touch {
    pub(super) part: PartId,
    /// Distance along the branch from its first fixing \[m\].
    pub(super) at: f64,
    /// Where the centreline is \[m\].
    pub(super) position: Point3<f64>,
    /// Where it touches the part \[m\].
    pub(super) on_part: Point3<f64>,
    /// From the part to the branch.
    pub(super) normal: Vector3<f64>,
    /// Force with which this stretch of the branch is pressed off the part \[N\].
    pub(super) force: f64,
}

/// Every station of a branch that presses on a part in one pose, with the force of the stretch that it stands for.
/// Where several parts are near, the nearest is the one that is pressed on.
pub(super) fn touches(job: &Job<'_>, branch: BranchId, pose: usize) -> Vec<Touch> {
    let stance = &job.solution.stances[pose];
    let stations = &job.solved(branch).shapes[pose].stations;
    let diameter = job.branch(branch).diameter;
    let mut near = Vec::new();
    let mut touches = Vec::new();
    for (index, station) in stations.iter().enumerate() {
        if station.contact <= 0.0 {
            continue;
        }
        job.surroundings
            .near(stance, &station.position, diameter, &mut near);
        let nearest = near
            .iter()
            .map(|&part| {
                let contact = job.surroundings.slope(stance, part, &station.position);
                (part, contact)
            })
            .min_by(|a, b| a.1.distance.total_cmp(&b.1.distance).then(a.0.cmp(&b.0)));
        let Some((part, contact)) = nearest else {
            continue;
        };
        let before = index.checked_sub(1).map(|i| stations[i].at);
        let after = stations.get(index + 1).map(|s| s.at);
        let share = 0.5 * (after.unwrap_or(station.at) - before.unwrap_or(station.at));
        let normal = contact.normal.into_inner();
        touches.push(Touch {
            part,
            at: station.at,
            position: station.position,
            on_part: station.position - normal * contact.distance,
            normal,
            force: station.contact * share,
        });
    }
    touches
}
