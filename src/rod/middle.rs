//! A machine that stands far from where its places are counted from: while it is solved they are counted from its middle.
//!
//! A strain is the difference of two positions over the length of an element, so what rounding of positions leaves of forces
//! grows with how far away they are: some metres away it is as much as may be left at rest.

use std::sync::Arc;

use nalgebra::{Isometry3, Translation3, Vector3};

use crate::route::Route;

use super::solution::Solution;

/// A machine told from a point on itself has its middle nearer than this \[m\], and positions fine enough.
const FAR: f64 = 2.0;

/// Solves a route, with solutions that it may begin from: as they are, or all counted from its middle, and the answer from
/// where the route is again.
pub(super) fn from_its_middle<T>(
    route: &Route,
    known: &[&Solution],
    solve: impl FnOnce(&Route, &[&Solution]) -> (Solution, T),
) -> (Solution, T) {
    let Some(middle) = far_middle(route) else {
        return solve(route, known);
    };
    let near = route.counted_from(&middle);
    let known: Vec<Solution> = known
        .iter()
        .map(|&known| counted_from(known.clone(), &middle, &near))
        .collect();
    let known: Vec<&Solution> = known.iter().collect();
    let (solution, more) = solve(&near, &known);
    (counted_from(solution, &-middle, route), more)
}

/// The middle of a route's places \[m\], where it is far away.
fn far_middle(route: &Route) -> Option<Vector3<f64>> {
    let count = route.places.iter().fold(0.0, |count, _| count + 1.0);
    let sum: Vector3<f64> = route.places.iter().map(|place| place.at.coords).sum();
    let middle = sum / f64::max(count, 1.0);
    (middle.norm() > FAR && middle.iter().all(|x| x.is_finite())).then_some(middle)
}

/// A solution with all positions counted from `origin`, of a route whose places are so.
fn counted_from(mut solution: Solution, origin: &Vector3<f64>, route: &Route) -> Solution {
    let motion = Isometry3::from(Translation3::from(-origin));
    for (stance, pose) in solution.stances.iter_mut().zip(&solution.sweep.poses) {
        let found = std::mem::replace(stance, route.machine.stance(&pose.joints));
        for breakout in route.breakouts.iter().filter(|b| b.floats()) {
            let body = breakout.body.0;
            stance.bodies[body] = motion * found.bodies[body] * motion.inverse();
        }
    }
    let shapes = solution.branches.iter_mut().flat_map(|b| &mut b.shapes);
    for shape in shapes {
        let shape = Arc::make_mut(shape);
        shape.curve.shift(&-origin);
        for station in &mut shape.stations {
            station.position -= origin;
        }
    }
    solution
}
