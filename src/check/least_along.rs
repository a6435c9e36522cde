//! The least gap along part of a branch.

use nalgebra::Point3;

use crate::geometry::Curve;
use crate::rod::Station;
use crate::route::Girth;

/// Each step of a golden section keeps 0.618 of the bracket: from a few millimetres to below a micrometre.
const SECTIONS: u32 = 20;

/// Where along the stations the gap is least, and that gap \[m\], from the distance of a place of the centreline, for a
/// branch with these girths.
pub(super) fn least_along(
    curve: &Curve,
    stations: &[Station],
    girths: &[Girth],
    distance: impl Fn(&Point3<f64>) -> f64,
) -> (f64, f64) {
    let mut least = (0.0, f64::INFINITY);
    let (Some(first), Some(last)) = (stations.first(), stations.last()) else {
        return least;
    };
    for girth in girths {
        let (from, to) = (girth.from.max(first.at), girth.to.min(last.at));
        if from > to {
            continue;
        }
        let within = stations.iter().filter(|s| from < s.at && s.at < to);
        let mut places = vec![(from, curve.position(from))];
        places.extend(within.map(|s| (s.at, s.position)));
        places.push((to, curve.position(to)));
        let (at, distance) = least_at(curve, &places, &distance);
        if distance - girth.radius < least.1 {
            least = (at, distance - girth.radius);
        }
    }
    least
}

/// Where the distance is least, and that distance \[m\]: the least place first, then between its neighbours. The
/// distance changes by no more than the way gone, so what lies between two other places can be less only by a share of
/// their spacing squared.
fn least_at(
    curve: &Curve,
    places: &[(f64, Point3<f64>)],
    distance: impl Fn(&Point3<f64>) -> f64,
) -> (f64, f64) {
    let mut best = (places[0].0, f64::INFINITY);
    let mut index = 0;
    for (i, (at, position)) in places.iter().enumerate() {
        let here = distance(position);
        if here < best.1 {
            (best, index) = ((*at, here), i);
        }
    }
    let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
    let mut low = places[index.saturating_sub(1)].0;
    let mut high = places[(index + 1).min(places.len() - 1)].0;
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
