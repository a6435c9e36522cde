//! The smooth path: a first guess, and the length of a span for which no length was measured.

use nalgebra::{Point3, UnitVector3};

use super::Curve;

/// A point that a smooth path passes through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Waypoint {
    /// Where \[m\].
    pub position: Point3<f64>,
    /// In which direction, where that is held.
    pub direction: Option<UnitVector3<f64>>,
}

/// The smooth path through waypoints (at least two): a C² cubic spline over chord length, with the given
/// unit tangent where a direction is held and natural at free ends. One knot per waypoint, in order.
/// Neighbouring waypoints closer than a micrometre are kept apart by that much in `at`.
pub fn smooth_path(_waypoints: &[Waypoint]) -> Curve {
    todo!()
}
