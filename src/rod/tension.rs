//! Stretch: the tension in an element, held by multipliers of its own.
//!
//! The strain of the centreline, ε = (|r′|² − 1)/2, is looked at where Simpson's rule looks: at both nodes and
//! in the middle (collocating it there instead of everywhere avoids membrane locking: Meier, Popp, Wall,
//! "A locking-free finite element formulation and reduced models for geometrically exact Kirchhoff rods",
//! Comput. Methods Appl. Mech. Eng. 290, 2015; for the inextensible curve with unit slope at the nodes:
//! Bartels, "A simple scheme for the approximation of the elastic flow of inextensible curves", IMA J. Numer.
//! Anal. 33, 2013). Each of these places has a multiplier λ (the tension less EIκ²) with ε = λ/EA. Because λ is an
//! unknown of its own, the number of Newton steps does not grow with EA, and taut and slack spans are the
//! same problem.

use nalgebra::{Matrix3, Vector3};

/// Weight of an end in Simpson's rule.
pub(super) const END: f64 = 1.0 / 6.0;
/// Weight of the middle in Simpson's rule.
pub(super) const MIDDLE: f64 = 4.0 / 6.0;

/// Strain of the centreline from its slope.
#[inline]
pub(super) fn strain(slope: &Vector3<f64>) -> f64 {
    0.5 * (slope.norm_squared() - 1.0)
}

/// Second derivative by the slope of (λ ε) with the step of λ eliminated: λ I + EA r′r′ᵀ, times `weight`.
#[inline]
pub(super) fn stiffness(
    weight: f64,
    lambda: f64,
    stretch: f64,
    slope: &Vector3<f64>,
) -> Matrix3<f64> {
    let mut k = slope * slope.transpose() * (weight * stretch);
    for i in 0..3 {
        k[(i, i)] += weight * lambda;
    }
    k
}

/// Coefficients of the slope in the middle of an element of length `h` in its four vectors
/// (position and slope at the start, position and slope at the end).
#[inline]
pub(super) fn middle(h: f64) -> [f64; 4] {
    [-1.5 / h, -0.25, 1.5 / h, -0.25]
}
