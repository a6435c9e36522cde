//! Twist: one twisting moment for each stretch between two fixings that hold direction.
//!
//! An isotropic rod without moments along its way carries the same twisting moment m everywhere, so its twist
//! follows from the end directors and the centreline alone (Bergou, Wardetzky, Robinson, Audoly, Grinspun,
//! "Discrete Elastic Rods", ACM TOG 27(3), 2008, section 5: quasi-static frames). The angle by which a director
//! turns when carried along the centreline without twisting is, against the frames that reach each tangent t
//! from a fixed direction a by the shortest turn,
//!
//!   ∫ a·(t × t′)/(1 + a·t) ds     (Fuller, "Decomposition of the linking number of a closed ribbon", Proc. Natl.
//!                                  Acad. Sci. USA 75(8), 1978, pp. 3557–3561)
//!
//! which is local, so the matrix stays a chain; m is one unknown more, eliminated by a border. The direction a is
//! chosen far from −t. Here t = r′/|r′|, so that the integrand is f(u, w) = a·(u × w)/(|u|(|u| + a·u)) with u = r′,
//! w = r″.

use nalgebra::{Matrix3, UnitVector3, Vector3};

use crate::geometry::outer;

/// Value and first derivatives of the integrand.
#[inline(always)]
pub(super) fn turn(
    a: &Vector3<f64>,
    u: &Vector3<f64>,
    w: &Vector3<f64>,
) -> (f64, Vector3<f64>, Vector3<f64>) {
    let n = u.norm();
    let along = a.dot(u);
    let (one_n, one_q) = (1.0 / n, 1.0 / (n * (n + along)));
    let across = a.cross(u);
    let value = across.dot(w) * one_q;
    let by_q = u * (2.0 + along * one_n) + a * n;
    (value, (w.cross(a) - by_q * value) * one_q, across * one_q)
}

/// Second derivatives of the integrand: by u twice, and by u (rows) and w (columns).
#[inline(always)]
pub(super) fn second(
    a: &Vector3<f64>,
    u: &Vector3<f64>,
    w: &Vector3<f64>,
) -> (Matrix3<f64>, Matrix3<f64>) {
    let n = u.norm();
    let along = a.dot(u);
    let (one_n, one_q) = (1.0 / n, 1.0 / (n * (n + along)));
    let across = a.cross(u);
    let p = across.dot(w);
    let ratio = along * one_n;
    let g = u * (2.0 + ratio) + a * n;
    let pu = w.cross(a);
    // −p ∂²q = −p ((2 + a·u/n) I + (a uᵀ + u aᵀ)/n − u uᵀ a·u/n³), joined with the outer products that have the same
    // left factor.
    let by_g = g * (2.0 * p * one_q) - pu;
    let by_u = u * (p * ratio * one_n * one_n) - a * (p * one_n);
    let along_a = a * (p * one_n);
    let mut by_uu = outer(&by_g, &g) - outer(&g, &pu) + outer(&by_u, u) - outer(u, &along_a);
    for i in 0..3 {
        by_uu[(i, i)] -= p * (2.0 + ratio);
    }
    // u·(A w) = a·(u × w)
    let puw = Matrix3::new(0.0, a.z, -a.y, -a.z, 0.0, a.x, a.y, -a.x, 0.0);
    (
        by_uu * (one_q * one_q),
        (puw - outer(&g, &(across * one_q))) * one_q,
    )
}

/// The frame that reaches `t` from `a` by the shortest turn, as its first director; `t` must not be −a.
pub(super) fn reference_director(a: &UnitVector3<f64>, t: &UnitVector3<f64>) -> Vector3<f64> {
    let start = any_across(a);
    let axis = a.cross(t);
    // Rodrigues with sine |axis| and cosine a·t
    let cosine = a.dot(t);
    start * cosine + axis.cross(&start) + axis * (axis.dot(&start) / (1.0 + cosine))
}

/// Angle from `from` to `to` about the unit vector `about`, right-handed, in −π…π.
pub(super) fn angle_about(about: &Vector3<f64>, from: &Vector3<f64>, to: &Vector3<f64>) -> f64 {
    about.dot(&from.cross(to)).atan2(from.dot(to))
}

/// A unit vector across `a`, the same each time.
pub(super) fn any_across(a: &Vector3<f64>) -> Vector3<f64> {
    let axis = if a.x.abs() < 0.6 {
        Vector3::x()
    } else {
        Vector3::y()
    };
    a.cross(&axis).normalize()
}

/// A unit vector across `along` that turns with `axes`, those of the machine, and is mirrored with them.
pub(super) fn across(along: &UnitVector3<f64>, axes: &[Vector3<f64>; 3]) -> Vector3<f64> {
    let [first, second, _] = axes;
    let axis = if along.dot(first).abs() < 0.6 {
        first
    } else {
        second
    };
    (axis - along.into_inner() * along.dot(axis)).normalize()
}

/// Of the directions to the corners, edges and faces of a cube, the one whose opposite stays farthest from all
/// `tangents`; `current` is kept while it is good enough, since a change costs accuracy in the twist. The cube lies along
/// `axes`, those of the machine, so that the pole of one that is turned or mirrored is turned and mirrored.
pub(super) fn pole(
    tangents: impl Iterator<Item = Vector3<f64>> + Clone,
    current: Option<UnitVector3<f64>>,
    axes: &[Vector3<f64>; 3],
) -> UnitVector3<f64> {
    // a·t/|t| > −½, without the root.
    let far_from = |a: &UnitVector3<f64>, t: &Vector3<f64>| {
        let along = a.dot(t);
        along >= 0.0 || 4.0 * along * along < t.norm_squared()
    };
    if let Some(current) = current.filter(|a| tangents.clone().all(|t| far_from(a, &t))) {
        return current;
    }
    let units: Vec<Vector3<f64>> = tangents.map(|t| t / t.norm()).collect();
    let mut best = (f64::NEG_INFINITY, Vector3::x_axis());
    for code in 0..27_i32 {
        let axis = |by: i32| f64::from(code / by % 3 - 1);
        if code == 13 {
            continue;
        }
        let a = axes[0] * axis(1) + axes[1] * axis(3) + axes[2] * axis(9);
        let a = UnitVector3::new_normalize(a);
        // The first tangent that is as near to the opposite as the best one's nearest settles it.
        let mut worst = f64::INFINITY;
        let better = units.iter().all(|t| {
            worst = worst.min(a.dot(t));
            worst > best.0 + 1e-9
        });
        if better {
            best = (worst, a);
        }
    }
    best.1
}
