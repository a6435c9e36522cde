//! The walk of a cluster through the poses: outward from rest, each pose from its neighbour.

use nalgebra::{Isometry3, UnitQuaternion, Vector3};
use rayon::prelude::*;

use crate::machine::{PoseStep, Sweep};

use super::cluster::{Cluster, Whole};
use super::element::Node;
use super::newton::{Outcome, Scratch};
use super::strand::{State, Strand, Target};
use super::twist;

/// How often a step may be halved before it counts as a jump or as not converging.
const HALVINGS: u32 = 4;

/// A jump is a displacement of more than this many times the motion of the fixings that caused it …
const JUMP_RATIO: f64 = 8.0;

/// … and of more than this fraction of the strand's length.
const JUMP_LEAST: f64 = 0.02;

/// Beyond this many times it is looked at again in smaller steps.
const SUSPECT_RATIO: f64 = 2.5;

/// Most earlier poses that the next one is extrapolated from (a cubic through four).
const HISTORY: usize = 4;

/// One pose of a cluster.
#[derive(Debug, Clone)]
pub(super) struct Reached {
    pub(super) whole: Whole,
    pub(super) converged: bool,
    pub(super) residual: f64,
    pub(super) steps: usize,
    /// Where a strand jumped on the way here.
    pub(super) jump: Option<Jump>,
}

/// The greatest displacement of a cluster that jumped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Jump {
    /// How far \[m\].
    pub(super) far: f64,
    /// The strand.
    pub(super) strand: usize,
    /// Place along its branch \[m\].
    pub(super) at: f64,
}

impl Reached {
    /// A state with how it was found, no jump known.
    pub(super) fn from(whole: Whole, outcome: Outcome) -> Self {
        Self {
            whole,
            converged: outcome.converged && outcome.stable,
            residual: outcome.residual,
            steps: outcome.steps,
            jump: None,
        }
    }

    /// The same, counting `steps` taken before.
    pub(super) fn after(self, steps: usize) -> Self {
        Self {
            steps: self.steps + steps,
            ..self
        }
    }
}

/// Walks a cluster through the sweep from its state at rest; gives one entry a pose.
///
/// The ways that lead out from rest do not look at each other, so that they may be walked at the same time and come out
/// the same however many do.
pub(super) fn walk(
    cluster: &Cluster<'_>,
    strands: &[Strand],
    sweep: &Sweep,
    rest: Reached,
    scratch: &mut Scratch,
) -> Vec<Reached> {
    let mut reached: Vec<Option<Reached>> = vec![None; sweep.poses.len()];
    reached[sweep.rest] = Some(rest.clone());
    let mut order = vec![sweep.rest];
    let (legs, after) = if strands.len() > 1 {
        legs(sweep)
    } else {
        (Vec::new(), sweep.walk.iter().collect())
    };
    let walked: Vec<Vec<(usize, Reached)>> = legs
        .par_iter()
        .map(|leg| {
            let (mut reached, mut order) = (reached.clone(), order.clone());
            let mut scratch = Scratch::default();
            go(
                cluster,
                strands,
                sweep,
                leg,
                (&mut reached, &mut order),
                &mut scratch,
            );
            let own = order.into_iter().skip(1);
            own.filter_map(|pose| Some((pose, reached[pose].take()?)))
                .collect()
        })
        .collect();
    for (pose, state) in walked.into_iter().flatten() {
        reached[pose] = Some(state);
        order.push(pose);
    }
    go(
        cluster,
        strands,
        sweep,
        &after,
        (&mut reached, &mut order),
        scratch,
    );
    reached
        .into_iter()
        .map(|r| {
            r.unwrap_or_else(|| Reached {
                converged: false,
                ..rest.clone()
            })
        })
        .collect()
}

/// The ways out from rest, each a row of steps of which every one begins where the one before ended, and the steps that
/// are left.
fn legs(sweep: &Sweep) -> (Vec<Vec<&PoseStep>>, Vec<&PoseStep>) {
    let (mut legs, mut after): (Vec<Vec<&PoseStep>>, Vec<&PoseStep>) = (Vec::new(), Vec::new());
    for step in &sweep.walk {
        match (step.from, legs.last_mut()) {
            (None, _) => {}
            _ if !after.is_empty() => after.push(step),
            (Some(from), _) if from == sweep.rest => legs.push(vec![step]),
            (Some(from), Some(leg)) if leg.last().is_some_and(|last| last.to == from) => {
                leg.push(step);
            }
            _ => after.push(step),
        }
    }
    (legs, after)
}

/// Takes steps in order.
fn go(
    cluster: &Cluster<'_>,
    strands: &[Strand],
    sweep: &Sweep,
    steps: &[&PoseStep],
    (reached, order): (&mut Vec<Option<Reached>>, &mut Vec<usize>),
    scratch: &mut Scratch,
) {
    for step in steps {
        let Some(from) = step.from else { continue };
        let Some(start) = reached[from].clone() else {
            continue;
        };
        let guess = extrapolate(sweep, reached, order, step);
        let (a, b) = (&sweep.poses[from].joints, &sweep.poses[step.to].joints);
        let next = advance(cluster, strands, &start, guess, (a, b), scratch);
        reached[step.to] = Some(next);
        order.push(step.to);
    }
}

/// Goes from one pose to the next, in halves where the whole step does not work or jumps.
fn advance(
    cluster: &Cluster<'_>,
    strands: &[Strand],
    start: &Reached,
    guess: Option<Whole>,
    (from, to): (&[f64], &[f64]),
    scratch: &mut Scratch,
) -> Reached {
    let mut spent = 0;
    for halving in 0..=HALVINGS {
        let pieces = 1_u32 << halving;
        let last = halving == HALVINGS;
        let mut here = Reached {
            steps: 0,
            jump: None,
            ..start.clone()
        };
        let mut whole = true;
        for part in 1..=pieces {
            let part = f64::from(part) / f64::from(pieces);
            let joints: Vec<f64> = from
                .iter()
                .zip(to)
                .map(|(a, b)| a + part * (b - a))
                .collect();
            let seed = guess.clone().filter(|_| pieces == 1);
            let next = attempt(cluster, strands, &here, seed, &joints, last, scratch);
            spent += next.steps;
            let good = next.converged && next.jump.is_none();
            // A jump that takes several pieces counts from where it began.
            let jump = match here.jump.or(next.jump) {
                Some(jump) => {
                    let whole = farthest(strands, &start.whole, &next.whole);
                    Some(if whole.far > jump.far { whole } else { jump })
                }
                None => None,
            };
            here = Reached { jump, ..next };
            if !good && !last {
                whole = false;
                break;
            }
        }
        if whole {
            return Reached {
                steps: spent,
                ..here
            };
        }
    }
    start.clone()
}

/// One solve at one pose; with `last`, everything is tried and the result stands.
fn attempt(
    cluster: &Cluster<'_>,
    strands: &[Strand],
    here: &Reached,
    seed: Option<Whole>,
    joints: &[f64],
    last: bool,
    scratch: &mut Scratch,
) -> Reached {
    let mut whole = seed.unwrap_or_else(|| here.whole.clone());
    for state in &mut whole.strands {
        state.pole = twist::pole(state.nodes.iter().map(|n| n.t), Some(state.pole));
    }
    cluster.pin(joints, &mut whole);
    let targets = cluster.targets(&cluster.stance(joints, &whole));
    let caused: Vec<f64> = (0..strands.len())
        .map(|i| motion(cluster, strands, i, &here.whole, &targets[i]))
        .collect();
    // What moves a strand may come through a breakout.
    let most = caused.iter().copied().fold(0.0, f64::max);
    let mut outcome = cluster.equilibrium(strands, &mut whole, joints, scratch);
    if last && !(outcome.converged && outcome.stable) {
        if !outcome.converged {
            whole = here.whole.clone();
            cluster.pin(joints, &mut whole);
        }
        let steps = outcome.steps;
        outcome = cluster.downhill(strands, &mut whole, joints, false, scratch);
        outcome.steps += steps;
    }
    if !whole.is_finite() {
        // What is not a number tells nothing: the neighbour's shape stands for it, and that it was not found.
        whole = here.whole.clone();
        cluster.pin(joints, &mut whole);
        outcome = Outcome {
            steps: outcome.steps,
            ..Outcome::FAILED
        };
    }
    let ratio = if last { JUMP_RATIO } else { SUSPECT_RATIO };
    let jump = (0..strands.len())
        .filter_map(|i| {
            let jump = farthest_of(strands, i, &here.whole, &whole);
            let least = JUMP_LEAST * strands[i].length();
            (jump.far > ratio * most && jump.far > least).then_some(jump)
        })
        .max_by(|a, b| a.far.total_cmp(&b.far));
    Reached {
        jump,
        ..Reached::from(whole, outcome)
    }
}

/// How far the fixings of a strand move that something holds: their displacement, and their turning times the strand's
/// length.
fn motion(
    cluster: &Cluster<'_>,
    strands: &[Strand],
    i: usize,
    before: &Whole,
    target: &Target,
) -> f64 {
    let (strand, before) = (&strands[i], &before.strands[i].nodes);
    let length = strand.length();
    let mut most = 0.0_f64;
    for (lay, (&node, hold)) in strand.fixings.iter().zip(&target.holds).enumerate() {
        if cluster.floats_at(i, lay) {
            continue;
        }
        most = most.max((hold.position - before[node].r).norm());
        if let Some(facing) = hold.facing {
            let t = before[node].t;
            most = most.max(facing.cross(&t).norm() / t.norm() * length);
        }
    }
    most
}

/// Greatest displacement of any strand between two states.
fn farthest(strands: &[Strand], a: &Whole, b: &Whole) -> Jump {
    (0..strands.len())
        .map(|i| farthest_of(strands, i, a, b))
        .fold(
            Jump {
                far: 0.0,
                strand: 0,
                at: 0.0,
            },
            |best, jump| if jump.far > best.far { jump } else { best },
        )
}

fn farthest_of(strands: &[Strand], i: usize, a: &Whole, b: &Whole) -> Jump {
    let (far, at) = displaced(&strands[i], &a.strands[i].nodes, &b.strands[i].nodes);
    Jump { far, strand: i, at }
}

/// Greatest displacement between two states of a strand and its place along the branch \[m\].
pub(super) fn displaced(strand: &Strand, a: &[Node], b: &[Node]) -> (f64, f64) {
    let moved = a.iter().zip(b).map(|(a, b)| (b.r - a.r).norm());
    moved.zip(&strand.at).fold(
        (0.0, 0.0),
        |best, (far, &at)| {
            if far > best.0 { (far, at) } else { best }
        },
    )
}

/// The next state by the polynomial through the nearest poses that differ in the same joint alone.
fn extrapolate(
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
        let near = (joints[joint] - aim).abs() < (f64::from(4_u8) + 0.5) * size;
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
    let weights: Vec<f64> = (0..known.len())
        .map(|i| {
            let others = known.iter().enumerate().filter(|(k, _)| *k != i);
            others
                .map(|(_, other)| (aim - other.0) / (known[i].0 - other.0))
                .product()
        })
        .collect();
    Some(blend_all(&known, &weights))
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
