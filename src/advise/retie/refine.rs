//! The last few millimetres and degrees: Gauss–Newton with the damping of Levenberg and Marquardt (Nocedal & Wright,
//! Numerical Optimization, 2nd ed. 2006, section 10.3) on the excess of every finding over its limit, slopes by finite
//! differences of the solved route. Few unknowns and a cheap solve make that faster than a method without slopes.

use nalgebra::{DMatrix, DVector};

use super::moves::{Deed, Touch, steps};
use super::problem::{Problem, Reached, cost};

/// Steps of the optimiser.
const STEPS: usize = 4;
/// How far it goes from where it begins: along and drawn through \[m\], turned \[rad\].
const FAR: (f64, f64) = (0.02, 0.35);
/// What is within so much of its limit may become the one that decides.
const NEAR: f64 = 0.06;

impl Problem<'_> {
    /// Betters what was reached by varying its sizes.
    pub(super) fn refined(&self, from: &Reached) -> Reached {
        let mut best = from.clone();
        for _ in 0..STEPS {
            if best.sure || self.watch.is_over() {
                break;
            }
            match self.step(&best) {
                Some(better) => best = better,
                None => break,
            }
        }
        best
    }

    /// One step, where one is better.
    fn step(&self, from: &Reached) -> Option<Reached> {
        let far: Vec<f64> = from.touches.iter().flat_map(reach_of).collect();
        if far.is_empty() {
            return None;
        }
        let here = self.excesses(from.steps.clone())?;
        let active: Vec<_> = here.iter().filter(|one| one.short > -NEAR).collect();
        let mut slopes = DMatrix::zeros(active.len(), far.len());
        for column in 0..far.len() {
            if self.watch.is_over() {
                return None;
            }
            let mut x = vec![0.0; far.len()];
            x[column] = 0.08 * far[column];
            let Some(found) = self.excesses(steps(&varied(&from.touches, &x))) else {
                continue;
            };
            for (row, one) in active.iter().enumerate() {
                if let Some(new) = found.iter().find(|new| new.identity == one.identity) {
                    // Per share of what is allowed, so that lengths and angles weigh alike.
                    slopes[(row, column)] = (new.short - one.short) / 0.08;
                }
            }
        }
        let residual =
            DVector::from_iterator(active.len(), active.iter().map(|one| one.short.max(0.0)));
        let gradient = slopes.tr_mul(&residual);
        let square = slopes.tr_mul(&slopes);
        let mut damping = 1e-2;
        for _ in 0..3 {
            let mut damped = square.clone();
            for i in 0..far.len() {
                damped[(i, i)] += damping * (1.0 + square[(i, i)]);
            }
            damping *= 12.0;
            let Some(step) = damped.cholesky().map(|c| c.solve(&(-&gradient))) else {
                continue;
            };
            let x: Vec<f64> = far
                .iter()
                .zip(step.iter())
                .map(|(far, share)| (share * far).clamp(-far, *far))
                .collect();
            let there = self.reached(varied(&from.touches, &x));
            if let Some(there) = there.filter(|there| there.cost < 0.97 * cost(&here)) {
                return Some(there);
            }
        }
        None
    }
}

fn reach_of(touch: &Touch) -> Vec<f64> {
    let mut far = Vec::new();
    if matches!(touch.deed, Deed::Shift { .. }) {
        far.extend([FAR.0, FAR.0]);
    }
    if matches!(touch.facing, Some(Some(_))) {
        far.extend([FAR.1, FAR.1]);
    }
    far
}

fn varied(touches: &[Touch], x: &[f64]) -> Vec<Touch> {
    let mut at = 0;
    touches
        .iter()
        .map(|touch| {
            let n = touch.sizes();
            at += n;
            touch.varied(&x[at - n..at])
        })
        .collect()
}
