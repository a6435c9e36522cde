//! The few poses that decide what is told, and a solution with those alone.

use crate::machine::{BodyId, PoseStep, Sweep};
use crate::rod::{BranchSolution, Solution};
use crate::route::Route;

use super::Finding;
use super::job::poses_of_joint;
use super::spread::has_spread;

/// The poses that decide a finding, rest, and both ends of every joint.
pub(super) fn deciding(route: &Route, solution: &Solution, findings: &[Finding]) -> Vec<usize> {
    let sweep = &solution.sweep;
    let nudged = findings.iter().filter(|finding| has_spread(finding));
    let mut keep: Vec<usize> = nudged.map(|finding| finding.pose).collect();
    keep.push(sweep.rest);
    for body in (0..route.machine.bodies.len()).map(BodyId) {
        let chain = poses_of_joint(solution, body);
        keep.extend(chain.first().map(|end| end.0));
        keep.extend(chain.last().map(|end| end.0));
    }
    keep.sort_unstable();
    keep.dedup();
    keep
}

/// The solution with only these poses, rest among them.
pub(super) fn narrowed(solution: &Solution, keep: &[usize]) -> Solution {
    let sweep = &solution.sweep;
    let rest = keep.partition_point(|&pose| pose < sweep.rest);
    let first = PoseStep {
        from: None,
        to: rest,
        straight_on: false,
    };
    let others = (0..keep.len()).filter(|&to| to != rest).map(|to| PoseStep {
        from: Some(rest),
        to,
        straight_on: false,
    });
    Solution {
        sweep: Sweep {
            poses: keep.iter().map(|&pose| sweep.poses[pose].clone()).collect(),
            rest,
            walk: std::iter::once(first).chain(others).collect(),
        },
        stances: keep
            .iter()
            .map(|&pose| solution.stances[pose].clone())
            .collect(),
        branches: solution
            .branches
            .iter()
            .map(|branch| BranchSolution {
                spans: branch.spans.clone(),
                shapes: keep
                    .iter()
                    .map(|&pose| branch.shapes[pose].clone())
                    .collect(),
                snaps: Vec::new(),
                resolution: branch.resolution,
                contact: branch.contact.clone(),
            })
            .collect(),
    }
}
