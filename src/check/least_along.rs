//! The least of a distance along part of a branch.

use nalgebra::Point3;

use crate::geometry::Curve;
use crate::rod::Station;

/// Each step of a golden section keeps 0.618 of the bracket: from a few millimetres to below a micrometre.
const SECTIONS: u32 = 20;

/// Where along the stations a distance is least, and that distance \[m\]: the least station first, then between its
/// neighbours. The distance changes by no more than the way gone, so what lies between two other stations can be
/// less only by a share of their spacing squared.
pub(super) fn least_along(
    curve: &Curve,
    stations: &[Station],
    distance: impl Fn(&Point3<f64>) -> f64,
) -> (f64, f64) {
    let mut best = (0.0, f64::INFINITY);
    let mut index = 0;
    for (i, station) in stations.iter().enumerate() {
        let here = distance(&station.position);
        if here < best.1 {
            (best, index) = ((station.at, here), i);
        }
    }
    let (Some(before), Some(after)) = (
        stations.get(index.saturating_sub(1)),
        stations.get((index + 1).min(stations.len().saturating_sub(1))),
    ) else {
        return best;
    };
    let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
    let (mut low, mut high) = (before.at, after.at);
    for _ in 0..SECTIONS {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        let (at_a, at_b) = (distance(&curve.position(a)), distance(&curve.position(b)));
        for (at, here) in [(a, at_a), (b, at_b)] {
            if here < best.1 - 1e-10 {
                best = (at, here);
            }
        }
        if at_a <= at_b {
            high = b;
        } else {
            low = a;
        }
    }
    best
}
