//! Curvature of a shape beside and between its stations.

use crate::rod::{Shape, Station};
use crate::route::Span;

use super::job::stations_of;

/// Curvature of the centreline at `at` \[1/m\]: the cubic through the four stations about it, of one side of a fixing
/// only, fourth order in their distance like the stations themselves; the greater one where two stations share the place.
pub(super) fn curvature_at(shape: &Shape, at: f64) -> f64 {
    curvature_between(&shape.stations, at)
}

fn curvature_between(stations: &[Station], at: f64) -> f64 {
    let first = stations.partition_point(|s| s.at < at);
    let past = stations.partition_point(|s| s.at <= at);
    if past > first {
        return stations[first..past]
            .iter()
            .map(|s| s.curvature)
            .fold(0.0, f64::max);
    }
    if first == 0 || first == stations.len() {
        let end = stations.get(first).or(stations.last());
        return end.map_or(0.0, |end| end.curvature);
    }
    let apart = |i: usize, j: usize| {
        let both = stations.get(i).zip(stations.get(j));
        both.is_some_and(|(a, b)| a.at < b.at)
    };
    let (mut from, mut to) = (first - 1, first);
    // One more on either side; at the end of a span both on the other.
    for _ in 0..2 {
        if to - from < 3 && from > 0 && apart(from - 1, from) {
            from -= 1;
        }
        if to - from < 3 && apart(to, to + 1) {
            to += 1;
        }
    }
    let about = &stations[from..=to];
    let share = |here: usize| {
        let others = about.iter().enumerate().filter(|&(other, _)| other != here);
        let factors = others.map(|(_, o)| (at - o.at) / (about[here].at - o.at));
        about[here].curvature * factors.product::<f64>()
    };
    (0..about.len()).map(share).sum::<f64>().max(0.0)
}

/// Curvature \[1/m\] and place of each crest between three stations, by their parabola, except beside the place given.
pub(super) fn crests(stations: &[Station], except: f64) -> Vec<(f64, f64)> {
    let crest = |w: &[Station]| {
        let [a, b, c] = [&w[0], &w[1], &w[2]];
        let (left, right) = (b.at - a.at, c.at - b.at);
        let known = (a.at..=c.at).contains(&except) || left <= 0.0 || right <= 0.0;
        if known || b.curvature < a.curvature || b.curvature <= c.curvature {
            return None;
        }
        let rises = (b.curvature - a.curvature) / left;
        let falls = (b.curvature - c.curvature) / right;
        let bend = (rises + falls) / (left + right);
        let slope = rises - bend * left;
        Some((
            b.curvature + 0.25 * slope * slope / bend,
            b.at + 0.5 * slope / bend,
        ))
    };
    stations.windows(3).filter_map(crest).collect()
}

/// Angle through which the branch turns along a span \[rad\]: its curvature summed.
pub(super) fn turning(shape: &Shape, span: &Span) -> f64 {
    stations_of(shape, span)
        .windows(2)
        .map(|w| 0.5 * (w[0].curvature + w[1].curvature) * (w[1].at - w[0].at))
        .sum()
}

/// Whether a curve of `length` metres with this greatest curvature counts as straight: over its whole length
/// it turns by less than a thousandth of a radian.
pub(crate) fn is_straight(curvature: f64, length: f64) -> bool {
    curvature * length < 1e-3
}

#[cfg(test)]
mod tests {
    use nalgebra::{Point3, Vector3};

    use super::*;

    fn bent(curvature: impl Fn(f64) -> f64, places: &[f64]) -> Vec<Station> {
        let station = |&at: &f64| Station {
            at,
            position: Point3::origin(),
            tangent: Vector3::x(),
            curvature: curvature(at),
            tension: 0.0,
            contact: 0.0,
        };
        places.iter().map(station).collect()
    }

    /// The top of a parabola wherever the stations stand, once; not that which is known.
    #[test]
    fn a_crest_between_stations() {
        for top in [0.021, 0.03, 0.039] {
            let curve = |at: f64| 12.0 - 4e3 * (at - top) * (at - top);
            let stations = bent(curve, &[0.0, 0.01, 0.02, 0.035, 0.04, 0.06]);
            let found = crests(&stations, -1.0);
            assert_eq!(found.len(), 1, "{found:?}");
            assert!((found[0].0 - 12.0).abs() < 1e-9 && (found[0].1 - top).abs() < 1e-9);
            assert!(crests(&stations, top).is_empty());
        }
        assert!(crests(&bent(|at| at, &[0.0, 0.01, 0.02]), -1.0).is_empty());
    }

    /// Cubics as they are, wherever the stations stand; of two sides of a fixing one alone.
    #[test]
    fn between_stations_as_the_cubic_has_it() {
        let cubic = |at: f64| 9.0 - 300.0 * at + 2e4 * at * at - 1e5 * at * at * at;
        let places = [0.0, 0.01, 0.02, 0.035, 0.04, 0.06];
        let mut stations = bent(cubic, &places);
        // Beyond the fixing it is another curve.
        stations.extend(bent(|at| 1.0 + cubic(at), &[0.06, 0.07, 0.09]));
        for i in 0..=300 {
            let at = 0.06 * f64::from(i) / 300.0;
            let more = if i == 300 { 1.0 } else { 0.0 };
            let got = curvature_between(&stations, at);
            assert!((got - cubic(at) - more).abs() < 1e-9, "{at}: {got}");
        }
        // Three stations tell a parabola, two a line, and beyond all it is as at the last.
        let parabola = |at: f64| 2.0 + 30.0 * at * at;
        let few = bent(parabola, &[0.0, 0.01, 0.03]);
        assert!((curvature_between(&few, 0.02) - parabola(0.02)).abs() < 1e-12);
        assert!((curvature_between(&few[..2], 0.005) - 2.0015).abs() < 1e-12);
        assert!((curvature_between(&few, 0.05) - parabola(0.03)).abs() < 1e-12);
        assert!(curvature_between(&[], 0.0).abs() < 1e-12);
    }
}
