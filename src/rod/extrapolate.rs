//! The next state of a walk, foreseen from the poses before it.

use nalgebra::{Isometry3, UnitQuaternion, Vector3};

use crate::machine::{PoseStep, Sweep};

use super::cluster::Whole;
use super::strand::State;
use super::walk::Reached;

/// Most earlier poses that the next one is extrapolated from, and how many steps away they may be.
const HISTORY: usize = 6;
const AWAY: f64 = 6.5;

/// About so many nodes of a strand are looked at where its way is judged.
const SOME: usize = 5;

/// The next state by the polynomial through the nearest poses that differ in the same joint alone: through as many of them as
/// seem to tell most. Where parts come and go, or the branch is about to jump, few do.
pub(super) fn extrapolate(
    sweep: &Sweep,
    reached: &[Option<Reached>],
    order: &[usize],
    step: &PoseStep,
) -> Option<Whole> {
    let from = step.from?;
    let (here, there) = (&sweep.poses[from].joints, &sweep.poses[step.to].joints);
    let mut moving = here
        .iter()
        .zip(there)
        .enumerate()
        .filter(|(_, (a, b))| (*a - *b).abs() > 0.0);
    let (joint, (_, &aim)) = moving.next()?;
    if moving.next().is_some() {
        return None;
    }
    let size = (aim - here[joint]).abs();
    let mut known: Vec<(f64, &Whole)> = Vec::new();
    for &pose in order {
        let joints = &sweep.poses[pose].joints;
        let same = joints
            .iter()
            .zip(here)
            .enumerate()
            .all(|(k, (a, b))| k == joint || (a - b).abs() <= 0.0);
        let near = (joints[joint] - aim).abs() < AWAY * size;
        if let Some(reached) = reached[pose]
            .as_ref()
            .filter(|r| same && near && r.converged && r.jump.is_none())
        {
            known.push((joints[joint], &reached.whole));
        }
    }
    known.sort_by(|a, b| (a.0 - aim).abs().total_cmp(&(b.0 - aim).abs()));
    known.truncate(HISTORY);
    if known.len() < 2 || !known.iter().any(|k| (k.0 - here[joint]).abs() <= 0.0) {
        return None;
    }
    let mut orders = [[0.0; HISTORY]; HISTORY];
    for (order, weights) in orders.iter_mut().enumerate().take(known.len()) {
        weigh(&known[..=order], aim, weights);
    }
    let mut changes = [0.0; HISTORY];
    for (change, pair) in changes
        .iter_mut()
        .zip(orders.windows(2))
        .take(known.len() - 1)
    {
        *change = apart(&known, &pair[0], &pair[1]);
    }
    let order = best(&changes[..known.len() - 1]);
    Some(blend_all(&known, &orders[order][..=order]))
}

/// The order that tells most: by how much each further pose changes what is foreseen tells how far off it was without. At
/// least a line, of which the first change is made.
fn best(changes: &[f64]) -> usize {
    let most = changes.len();
    let off = |order: usize| changes[order.min(most - 1)];
    let orders = (1..=most).rev();
    orders
        .min_by(|a, b| off(*a).total_cmp(&off(*b)))
        .unwrap_or(most)
}

/// How much each of some poses counts at `aim` in the polynomial through them.
fn weigh(known: &[(f64, &Whole)], aim: f64, weights: &mut [f64; HISTORY]) {
    for (i, (weight, own)) in weights.iter_mut().zip(known).enumerate() {
        let others = known.iter().enumerate().filter(|(k, _)| *k != i);
        *weight = others
            .map(|(_, other)| (aim - other.0) / (own.0 - other.0))
            .product();
    }
}

/// How far a node is at most from where it is with other weights \[m\]. Of each strand some nodes tell for all.
fn apart(known: &[(f64, &Whole)], some: &[f64; HISTORY], more: &[f64; HISTORY]) -> f64 {
    let mut far = 0.0_f64;
    for (strand, state) in known[0].1.strands.iter().enumerate() {
        for node in (0..state.nodes.len()).step_by(1 + state.nodes.len() / SOME) {
            let mut moved = Vector3::zeros();
            for (i, (_, whole)) in known.iter().enumerate() {
                moved += whole.strands[strand].nodes[node].r * (more[i] - some[i]);
            }
            far = far.max(moved.norm_squared());
        }
    }
    far.sqrt()
}

fn blend_all(known: &[(f64, &Whole)], weights: &[f64]) -> Whole {
    let strands = (0..known[0].1.strands.len())
        .map(|i| {
            let of: Vec<&State> = known.iter().map(|(_, whole)| &whole.strands[i]).collect();
            blend(&of, weights)
        })
        .collect();
    let weighted = || known.iter().map(|(_, whole)| *whole).zip(weights);
    let floats = (0..known[0].1.floats.len())
        .map(|i| blend_frames(weighted().map(|(whole, w)| (&whole.floats[i], *w))))
        .collect();
    let slid = (0..known[0].1.slid.len())
        .map(|i| weighted().map(|(whole, w)| whole.slid[i] * w).sum())
        .collect();
    Whole {
        strands,
        floats,
        slid,
    }
}

/// Weighted mean of motions that differ little; the weights add up to one.
fn blend_frames<'f>(frames: impl Iterator<Item = (&'f Isometry3<f64>, f64)>) -> Isometry3<f64> {
    let mut translation = Vector3::zeros();
    let mut rotation = nalgebra::Vector4::zeros();
    let mut first = None;
    for (frame, weight) in frames {
        translation += frame.translation.vector * weight;
        let q = frame.rotation.coords;
        let side = *first.get_or_insert(q);
        // Of the two quaternions of a rotation the one on the side of the first.
        rotation += q * if q.dot(&side) < 0.0 { -weight } else { weight };
    }
    let rotation = UnitQuaternion::new_normalize(nalgebra::Quaternion::from(rotation));
    Isometry3::from_parts(translation.into(), rotation)
}

fn blend(known: &[&State], weights: &[f64]) -> State {
    let mut sum = known[0].clone();
    let first = weights[0];
    let scale = |x: &mut f64| *x *= first;
    sum.nodes.iter_mut().for_each(|n| {
        n.r *= first;
        n.t *= first;
    });
    sum.end.iter_mut().for_each(scale);
    sum.middle.iter_mut().for_each(scale);
    sum.moment *= first;
    sum.angle *= first;
    sum.slid.iter_mut().for_each(scale);
    for (state, &weight) in known.iter().zip(weights).skip(1) {
        for (sum, node) in sum.nodes.iter_mut().zip(&state.nodes) {
            sum.r += node.r * weight;
            sum.t += node.t * weight;
        }
        let pairs = sum
            .end
            .iter_mut()
            .zip(&state.end)
            .chain(sum.middle.iter_mut().zip(&state.middle))
            .chain(sum.slid.iter_mut().zip(&state.slid));
        pairs.for_each(|(sum, x)| *sum += x * weight);
        sum.moment += state.moment * weight;
        sum.angle += state.angle * weight;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is smooth is foreseen through all poses; where a further one changes more than the one before, through fewer.
    #[test]
    fn as_many_poses_as_tell_something() {
        assert_eq!(best(&[1.0]), 1);
        assert_eq!(best(&[1.0, 0.1, 0.01, 0.001]), 4);
        assert_eq!(best(&[1.0, 0.1, 0.3, 0.9]), 1);
        assert_eq!(best(&[1.0, 0.5, 0.02, 0.4]), 2);
    }
}
