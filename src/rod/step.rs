//! One step of Newton's method: the fixings held in the matrix, the border of the twist put round it, and what comes of it
//! taken.

use nalgebra::Vector3;

use super::chain::{Chain, Factor, Six, dot};
use super::held::Target;
use super::modes::Modes;
use super::newton::Scratch;
use super::strand::{State, Strand};
use super::tension;

/// The border that the twisting moment puts round the matrix.
#[derive(Debug, Clone, Default)]
pub(super) struct Border {
    /// ∇Φ with its fixings held.
    pub(super) gradient: Vec<Six>,
    /// K⁻¹ ∇Φ.
    pub(super) solved: Vec<Six>,
}

/// Solves for one step into `scratch.step`; gives whether the matrix is positive definite, and the step of the
/// twisting moment.
pub(super) fn solve(
    strand: &Strand,
    target: &Target,
    gap: f64,
    scratch: &mut Scratch,
) -> (bool, f64) {
    right_side(strand, target, scratch);
    let gap = gap + ahead(strand, scratch);
    let held = held(strand, target, scratch, true);
    let (border, to_go) = (&scratch.border, &scratch.to_go);
    let moment = with_border(&held, border, gap, to_go, &mut scratch.step);
    (held.stable, moment)
}

/// The matrix with its fixings held, factorised in `scratch.factor`.
#[derive(Debug, Clone, Copy)]
pub(super) struct HeldMatrix {
    /// Whether it is positive definite.
    pub(super) stable: bool,
    /// C + ∇Φᵀ K⁻¹ ∇Φ, where the strand carries a twisting moment.
    schur: Option<f64>,
}

/// The right-hand side of a step into `scratch.step`, from the forces and what is to go; before the fixings are held.
pub(super) fn right_side(strand: &Strand, target: &Target, scratch: &mut Scratch) {
    let (chain, step) = (&scratch.chain, &mut scratch.step);
    let left = (&*scratch.force, &*scratch.missing, &*scratch.to_go);
    side(strand, target, chain, left, step);
}

/// The same with any matrix, from forces, what is missing to them, and what is to go.
pub(super) fn side(
    strand: &Strand,
    target: &Target,
    chain: &Chain,
    (force, missing, to_go): (&[Six], &[Six], &[Six]),
    step: &mut Vec<Six>,
) {
    step.clear();
    step.extend(
        force
            .iter()
            .zip(missing)
            .map(|(f, m)| std::array::from_fn(|i| -(f[i] + m[i]))),
    );
    chain.subtract_product(&strand.fixings, to_go, step);
    strand.free(target, step);
}

/// By how much the twist grows while the fixings go where they are to go \[rad\].
pub(super) fn ahead(strand: &Strand, scratch: &Scratch) -> f64 {
    if strand.compliance.is_none() {
        return 0.0;
    }
    let along = |&j: &usize| dot(&scratch.gradient[j], &scratch.to_go[j]);
    strand.fixings.iter().map(along).sum()
}

/// Holds the fixings in the matrix, factorises, and puts the border of the twist round it.
pub(super) fn hold(strand: &Strand, target: &Target, scratch: &mut Scratch) -> HeldMatrix {
    held(strand, target, scratch, false)
}

/// The same; with the step, what is in `scratch.step` is solved for in the same pass.
fn held(strand: &Strand, target: &Target, scratch: &mut Scratch, with_step: bool) -> HeldMatrix {
    strand.hold(target, &mut scratch.chain);
    let factor = &mut scratch.factor;
    scratch.chain.factorise(strand.neutral(), factor);
    let mut negative = factor.negative;
    let schur = strand.compliance.map(|compliance| {
        let Border { gradient, solved } = &mut scratch.border;
        gradient.clone_from(&scratch.gradient);
        strand.free(target, gradient);
        solved.clone_from(gradient);
        if with_step {
            factor.solve([solved, &mut scratch.step]);
        } else {
            factor.solve([solved]);
        }
        compliance + along(gradient, solved)
    });
    if with_step && schur.is_none() {
        factor.solve([&mut scratch.step]);
    }
    if let Some(schur) = schur {
        // Haynsworth: negative eigenvalues of K + ∇Φ ∇Φᵀ/C = those of K, plus one if −(C + ∇ΦᵀK⁻¹∇Φ) is
        // negative, less one for −C.
        negative = (negative + usize::from(schur > 0.0)).saturating_sub(1);
    }
    HeldMatrix {
        stable: negative == 0,
        schur,
    }
}

/// From the right-hand side in `scratch.step` to the step there; gives the step of the twisting moment, where `gap` is
/// what the twist lacks \[rad\].
pub(super) fn finish(held: &HeldMatrix, gap: f64, scratch: &mut Scratch) -> f64 {
    let (factor, border) = (&scratch.factor, &scratch.border);
    let (to_go, step) = (&scratch.to_go, &mut scratch.step);
    finish_with(held, factor, border, gap, to_go, step)
}

/// The same with any matrix.
pub(super) fn finish_with(
    held: &HeldMatrix,
    factor: &Factor,
    border: &Border,
    gap: f64,
    to_go: &[Six],
    step: &mut [Six],
) -> f64 {
    factor.solve([&mut *step]);
    with_border(held, border, gap, to_go, step)
}

/// What the border of the twist adds to a step that was solved for without it.
fn with_border(
    held: &HeldMatrix,
    border: &Border,
    gap: f64,
    to_go: &[Six],
    step: &mut [Six],
) -> f64 {
    let mut moment = 0.0;
    if let Some(schur) = held.schur {
        moment = (along(&border.gradient, step) + gap) / schur;
        for (step, border) in step.iter_mut().zip(&border.solved) {
            for (step, border) in step.iter_mut().zip(border) {
                *step -= moment * border;
            }
        }
    }
    for (step, to_go) in step.iter_mut().zip(to_go) {
        for (step, to_go) in step.iter_mut().zip(to_go) {
            *step += to_go;
        }
    }
    moment
}

fn along(gradient: &[Six], y: &[Six]) -> f64 {
    gradient.iter().zip(y).map(|(g, y)| dot(g, y)).sum()
}

/// Takes a full step; the multipliers follow from the linearised strain.
pub(super) fn apply(strand: &Strand, state: &mut State, step: &[Six], moment: f64) {
    take(strand, None, state, step, moment);
}

/// The same where the matrix was that of the state `at`: the strain is linearised there.
pub(super) fn apply_from(
    strand: &Strand,
    at: &State,
    state: &mut State,
    step: &[Six],
    moment: f64,
) {
    take(strand, Some(at), state, step, moment);
}

/// A full step from the state `from` at both ends of the strand alone: into `state`, which may be elsewhere in between.
pub(super) fn apply_at_ends(
    strand: &Strand,
    from: &State,
    state: &mut State,
    step: &[Six],
    moment: f64,
) {
    let last = strand.elements() - 1;
    // Of a strand of few elements some stand at both ends.
    let ends = [0..1, last.max(1)..last + 1];
    for j in ends.clone().into_iter().flatten() {
        state.middle[j] = from.middle[j];
    }
    let nodes = [0..2, last.max(2)..last + 2];
    for j in nodes.clone().into_iter().flatten() {
        (state.nodes[j], state.end[j]) = (from.nodes[j], from.end[j]);
    }
    state.moment = from.moment;
    for j in ends.into_iter().flatten() {
        take_middle(strand, None, state, step, j);
    }
    for j in nodes.into_iter().flatten() {
        take_node(strand, None, state, &step[j], j);
    }
    state.moment += moment;
}

fn take(strand: &Strand, at: Option<&State>, state: &mut State, step: &[Six], moment: f64) {
    for j in 0..strand.elements() {
        take_middle(strand, at, state, step, j);
    }
    for (j, step) in step.iter().enumerate().take(state.nodes.len()) {
        take_node(strand, at, state, step, j);
    }
    state.moment += moment;
}

/// The multiplier in the middle of element `j`, before its nodes have moved.
#[inline(always)]
fn take_middle(strand: &Strand, at: Option<&State>, state: &mut State, step: &[Six], j: usize) {
    let slope = strand.element(state, j).middle_slope();
    let (there, lambda) = at.map_or((slope, state.middle[j]), |at| {
        (strand.element(at, j).middle_slope(), at.middle[j])
    });
    let ((a, b), (c, d)) = (two(&step[j]), two(&step[j + 1]));
    let moved = Modes::of(&[a, b, c, d], strand.h(j)).middle();
    let strain = tension::strain(&slope);
    state.middle[j] = follow(strand, state.middle[j], lambda, strain, there.dot(&moved));
}

/// Node `j` and its multiplier.
#[inline(always)]
fn take_node(strand: &Strand, at: Option<&State>, state: &mut State, step: &Six, j: usize) {
    let (node, end) = (&mut state.nodes[j], &mut state.end[j]);
    let (there, lambda) = at.map_or((node.t, *end), |at| (at.nodes[j].t, at.end[j]));
    let (r, t) = two(step);
    let strain = tension::strain(&node.t);
    *end = follow(strand, *end, lambda, strain, there.dot(&t));
    node.r += r;
    node.t += t;
}

/// A multiplier after a step, by the strain linearised where the multiplier was `there`.
#[inline(always)]
fn follow(strand: &Strand, lambda: f64, there: f64, strain: f64, ahead: f64) -> f64 {
    let ea = strand.material.stretch;
    let gap = strain - tension::strain_of(lambda, ea);
    lambda + tension::modulus(there, ea) * (gap + ahead)
}

/// Of a node's six numbers those of its position, and those of its slope.
#[inline(always)]
fn two(six: &Six) -> (Vector3<f64>, Vector3<f64>) {
    (
        Vector3::new(six[0], six[1], six[2]),
        Vector3::new(six[3], six[4], six[5]),
    )
}
