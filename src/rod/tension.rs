//! Stretch: the tension in an element, held by multipliers of its own.
//!
//! The strain of the centreline, ε = (|r′|² − 1)/2, is looked at where Simpson's rule looks: at both nodes and
//! in the middle (collocating it there instead of everywhere avoids membrane locking: Meier, Popp, Wall,
//! "A locking-free finite element formulation and reduced models for geometrically exact Kirchhoff rods",
//! Comput. Methods Appl. Mech. Eng. 290, 2015; for the inextensible curve with unit slope at the nodes:
//! Bartels, "A simple scheme for the approximation of the elastic flow of inextensible curves", IMA J. Numer.
//! Anal. 33, 2013). Each of these places has a multiplier λ, with λ v the tension less EI κ², and Hooke's law ties the
//! stretch v = |r′| to it: λ v = EA (v − 1). Because λ is an unknown of its own, the number of Newton steps does not
//! grow with EA, and taut and slack spans are the same problem.

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

/// Stretch v that a multiplier makes by Hooke's law with stiffness `ea` \[N\]. Kept between a third and four, since a
/// wild intermediate step may make the multiplier anything.
#[inline]
pub(super) fn stretch_of(lambda: f64, ea: f64) -> f64 {
    1.0 / (1.0 - (lambda / ea).clamp(-2.0, 0.75))
}

/// Strain that a multiplier makes.
#[inline]
pub(super) fn strain_of(lambda: f64, ea: f64) -> f64 {
    let v = stretch_of(lambda, ea);
    // v − 1 = v λ/EA, without cancellation.
    0.5 * (v * (lambda / ea).clamp(-2.0, 0.75)) * (v + 1.0)
}

/// Multiplier that belongs to a strain.
#[inline]
pub(super) fn multiplier_of(strain: f64, ea: f64) -> f64 {
    let v = (1.0 + 2.0 * strain).max(1.0 / 9.0).sqrt();
    // 1 − 1/v, without cancellation.
    ea * 2.0 * strain.max(-4.0 / 9.0) / (v * (v + 1.0))
}

/// Derivative of the multiplier by the strain.
#[inline]
pub(super) fn modulus(lambda: f64, ea: f64) -> f64 {
    ea / stretch_of(lambda, ea).powi(3)
}

/// Energy per length of a strain.
#[inline]
pub(super) fn energy_of(strain: f64, ea: f64) -> f64 {
    let v = (1.0 + 2.0 * strain).max(1.0 / 9.0).sqrt();
    let longer = 2.0 * strain.max(-4.0 / 9.0) / (v + 1.0);
    0.5 * ea * longer * longer
}

/// Second derivative by the slope of (λ ε) with the step of λ eliminated: λ I + (dλ/dε) r′r′ᵀ, times `weight`.
#[inline]
pub(super) fn stiffness(weight: f64, lambda: f64, ea: f64, slope: &Vector3<f64>) -> Matrix3<f64> {
    let mut k = slope * slope.transpose() * (weight * modulus(lambda, ea));
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
