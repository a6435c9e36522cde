//! Bending: ½ EI ∫ |r″|² ds of a cubic Hermite element.
//!
//! Where the slope r′ is a unit vector, |r″| is the curvature, so the energy is quadratic in the nodes: EI/(2h) times
//! 12 |b|² + |s|² of the bow b and the swing s ([`Modes`]). Where the centreline is stretched by the factor v, the curvature
//! by unstretched length is |r″|/v: the stiffness is divided by v², with v held from the step before.

use super::modes::Modes;

/// Second derivative of the energy by the bow and by the swing, each times the 3 × 3 unit matrix.
#[inline(always)]
pub(super) fn stiffness(bend: f64, h: f64) -> (f64, f64) {
    let of_swing = bend / h;
    (12.0 * of_swing, of_swing)
}

/// Energy \[J\].
#[inline(always)]
pub(super) fn energy(bend: f64, h: f64, modes: &Modes) -> f64 {
    let (bow, swing) = stiffness(bend, h);
    0.5 * (bow * modes.bow.norm_squared() + swing * modes.swing.norm_squared())
}

/// Derivative of [`energy`] by the element's length, positions and slopes held \[N\].
pub(super) fn by_length(bend: f64, h: f64, modes: &Modes) -> f64 {
    let (bow, _) = stiffness(bend, h);
    -(energy(bend, h, modes) + bow * modes.bow.dot(&modes.chord)) / h
}
