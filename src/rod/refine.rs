//! Finer elements where the curvature is not yet resolved, and the estimate of what error is left.
//!
//! The curvature of a cubic piece itself is second order in its length, the one read from the moments fourth order.
//! Their difference e, relative to the tightest curvature, therefore tells the error of the latter: about
//! 0.2 e² on clamped elasticas (measured against elliptic integrals; the tests hold it to that).

use std::sync::Arc;

use super::element::Node;
use super::measure::Measured;
use super::strand::{State, Strand};

/// Most rounds of refinement.
pub(super) const ROUNDS: usize = 8;

/// Error of the curvature over e².
const ERROR: f64 = 0.3;

/// Below this curvature \[1/m\] (a radius of five metres) nothing needs to be resolved.
const STRAIGHT: f64 = 0.2;

/// A pose that is much less bent than the worst one is resolved relative to this fraction of the worst.
const OF_WORST: f64 = 0.2;

/// No element becomes shorter than this fraction of the branch's diameter: below it, a centreline means nothing.
const SHORTEST: f64 = 0.1;

/// Once one element is too long, all that are longer than this fraction of what is allowed are cut with it: errors of
/// equal elements cancel along a span, those of unequal ones do not.
const ALONG: f64 = 0.4;

/// By how much the length of elements may grow over a length along the branch.
const GROWTH: f64 = 0.05;

/// Which elements are cut in two.
#[derive(Debug)]
pub(super) struct Finer {
    cut: Vec<bool>,
}

/// Chooses the elements to cut; `None` where all are fine enough. What is bent more tightly than to `radius` counts less
/// ([`beyond_meaning`]). Where one element must be short its neighbours may only grow by [`GROWTH`] with distance: a coarse
/// element elsewhere would spoil what the short one resolves.
pub(super) fn finer(
    strand: &Strand,
    converged: &[bool],
    measured: &[Arc<Measured>],
    accuracy: f64,
    diameter: f64,
    radius: f64,
) -> Option<Finer> {
    let allowed = (accuracy / ERROR).sqrt();
    let misses = relative_misses(strand, converged, measured, |curvature| {
        beyond_meaning(curvature, radius)
    });
    let shortest = SHORTEST * diameter;
    let mut size: Vec<f64> = misses
        .iter()
        .enumerate()
        .map(|(j, miss)| (strand.h(j) * (allowed / miss.max(1e-12)).sqrt()).max(shortest))
        .collect();
    for j in 1..size.len() {
        size[j] = size[j].min(size[j - 1] + GROWTH * 0.5 * (strand.h(j - 1) + strand.h(j)));
    }
    for j in (1..size.len()).rev() {
        size[j - 1] = size[j - 1].min(size[j] + GROWTH * 0.5 * (strand.h(j - 1) + strand.h(j)));
    }
    let against = |by: f64| {
        size.iter()
            .enumerate()
            .map(move |(j, size)| strand.h(j) > by * size)
    };
    let cut = against(ALONG).collect();
    against(1.0 + 1e-9)
        .any(|coarse| coarse)
        .then_some(Finer { cut })
}

/// Estimated relative error of the tightest radius.
pub(super) fn error(strand: &Strand, converged: &[bool], measured: &[Arc<Measured>]) -> f64 {
    let worst = relative_misses(strand, converged, measured, |_| 1.0)
        .into_iter()
        .fold(0.0, f64::max);
    ERROR * worst * worst
}

/// Every element cut in two, where that leaves none too short.
pub(super) fn all_finer(strand: &Strand, diameter: f64) -> Option<Finer> {
    let cut: Vec<bool> = (0..strand.elements())
        .map(|j| strand.h(j) > 2.0 * SHORTEST * diameter)
        .collect();
    cut.contains(&true).then_some(Finer { cut })
}

/// The poses in which the tightest spans (three at most, so that the cost stays that of a few solves) are at their
/// tightest, each with those spans.
pub(super) fn tightest_poses(
    strand: &Strand,
    converged: &[bool],
    measured: &[Arc<Measured>],
) -> Vec<(usize, Vec<usize>)> {
    let mut tightest: Vec<(f64, usize, usize)> = Vec::new();
    for span in 0..strand.fixings.len() - 1 {
        let poses = (0..measured.len()).filter(|&pose| converged[pose]);
        let each = poses.map(|pose| (measured[pose].spans[span].curvature, pose, span));
        tightest.extend(each.max_by(|a, b| a.0.total_cmp(&b.0)));
    }
    tightest.sort_by(|a, b| b.0.total_cmp(&a.0));
    tightest.truncate(3);
    let mut poses: Vec<(usize, Vec<usize>)> = Vec::new();
    for (_, pose, span) in tightest {
        match poses.iter_mut().find(|known| known.0 == pose) {
            Some((_, spans)) => spans.push(span),
            None => poses.push((pose, vec![span])),
        }
    }
    poses
}

/// The poses in which some span is tightest, and those in which its elements miss most.
pub(super) fn telling_poses(
    strand: &Strand,
    converged: &[bool],
    measured: &[Arc<Measured>],
) -> Vec<usize> {
    let mut telling = Vec::new();
    for span in 0..strand.fixings.len() - 1 {
        let elements = strand.fixings[span]..strand.fixings[span + 1];
        let tightness = |pose: usize| measured[pose].spans[span].curvature;
        let tightest = (0..measured.len()).map(tightness).fold(0.0, f64::max);
        let miss = |pose: usize| {
            let misses = &measured[pose].misses[elements.clone()];
            misses.iter().copied().fold(0.0, f64::max) / scale(tightness(pose), tightest)
        };
        let found = (0..measured.len()).filter(|&pose| converged[pose]);
        let most = |by: &dyn Fn(usize) -> f64| {
            let found = found.clone().map(|pose| (by(pose), pose));
            found.max_by(|a, b| a.0.total_cmp(&b.0))
        };
        telling.extend(most(&tightness).map(|most| most.1));
        telling.extend(most(&miss).map(|most| most.1));
    }
    telling
}

/// What the curvature of a span in a pose is resolved relative to, where that of the tightest pose is known.
fn scale(curvature: f64, tightest: f64) -> f64 {
    curvature.max(OF_WORST * tightest).max(STRAIGHT)
}

/// Relative change of a curvature on halving, with what is still missing to the limit by the fourth order.
pub(super) fn change(coarse: f64, fine: f64) -> f64 {
    16.0 / 15.0 * (fine - coarse).abs() / fine.max(STRAIGHT)
}

/// By how much less a curvature is worth resolving where a bundle of this radius has none left inside: none lies so, and no
/// number tells how it would.
pub(super) fn beyond_meaning(curvature: f64, radius: f64) -> f64 {
    (radius * curvature).max(1.0).powi(2)
}

/// For each element, the miss of its curvature relative to the tightest of its span, the worst over the poses; `less` is by
/// how much less a curvature counts.
fn relative_misses(
    strand: &Strand,
    converged: &[bool],
    measured: &[Arc<Measured>],
    less: impl Fn(f64) -> f64,
) -> Vec<f64> {
    let mut worst = vec![0.0_f64; strand.elements()];
    for span in 0..strand.fixings.len() - 1 {
        let elements = strand.fixings[span]..strand.fixings[span + 1];
        let tightest = measured
            .iter()
            .map(|m| m.spans[span].curvature)
            .fold(0.0, f64::max);
        for (_, measured) in converged.iter().zip(measured).filter(|(c, _)| **c) {
            let scale = scale(measured.spans[span].curvature, tightest) * less(tightest);
            for j in elements.clone() {
                worst[j] = worst[j].max(measured.misses[j] / scale);
            }
        }
    }
    worst
}

impl Finer {
    /// The strand with those elements cut in two.
    pub(super) fn strand(&self, strand: &Strand) -> Strand {
        let mut at = Vec::new();
        let mut moved = Vec::new();
        for j in 0..strand.at.len() {
            moved.push(at.len());
            at.push(strand.at[j]);
            if self.cut.get(j) == Some(&true) {
                at.push(0.5 * (strand.at[j] + strand.at[j + 1]));
            }
        }
        let fixings = strand.fixings.iter().map(|&node| moved[node]).collect();
        Strand {
            at,
            fixings,
            ..strand.clone()
        }
    }

    /// A state on the finer strand: the same curve, the multipliers from their parabola.
    pub(super) fn prolong(&self, strand: &Strand, state: &State) -> State {
        let mut fine = State {
            nodes: Vec::new(),
            end: Vec::new(),
            middle: Vec::new(),
            ..state.clone()
        };
        let laid = strand.laid(&state.slid);
        for j in 0..strand.at.len() {
            fine.nodes.push(state.nodes[j]);
            fine.end.push(state.end[j]);
            let Some(&cut) = self.cut.get(j) else { break };
            let [a, m, b] = [state.end[j], state.middle[j], state.end[j + 1]];
            if !cut {
                fine.middle.push(m);
                continue;
            }
            let element = laid.element(state, j);
            let r = super::element::combine(&super::contact::shape(element.h, 0.5), &element.q);
            fine.nodes.push(Node {
                r,
                t: element.middle_slope(),
            });
            fine.end.push(m);
            fine.middle.push(0.375 * a + 0.75 * m - 0.125 * b);
            fine.middle.push(0.375 * b + 0.75 * m - 0.125 * a);
        }
        fine
    }
}
