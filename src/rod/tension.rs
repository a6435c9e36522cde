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

use crate::geometry::outer;

/// Weight of an end in Simpson's rule.
pub(super) const END: f64 = 1.0 / 6.0;
/// Weight of the middle in Simpson's rule.
pub(super) const MIDDLE: f64 = 4.0 / 6.0;

/// Strain of the centreline from its slope.
#[inline(always)]
pub(super) fn strain(slope: &Vector3<f64>) -> f64 {
    0.5 * (slope.norm_squared() - 1.0)
}

/// Stretch v that a multiplier makes by Hooke's law with stiffness `ea` \[N\]. Kept between a third and four, since a
/// wild intermediate step may make the multiplier anything.
#[inline(always)]
pub(super) fn stretch_of(lambda: f64, ea: f64) -> f64 {
    1.0 / shrink_of(lambda, ea)
}

/// One over that stretch.
#[inline(always)]
pub(super) fn shrink_of(lambda: f64, ea: f64) -> f64 {
    1.0 - share_of(lambda, ea)
}

/// The multiplier over the stiffness.
#[inline(always)]
fn share_of(lambda: f64, ea: f64) -> f64 {
    (lambda / ea).clamp(-2.0, 0.75)
}

/// Strain that a multiplier makes.
#[inline(always)]
pub(super) fn strain_of(lambda: f64, ea: f64) -> f64 {
    let share = share_of(lambda, ea);
    let v = 1.0 / (1.0 - share);
    // v − 1 = v λ/EA, without cancellation.
    0.5 * (v * share) * (v + 1.0)
}

/// By how much the multiplier is to grow for a strain, to first order.
#[inline(always)]
pub(super) fn growth_for(strain: f64, lambda: f64, ea: f64) -> f64 {
    modulus(lambda, ea) * (strain - strain_of(lambda, ea))
}

/// Multiplier that belongs to a strain.
#[inline]
pub(super) fn multiplier_of(strain: f64, ea: f64) -> f64 {
    let v = (1.0 + 2.0 * strain).max(1.0 / 9.0).sqrt();
    // 1 − 1/v, without cancellation.
    ea * 2.0 * strain.max(-4.0 / 9.0) / (v * (v + 1.0))
}

/// Derivative of the multiplier by the strain.
#[inline(always)]
pub(super) fn modulus(lambda: f64, ea: f64) -> f64 {
    let shrink = shrink_of(lambda, ea);
    ea * (shrink * shrink * shrink)
}

/// Energy per length of a strain.
#[inline]
pub(super) fn energy_of(strain: f64, ea: f64) -> f64 {
    let v = (1.0 + 2.0 * strain).max(1.0 / 9.0).sqrt();
    let longer = 2.0 * strain.max(-4.0 / 9.0) / (v + 1.0);
    0.5 * ea * longer * longer
}

/// Second derivative by the slope of (λ ε) with the step of λ eliminated: λ I + (dλ/dε) r′r′ᵀ, times `weight`.
#[inline(always)]
pub(super) fn stiffness(weight: f64, lambda: f64, ea: f64, slope: &Vector3<f64>) -> Matrix3<f64> {
    let mut k = outer(&(slope * (weight * modulus(lambda, ea))), slope);
    for i in 0..3 {
        k[(i, i)] += weight * lambda;
    }
    k
}
