//! Bending: ½ EI ∫ |r″|² ds of a cubic Hermite element.
//!
//! Where the slope r′ is a unit vector, |r″| is the curvature, so the energy is quadratic in the nodes and its
//! second derivative is one constant 4 × 4 matrix for all three axes. Where the centreline is stretched by the
//! factor v, the curvature by unstretched length is |r″|/v: the stiffness is divided by v², with v held from
//! the step before.

/// Second derivative of ½ EI ∫|r″|² by (r₁, r₁′, r₂, r₂′), each entry times the 3 × 3 unit matrix.
#[inline]
pub(super) fn stiffness(bend: f64, h: f64) -> [[f64; 4]; 4] {
    let (a, b, c) = (
        12.0 * bend / (h * h * h),
        6.0 * bend / (h * h),
        2.0 * bend / h,
    );
    [
        [a, b, -a, b],
        [b, 2.0 * c, -b, c],
        [-a, -b, a, -b],
        [b, c, -b, 2.0 * c],
    ]
}

/// Derivative of [`stiffness`] by the element's length.
#[inline]
pub(super) fn by_length(bend: f64, h: f64) -> [[f64; 4]; 4] {
    let (a, b, c) = (
        -36.0 * bend / h.powi(4),
        -12.0 * bend / h.powi(3),
        -2.0 * bend / (h * h),
    );
    [
        [a, b, -a, b],
        [b, 2.0 * c, -b, c],
        [-a, -b, a, -b],
        [b, c, -b, 2.0 * c],
    ]
}
