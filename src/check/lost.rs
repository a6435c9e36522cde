//! Where a nudge was not followed: what follows from the shape of that stretch cannot be told.

use std::sync::Arc;

use crate::harness::BranchId;
use crate::rod::{BranchSolution, Shape};
use crate::route::Route;

use super::Finding;
use super::reach::SAME;
use super::spread::follows_shape;

/// A branch does not follow where some place moves this many times further than the nudge. A span with little
/// slack bulges by several times what its ends come closer.
pub(super) const FURTHEST: f64 = 12.0;
/// Nor where it folds: its radius falls by half, to less than so many diameters.
const FOLDED: f64 = 4.0;

/// A stretch that moved by no more than this \[m\] was not touched by the nudge.
const STILL: f64 = 1e-9;

/// A stretch of a branch that a nudge cannot be followed on: from one fixing that holds direction to the next, since
/// nothing passes through those.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lost {
    pub(super) branch: BranchId,
    from: f64,
    to: f64,
}

impl Lost {
    /// Whether a finding's value follows from the shape of this stretch. What is summed over a branch always does.
    pub(super) fn spoils(&self, finding: &Finding) -> bool {
        follows_shape(finding)
            && finding.branch == self.branch
            && (self.has(finding.at) || finding.check == "steering drag")
    }

    /// Whether a place along the branch \[m\] is on the stretch, its ends included.
    fn has(&self, at: f64) -> bool {
        self.from - SAME <= at && at <= self.to + SAME
    }
}

/// The stretches of a branch that found a shape which is not the old one slightly moved: some place moved much
/// further than the nudge, or folded, or a shape that moved was not solved.
pub(super) fn lost_stretches(
    route: &Route,
    branch: BranchId,
    old: &BranchSolution,
    new: &BranchSolution,
    nudge: f64,
) -> Vec<Lost> {
    let bundle = &route.branches[branch.0];
    let lost = bundle.stretches().filter_map(|(first, last)| {
        let spans = first..last;
        let (from, to) = (old.spans[spans.start].start, old.spans[spans.end - 1].end());
        let left = old.shapes.iter().zip(&new.shapes).any(|(old, new)| {
            let furthest = furthest(old, new, (from, to));
            let folded = old.spans[spans.clone()]
                .iter()
                .zip(&new.spans[spans.clone()])
                .any(|(old, new)| {
                    new.curvature * FOLDED * bundle.diameter > 1.0
                        && new.curvature > 2.0 * old.curvature
                });
            let unsolved = !new.converged && furthest > STILL;
            furthest > FURTHEST * nudge || folded || unsolved
        });
        left.then_some(Lost { branch, from, to })
    });
    lost.collect()
}

/// How far a knot between two places along the branch \[m\] is in one shape from where it is in another \[m\].
fn furthest(old: &Arc<Shape>, new: &Arc<Shape>, (from, to): (f64, f64)) -> f64 {
    if Arc::ptr_eq(old, new) {
        return 0.0;
    }
    let (before, now) = (old.curve.knots(), new.curve.knots());
    let cut_alike = before.len() == now.len();
    let own = before.iter().enumerate();
    own.filter(|(_, knot)| from <= knot.at && knot.at <= to)
        .map(|(i, knot)| {
            let there = if cut_alike {
                now[i].position
            } else {
                new.curve.position(knot.at)
            };
            (knot.position - there).norm()
        })
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is told of its last fixing is told of the stretch, by whichever sum of lengths the place was come by.
    #[test]
    fn a_stretch_has_its_ends_however_rounded() {
        let (from, to) = (0.1, 0.122_282_999_630_039_16_f64);
        let stretch = Lost {
            branch: BranchId(0),
            from,
            to,
        };
        for at in [from.next_down(), from, to, to.next_up()] {
            assert!(stretch.has(at), "{at}");
        }
        for at in [from - 1e-6, to + 1e-6] {
            assert!(!stretch.has(at), "{at}");
        }
    }
}
