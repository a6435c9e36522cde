//! The walk of a cluster through the poses: outward from rest, each pose from its neighbour.

use rayon::prelude::*;

use crate::machine::{PoseStep, Sweep};

use super::cluster::{Cluster, Whole};
use super::element::Node;
use super::extrapolate::extrapolate;
use super::held::Target;
use super::newton::{Outcome, Scratch};
use super::patience::Patience;
use super::strand::Strand;

/// How often a step may be halved before it counts as a jump or as not converging.
const HALVINGS: u32 = 4;

/// A jump is a displacement of more than this many times the motion of the fixings that caused it …
const JUMP_RATIO: f64 = 8.0;

/// … and of more than this fraction of the strand's length.
const JUMP_LEAST: f64 = 0.02;

/// What is found from a pose that was not found counts only where the forces that are left, relative to EI/L², are less
/// than this: no neighbour speaks for it.
const ROUGH: f64 = 1e-4;

/// After so many poses in a row that were not found, the next are looked for in the quick way alone.
const LOST: u32 = 2;

/// Beyond this many times it is looked at again in smaller steps.
const SUSPECT_RATIO: f64 = 2.5;

/// One pose of a cluster.
#[derive(Debug, Clone)]
pub(super) struct Reached {
    pub(super) whole: Whole,
    pub(super) converged: bool,
    pub(super) residual: f64,
    pub(super) steps: usize,
    /// Where a strand jumped on the way here.
    pub(super) jump: Option<Jump>,
    /// How many poses in a row were not found, this one the last.
    pub(super) lost: u32,
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
            lost: 0,
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
    let given = scratch.patience.shared(legs.len());
    let walked: Vec<(Vec<(usize, Reached)>, Patience)> = legs
        .par_iter()
        .map(|leg| {
            let (mut reached, mut order) = (reached.clone(), order.clone());
            let mut scratch = Scratch {
                patience: given,
                ..Scratch::default()
            };
            go(
                cluster,
                strands,
                sweep,
                leg,
                (&mut reached, &mut order),
                &mut scratch,
            );
            let own = order.into_iter().skip(1);
            let own = own.filter_map(|pose| Some((pose, reached[pose].take()?)));
            (own.collect(), scratch.patience)
        })
        .collect();
    for (leg, left) in walked {
        scratch.patience.less(given, left);
        for (pose, state) in leg {
            reached[pose] = Some(state);
            order.push(pose);
        }
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
        if cluster.halted() {
            break;
        }
        let Some(from) = step.from else { continue };
        let Some(start) = &reached[from] else {
            continue;
        };
        let lost = if scratch.patience.is_lost() {
            start.lost.max(LOST)
        } else {
            start.lost
        };
        let guess = extrapolate(sweep, reached, order, step);
        let (a, b) = (&sweep.poses[from].joints, &sweep.poses[step.to].joints);
        let next = advance(cluster, strands, (start, lost), guess, (a, b), scratch);
        reached[step.to] = Some(next);
        order.push(step.to);
    }
}

/// Goes from one pose to the next, in halves where the whole step does not work or jumps; so many poses in a row before it
/// were not found.
fn advance(
    cluster: &Cluster<'_>,
    strands: &[Strand],
    (start, lost_before): (&Reached, u32),
    mut guess: Option<Whole>,
    (from, to): (&[f64], &[f64]),
    scratch: &mut Scratch,
) -> Reached {
    let mut spent = 0;
    // From what was not found smaller steps lead nowhere either.
    let lost = lost_before > 0;
    for halving in if lost { HALVINGS } else { 0 }..=HALVINGS {
        let pieces = if lost { 1 } else { 1_u32 << halving };
        let last = halving == HALVINGS;
        // Where it has come to on the way, and its jump.
        let (mut here, mut jump): (Option<Reached>, Option<Jump>) = (None, None);
        let mut whole = true;
        for part in 1..=pieces {
            let part = f64::from(part) / f64::from(pieces);
            let joints: Vec<f64> = from
                .iter()
                .zip(to)
                .map(|(a, b)| a + part * (b - a))
                .collect();
            let seed = guess.take_if(|_| pieces == 1);
            let there = &here.as_ref().unwrap_or(start).whole;
            let tries = (last, last && lost_before < LOST);
            let next = attempt(cluster, strands, there, seed, &joints, tries, scratch);
            spent += next.steps;
            let good = next.converged && next.jump.is_none();
            // A jump that takes several pieces counts from where it began.
            jump = jump.or(next.jump).map(|jump| {
                let whole = farthest(strands, &start.whole, &next.whole);
                if whole.far > jump.far { whole } else { jump }
            });
            here = Some(next);
            if !good && !last {
                whole = false;
                break;
            }
        }
        if let Some(here) = here.filter(|_| whole) {
            let converged = here.converged && (!lost || here.residual < ROUGH);
            return Reached {
                steps: spent,
                converged,
                jump,
                lost: if converged { 0 } else { lost_before + 1 },
                ..here
            };
        }
    }
    start.clone()
}

/// One solve at one pose; with `last` the result stands, with `all` everything is tried.
fn attempt(
    cluster: &Cluster<'_>,
    strands: &[Strand],
    here: &Whole,
    seed: Option<Whole>,
    joints: &[f64],
    (last, all): (bool, bool),
    scratch: &mut Scratch,
) -> Reached {
    let mut whole = seed.unwrap_or_else(|| here.clone());
    cluster.count_from_here(&mut whole);
    cluster.pin(joints, &mut whole);
    let targets = cluster.targets(&cluster.stance(joints, &whole));
    let caused: Vec<f64> = (0..strands.len())
        .map(|i| motion(cluster, strands, i, here, &targets[i]))
        .collect();
    // What moves a strand may come through a breakout.
    let most = caused.iter().copied().fold(0.0, f64::max);
    let mut outcome = cluster.equilibrium(strands, &mut whole, joints, scratch);
    if all && !(outcome.converged && outcome.stable) {
        if !outcome.converged {
            whole.clone_from(here);
            cluster.pin(joints, &mut whole);
        }
        let steps = outcome.steps;
        outcome = cluster.downhill(strands, &mut whole, joints, scratch);
        outcome.steps += steps;
    }
    if !whole.is_finite() {
        // What is not a number tells nothing: the neighbour's shape stands for it, and that it was not found.
        whole.clone_from(here);
        cluster.pin(joints, &mut whole);
        outcome = Outcome {
            steps: outcome.steps,
            ..Outcome::FAILED
        };
    }
    let ratio = if last { JUMP_RATIO } else { SUSPECT_RATIO };
    let jump = (0..strands.len())
        .filter_map(|i| {
            let jump = farthest_of(strands, i, here, &whole);
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
