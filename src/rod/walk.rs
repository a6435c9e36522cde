//! The walk of one strand through the poses: outward from rest, each pose from its neighbour.

use crate::machine::{PoseStep, Stance, Sweep};

use super::contact::REACH;
use super::element::Node;
use super::newton::{Outcome, Scratch};
use super::piece::Piece;
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

/// One pose of a strand.
#[derive(Debug, Clone)]
pub(super) struct Reached {
    pub(super) state: State,
    pub(super) converged: bool,
    pub(super) residual: f64,
    pub(super) steps: usize,
    /// Greatest displacement and its place along the branch, where the strand jumped on the way here \[m\].
    pub(super) jump: Option<(f64, f64)>,
}

impl Reached {
    /// A state with how it was found, no jump known.
    pub(super) fn from(state: State, outcome: Outcome) -> Self {
        Self {
            state,
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

/// Walks a strand through the sweep from its state at rest; gives one entry a pose.
pub(super) fn walk(
    piece: &Piece<'_>,
    strand: &Strand,
    sweep: &Sweep,
    rest: Reached,
    scratch: &mut Scratch,
) -> Vec<Reached> {
    let mut reached: Vec<Option<Reached>> = vec![None; sweep.poses.len()];
    reached[sweep.rest] = Some(rest.clone());
    let mut order = vec![sweep.rest];
    for step in &sweep.walk {
        let Some(from) = step.from else { continue };
        let Some(start) = reached[from].clone() else {
            continue;
        };
        let guess = extrapolate(sweep, &reached, &order, step);
        let (a, b) = (&sweep.poses[from].joints, &sweep.poses[step.to].joints);
        let next = advance(piece, strand, &start, guess, (a, b), scratch);
        reached[step.to] = Some(next);
        order.push(step.to);
    }
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

/// Goes from one pose to the next, in halves where the whole step does not work or jumps.
fn advance(
    piece: &Piece<'_>,
    strand: &Strand,
    start: &Reached,
    guess: Option<State>,
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
            let (target, stance) = piece.at(&joints);
            let seed = guess.clone().filter(|_| pieces == 1);
            let next = attempt(
                piece,
                strand,
                &here,
                seed,
                (&target, &stance),
                last,
                scratch,
            );
            spent += next.steps;
            let good = next.converged && next.jump.is_none();
            // A jump that takes several pieces counts from where it began.
            let jump = match here.jump.or(next.jump) {
                Some(jump) => {
                    let whole = farthest(strand, &start.state.nodes, &next.state.nodes);
                    Some(if whole.0 > jump.0 { whole } else { jump })
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
    piece: &Piece<'_>,
    strand: &Strand,
    here: &Reached,
    seed: Option<State>,
    there: (&Target, &Stance),
    last: bool,
    scratch: &mut Scratch,
) -> Reached {
    let mut state = seed.unwrap_or_else(|| here.state.clone());
    state.pole = twist::pole(state.nodes.iter().map(|n| n.t), Some(state.pole));
    let motion = motion(strand, &here.state.nodes, there.0);
    let mut outcome = piece.equilibrium(strand, &mut state, there, &piece.stop, scratch);
    if last && !(outcome.converged && outcome.stable) {
        if !outcome.converged {
            state = here.state.clone();
        }
        let steps = outcome.steps;
        outcome = piece.downhill(strand, &mut state, there, REACH, scratch);
        outcome.steps += steps;
    }
    let (far, at) = farthest(strand, &here.state.nodes, &state.nodes);
    let length = strand.at[strand.at.len() - 1] - strand.at[0];
    let ratio = if last { JUMP_RATIO } else { SUSPECT_RATIO };
    let jumped = far > ratio * motion && far > JUMP_LEAST * length;
    Reached {
        jump: jumped.then_some((far, at)),
        ..Reached::from(state, outcome)
    }
}

/// How far the fixings move: their displacement, and their turning times the strand's length.
fn motion(strand: &Strand, before: &[Node], target: &Target) -> f64 {
    let length = strand.at[strand.at.len() - 1] - strand.at[0];
    let mut most = 0.0_f64;
    for (&node, hold) in strand.fixings.iter().zip(&target.holds) {
        most = most.max((hold.position - before[node].r).norm());
        if let Some(facing) = hold.facing {
            let t = before[node].t;
            most = most.max(facing.cross(&t).norm() / t.norm() * length);
        }
    }
    most
}

/// Greatest displacement between two states and its place along the branch \[m\].
pub(super) fn farthest(strand: &Strand, a: &[Node], b: &[Node]) -> (f64, f64) {
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
) -> Option<State> {
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
    let mut known: Vec<(f64, &State)> = Vec::new();
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
            known.push((joints[joint], &reached.state));
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
    Some(blend(&known, &weights))
}

fn blend(known: &[(f64, &State)], weights: &[f64]) -> State {
    let mut sum = known[0].1.clone();
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
    for ((_, state), &weight) in known.iter().zip(weights).skip(1) {
        for (sum, node) in sum.nodes.iter_mut().zip(&state.nodes) {
            sum.r += node.r * weight;
            sum.t += node.t * weight;
        }
        let pairs = sum
            .end
            .iter_mut()
            .zip(&state.end)
            .chain(sum.middle.iter_mut().zip(&state.middle));
        pairs.for_each(|(sum, x)| *sum += x * weight);
        sum.moment += state.moment * weight;
        sum.angle += state.angle * weight;
    }
    sum
}
