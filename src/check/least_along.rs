//! The least gap along part of a branch.

use nalgebra::Point3;

use crate::geometry::Curve;
use crate::rod::Station;
use crate::route::Girth;

/// Each step of a golden section keeps 0.618 of the bracket: from a few millimetres to below a micrometre.
const SECTIONS: u32 = 20;

/// Where along the stations the gap is least, and that gap \[m\], from the distance of a place of the centreline, for a
/// branch with these girths. Infinite where the gap is nowhere less than `than` \[m\], which is quick to see: a place that is far
/// away has others beside it that are nearly as far.
pub(super) fn least_along(
    curve: &Curve,
    stations: &[Station],
    girths: &[Girth],
    than: f64,
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
        let than = than.min(least.1) + girth.radius;
        let (at, distance) = least_at(curve, &places, than, &distance);
        if distance - girth.radius < least.1 {
            least = (at, distance - girth.radius);
        }
    }
    least
}

/// Where the distance is least, and that distance \[m\]: the least place first, then between its neighbours. The
/// distance changes by no more than the way gone, so what lies between two other places can be less only by a share of
/// their spacing squared; and so nothing is less than `than` beside a place that is further away by more than the way to there.
fn least_at(
    curve: &Curve,
    places: &[(f64, Point3<f64>)],
    than: f64,
    distance: impl Fn(&Point3<f64>) -> f64,
) -> (f64, f64) {
    // Between two places the curve is no longer than twice the length that was laid there.
    let apart = places.windows(2).map(|ends| ends[1].0 - ends[0].0);
    let far = than + 2.0 * apart.fold(0.0, f64::max);
    let mut best = (places[0].0, f64::INFINITY);
    let mut index = 0;
    let (mut asked, mut clear) = (places[0].1, f64::NEG_INFINITY);
    for (i, (at, position)) in places.iter().enumerate() {
        if (position - asked).norm() < clear {
            continue;
        }
        let here = distance(position);
        (asked, clear) = (*position, here - far);
        if here < best.1 {
            (best, index) = ((*at, here), i);
        }
    }
    if best.1 > far {
        return (best.0, f64::INFINITY);
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
