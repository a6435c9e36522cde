//! A strand whose fixings all ride on one body: where that body goes it goes along, and lies in one pose as it lies in every
//! other, but for gravity and for parts of other bodies.

use nalgebra::{Isometry3, UnitVector3};

use crate::machine::{BodyId, Sweep};

use super::cluster::{Cluster, Whole};
use super::element::Node;
use super::solution::Solution;
use super::strand::State;
use super::walk::Reached;

/// A body that has moved by less has not \[m\], \[rad\].
const SAME: f64 = 1e-12;

impl Cluster<'_> {
    /// The body that carries all fixings of a strand that stands alone.
    fn carrier(&self) -> Option<BodyId> {
        if !self.stands_alone() {
            return None;
        }
        let mut fixings = self
            .pieces
            .iter()
            .flat_map(|piece| &piece.branch.lay[piece.first..piece.first + piece.fixings])
            .map(|entry| entry.fixing.on);
        let first = fixings.next()?;
        fixings.all(|on| on == first).then_some(first)
    }

    /// Takes the states of a solution close by along with the body that carries them all, where it is elsewhere now.
    pub(super) fn take_along(&self, seeds: &mut [Whole], near: &Solution, sweep: &Sweep) {
        let Some(BodyId(body)) = self.carrier() else {
            return;
        };
        let poses = near.stances.iter().zip(&sweep.poses);
        for (seed, (stance, pose)) in seeds.iter_mut().zip(poses) {
            let now = self.route.machine.stance(&pose.joints).bodies[body];
            let motion = now * stance.bodies[body].inverse();
            if moves(&motion) {
                seed.strands.iter_mut().for_each(|s| carry(s, &motion));
            }
        }
    }

    /// Gives the states in other poses the displacement that was found at rest, turned with the body that carries them: to
    /// those in which that body is elsewhere.
    pub(super) fn displace_like_rest(&self, seeds: &mut [Whole], rest: &Reached, sweep: &Sweep) {
        let Some(BodyId(body)) = self.carrier().filter(|_| rest.converged) else {
            return;
        };
        let frame = |pose: usize| {
            let joints = &sweep.poses[pose].joints;
            self.route.machine.stance(joints).bodies[body]
        };
        let back = frame(sweep.rest).inverse();
        let before = seeds[sweep.rest].clone();
        for (pose, seed) in seeds.iter_mut().enumerate() {
            let motion = frame(pose) * back;
            if !moves(&motion) {
                continue;
            }
            let strands = seed.strands.iter_mut();
            for (state, (old, new)) in strands.zip(before.strands.iter().zip(&rest.whole.strands)) {
                displace(state, &motion, old, new);
            }
        }
    }
}

impl Whole {
    /// Displaced as `new` is from `old`.
    pub(super) fn displaced_like(&self, old: &Self, new: &Self) -> Self {
        let mut own = self.clone();
        let pairs = old.strands.iter().zip(&new.strands);
        for (state, (old, new)) in own.strands.iter_mut().zip(pairs) {
            displace(state, &Isometry3::identity(), old, new);
        }
        own
    }
}

fn moves(motion: &Isometry3<f64>) -> bool {
    motion.translation.vector.norm() > SAME || motion.rotation.angle() > SAME
}

fn carry(state: &mut State, motion: &Isometry3<f64>) {
    for Node { r, t } in &mut state.nodes {
        *r = motion.rotation * *r + motion.translation.vector;
        *t = motion.rotation * *t;
    }
    let pole = motion.rotation * state.pole.into_inner();
    state.pole = UnitVector3::new_normalize(pole);
}

/// Adds what leads from `old` to `new`, turned.
fn displace(state: &mut State, motion: &Isometry3<f64>, old: &State, new: &State) {
    let pairs = old.nodes.iter().zip(&new.nodes);
    for (node, (old, new)) in state.nodes.iter_mut().zip(pairs) {
        node.r += motion.rotation * (new.r - old.r);
        node.t += motion.rotation * (new.t - old.t);
    }
    let ends = state.end.iter_mut().zip(old.end.iter().zip(&new.end));
    let middles = state.middle.iter_mut();
    let middles = middles.zip(old.middle.iter().zip(&new.middle));
    for (own, (old, new)) in ends.chain(middles) {
        *own += new - old;
    }
}
