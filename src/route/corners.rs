//! Which joints are moved to their ends together: two joints that are harmless one at a time can pull a branch taut
//! between them.

use crate::harness::{Branch, BranchId};
use crate::machine::{BodyId, MOST_CORNER_JOINTS};

use super::Route;

/// The joints that can reach one branch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Corners {
    /// The branch.
    pub branch: BranchId,
    /// The joints whose ends are combined.
    pub together: Vec<BodyId>,
    /// Those that are moved one at a time only, since no more can be combined.
    pub alone: Vec<BodyId>,
}

impl Route {
    /// The groups of joints of which every combination of ends is a pose: all that move where they are six or fewer,
    /// else those of each branch.
    pub fn corner_groups(&self) -> Vec<Vec<BodyId>> {
        let moving = self.machine.moving();
        if moving.len() <= MOST_CORNER_JOINTS {
            return vec![moving];
        }
        let mut groups: Vec<_> = self.corners().into_iter().map(|c| c.together).collect();
        groups.sort();
        groups.dedup();
        groups
    }

    /// The joints that can reach each branch: first those that move its own fixings against each other, then those
    /// that move a part against it; six of them are combined.
    pub fn corners(&self) -> Vec<Corners> {
        let branches = self.branches.iter().enumerate();
        branches
            .map(|(index, branch)| {
                let mut joints = self.joints_of(branch);
                let most = if self.machine.moving().len() <= MOST_CORNER_JOINTS {
                    joints.len()
                } else {
                    MOST_CORNER_JOINTS.min(joints.len())
                };
                let alone = joints.split_off(most);
                Corners {
                    branch: BranchId(index),
                    together: joints,
                    alone,
                }
            })
            .collect()
    }

    fn joints_of(&self, branch: &Branch) -> Vec<BodyId> {
        let own = branch.lay.iter().map(|entry| entry.fixing.on);
        let parts = self.machine.parts.iter().map(|part| part.on);
        let Some(first) = branch.lay.first().map(|entry| entry.fixing.on) else {
            return Vec::new();
        };
        let mut joints: Vec<BodyId> = Vec::new();
        for other in own.chain(parts) {
            for joint in self.machine.joints_between(first, other) {
                if !joints.contains(&joint) {
                    joints.push(joint);
                }
            }
        }
        joints
    }
}
