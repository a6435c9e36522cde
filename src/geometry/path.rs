//! The smooth path: a first guess, and the length of a span for which no length was measured.
//!
//! A C² cubic spline over chord length. With the chords `c[i] = p[i+1] − p[i]`, the spacings
//! `h[i] = max(|c[i]|, 1 µm)` and the slopes `m[i]`, equal second derivatives on both sides of an inner knot
//! give one row of a tridiagonal system (de Boor, *A Practical Guide to Splines*, chapter IV; from memory, the
//! closed-form tests below check it):
//!
//! ```text
//! m[i−1]/h[i−1] + 2 m[i] (1/h[i−1] + 1/h[i]) + m[i+1]/h[i] = 3 (c[i−1]/h[i−1]² + c[i]/h[i]²)
//! ```
//!
//! A held direction replaces its row by `m[i] = direction`, which splits the path there into two splines that
//! share the tangent; a free end replaces its row by "second derivative zero".

use nalgebra::{Point3, UnitVector3, Vector3};

use super::{Curve, Knot};

/// Neighbouring waypoints are kept at least this far apart in `at` \[m\]: far below what a tape can tell, far
/// above rounding at the size of a machine.
const LEAST_SPACING: f64 = 1e-6;

/// A point that a smooth path passes through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Waypoint {
    /// Where \[m\].
    pub position: Point3<f64>,
    /// In which direction, where that is held.
    pub direction: Option<UnitVector3<f64>>,
}

/// The smooth path through waypoints: a C² cubic spline over chord length, with the given unit tangent where
/// a direction is held and natural (no curvature) at free ends. One knot per waypoint, in order.
///
/// Neighbouring waypoints closer than a micrometre are kept apart by that much in `at`. A single waypoint
/// gives a straight micrometre from it, none a straight micrometre from the origin, so that the result is
/// always a curve.
pub fn smooth_path(waypoints: &[Waypoint]) -> Curve {
    let [first, _, ..] = waypoints else {
        return speck(waypoints.first());
    };
    let chords: Vec<Vector3<f64>> = waypoints
        .windows(2)
        .map(|w| w[1].position - w[0].position)
        .collect();
    let spacing: Vec<f64> = chords.iter().map(|c| c.norm().max(LEAST_SPACING)).collect();
    let slopes = slopes(waypoints, &chords, &spacing);

    let mut knots = Vec::with_capacity(waypoints.len());
    let mut at = 0.0;
    knots.push(Knot {
        at,
        position: first.position,
        slope: slopes[0],
    });
    for (i, waypoint) in waypoints.iter().enumerate().skip(1) {
        at += spacing[i - 1];
        knots.push(Knot {
            at,
            position: waypoint.position,
            slope: slopes[i],
        });
    }
    Curve { knots }
}

/// A straight line one least spacing long.
fn speck(waypoint: Option<&Waypoint>) -> Curve {
    let position = waypoint.map_or_else(Point3::origin, |w| w.position);
    let slope = waypoint
        .and_then(|w| w.direction)
        .map_or_else(Vector3::x, UnitVector3::into_inner);
    let knot = |at: f64| Knot {
        at,
        position: position + slope * at,
        slope,
    };
    Curve {
        knots: vec![knot(0.0), knot(LEAST_SPACING)],
    }
}

/// Slopes at the waypoints: one forward and one backward pass over the tridiagonal system. Every row is
/// diagonally dominant, so no pivoting is needed.
fn slopes(waypoints: &[Waypoint], chords: &[Vector3<f64>], spacing: &[f64]) -> Vec<Vector3<f64>> {
    let last = waypoints.len() - 1;
    // After the forward pass row i reads m_i + above[i] m_{i+1} = right[i].
    let mut above: Vec<f64> = Vec::with_capacity(waypoints.len());
    let mut right: Vec<Vector3<f64>> = Vec::with_capacity(waypoints.len());
    for (i, waypoint) in waypoints.iter().enumerate() {
        if let Some(direction) = waypoint.direction {
            above.push(0.0);
            right.push(direction.into_inner());
            continue;
        }
        let (mut diagonal, mut below, mut over, mut rhs) = (0.0, 0.0, 0.0, Vector3::zeros());
        if i > 0 {
            let w = 1.0 / spacing[i - 1];
            below = w;
            diagonal += 2.0 * w;
            rhs += chords[i - 1] * (3.0 * w * w);
        }
        if i < last {
            let w = 1.0 / spacing[i];
            over = w;
            diagonal += 2.0 * w;
            rhs += chords[i] * (3.0 * w * w);
        }
        if i > 0 {
            diagonal -= below * above[i - 1];
            rhs -= right[i - 1] * below;
        }
        above.push(over / diagonal);
        right.push(rhs / diagonal);
    }
    for i in (0..last).rev() {
        let next = right[i + 1];
        right[i] -= next * above[i];
    }
    right
}

#[cfg(test)]
mod tests {
    use super::*;

    fn free(x: f64, y: f64, z: f64) -> Waypoint {
        Waypoint {
            position: Point3::new(x, y, z),
            direction: None,
        }
    }

    fn held(x: f64, y: f64, z: f64, direction: Vector3<f64>) -> Waypoint {
        Waypoint {
            position: Point3::new(x, y, z),
            direction: Some(UnitVector3::new_normalize(direction)),
        }
    }

    #[test]
    fn waypoints_in_a_line_give_the_line() {
        let path = smooth_path(&[
            free(0.0, 0.0, 0.0),
            held(0.1, 0.2, 0.2, Vector3::new(1.0, 2.0, 2.0)),
            free(0.4, 0.8, 0.8),
        ]);
        assert!((path.length() - 1.2).abs() < 1e-14);
        for i in 0..=20 {
            let at = 1.2 * f64::from(i) / 20.0;
            let (p, slope, second) = path.sample(at);
            assert!((p.coords - Vector3::new(1.0, 2.0, 2.0) * (at / 3.0)).norm() < 1e-14);
            assert!((slope.norm() - 1.0).abs() < 1e-13 && second.norm() < 1e-12);
        }
    }

    /// One piece, clamped at one end and natural at the other: with c the chord and h its length,
    /// `m[1] = (3 c/h − m[0])/2` by hand.
    #[test]
    fn one_piece_by_hand() {
        let path = smooth_path(&[held(0.0, 0.0, 0.0, Vector3::y()), free(0.2, 0.0, 0.0)]);
        assert!((path.knots()[1].slope - Vector3::new(1.5, -0.5, 0.0)).norm() < 1e-14);
        assert!(path.sample(0.2).2.norm() < 1e-12);
    }

    /// Natural spline through (0,0), (1,1), (2,0) (spacings √2): by symmetry `m[1] = (1/√2, 0)`, and the
    /// end row `2 m[0] + m[1] = 3 (1, 1)/√2` gives `m[0] = (1, 1.5)/√2`.
    #[test]
    fn a_natural_arch_by_hand() {
        let path = smooth_path(&[
            free(0.0, 0.0, 0.0),
            free(1.0, 1.0, 0.0),
            free(2.0, 0.0, 0.0),
        ]);
        let r = std::f64::consts::FRAC_1_SQRT_2;
        assert!((path.knots()[0].slope - Vector3::new(r, 1.5 * r, 0.0)).norm() < 1e-14);
        assert!((path.knots()[1].slope - Vector3::new(r, 0.0, 0.0)).norm() < 1e-14);
    }

    #[test]
    fn second_derivative_is_continuous_at_free_knots_and_zero_at_free_ends() {
        let path = smooth_path(&[
            free(0.0, 0.0, 0.0),
            free(0.05, 0.02, 0.0),
            free(0.30, -0.05, 0.1),
            held(0.32, 0.2, 0.2, Vector3::new(0.3, 1.0, 0.0)),
            free(0.35, 0.4, 0.1),
            free(0.1, 0.5, 0.0),
        ]);
        for (i, knot) in path.knots().iter().enumerate() {
            let (before, after) = (path.sample(knot.at - 1e-9).2, path.sample(knot.at + 1e-9).2);
            match i {
                0 => assert!(after.norm() < 1e-5, "{after}"),
                3 => assert!((knot.slope - Vector3::new(0.3, 1.0, 0.0).normalize()).norm() < 1e-15),
                5 => assert!(before.norm() < 1e-5, "{before}"),
                _ => assert!((before - after).norm() < 1e-5, "{i}: {before} {after}"),
            }
        }
    }

    /// A held direction inside splits the path: the part before it does not feel what comes after.
    #[test]
    fn a_held_direction_splits_the_path() {
        let start = [
            free(0.0, 0.0, 0.0),
            free(0.1, 0.05, 0.0),
            held(0.2, 0.0, 0.0, Vector3::z()),
        ];
        let alone = smooth_path(&start);
        let mut longer = start.to_vec();
        longer.extend([free(0.3, 0.4, 0.1), free(0.2, 0.6, 0.9)]);
        let together = smooth_path(&longer);
        assert_eq!(alone.knots(), &together.knots()[..3]);
    }

    #[test]
    fn the_length_of_an_arc_converges() {
        let error = |n: u32| {
            let angle = |i: u32| std::f64::consts::FRAC_PI_2 * f64::from(i) / f64::from(n);
            let waypoints: Vec<_> = (0..=n)
                .map(|i| {
                    let (s, c) = angle(i).sin_cos();
                    let tangent = (i == 0 || i == n)
                        .then(|| UnitVector3::new_normalize(Vector3::new(-s, c, 0.0)));
                    Waypoint {
                        position: Point3::new(c, s, 0.0),
                        direction: tangent,
                    }
                })
                .collect();
            (smooth_path(&waypoints).length() - std::f64::consts::FRAC_PI_2).abs()
        };
        // Chord length as the parameter makes the length second order in the spacing.
        assert!(
            error(8) < 1e-3 && error(16) < error(8) / 3.9,
            "{} {}",
            error(8),
            error(16)
        );
    }

    #[test]
    fn coincident_and_missing_waypoints_give_finite_curves() {
        let same = free(0.1, 0.2, 0.3);
        let turned = held(0.1, 0.2, 0.3, Vector3::z());
        let cases: [&[Waypoint]; 6] = [
            &[],
            &[same],
            &[turned],
            &[same, same],
            &[same, same, same, free(0.2, 0.2, 0.3)],
            &[turned, same, free(0.2, 0.2, 0.3), free(0.2, 0.2, 0.3)],
        ];
        for waypoints in cases {
            let path = smooth_path(waypoints);
            assert!(path.knots().windows(2).all(|w| w[0].at < w[1].at));
            assert!(path.length().is_finite());
            for i in 0..=10 {
                let (p, d, _) = path.sample(path.end() * f64::from(i) / 10.0);
                assert!(p.coords.norm().is_finite() && d.norm().is_finite());
            }
        }
    }
}
