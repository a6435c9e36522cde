//! The straight distance between a tie on the frame and one on the steering, by steering angle.
//!
//! With R(δ) the rotation about the steering axis u (a unit vector through the origin), P the steered tie straight ahead
//! and A the one on the frame, Rodrigues' formula gives
//!
//! d(δ)² = |R(δ)P − A|² = k − a cos δ − b sin δ,
//! k = |P|² + |A|² − 2 (u·P)(u·A), a = 2 (P·A − (u·P)(u·A)), b = 2 A·(u × P).
//!
//! So three distances give it at every angle, and its greatest value may lie between the stops.

use nalgebra::Vector3;

/// d(δ)² = k − a cos δ − b sin δ, all in m².
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chord {
    /// Its mean over a whole turn.
    pub k: f64,
    /// Part that goes with the cosine.
    pub a: f64,
    /// Part that goes with the sine.
    pub b: f64,
}

impl Chord {
    /// The distance between a `steered` point (straight ahead) and a `still` one, both from a point on the axis of
    /// direction `axis` (a unit vector) \[m\].
    pub fn between(steered: &Vector3<f64>, still: &Vector3<f64>, axis: &Vector3<f64>) -> Self {
        let along = axis.dot(steered) * axis.dot(still);
        Self {
            k: steered.norm_squared() + still.norm_squared() - 2.0 * along,
            a: 2.0 * (steered.dot(still) - along),
            b: 2.0 * still.dot(&axis.cross(steered)),
        }
    }

    /// The distance at a steering angle \[m\].
    pub fn distance(&self, angle: f64) -> f64 {
        let (sin, cos) = angle.sin_cos();
        (self.k - self.a * cos - self.b * sin).max(0.0).sqrt()
    }

    /// The longest distance between two angles and where it is.
    pub fn longest(&self, from: f64, to: f64) -> (f64, f64) {
        self.extreme(from, to, (-self.b).atan2(-self.a), |new, best| new > best)
    }

    /// The shortest distance between two angles and where it is.
    pub fn shortest(&self, from: f64, to: f64) -> (f64, f64) {
        self.extreme(from, to, self.b.atan2(self.a), |new, best| new < best)
    }

    fn extreme(
        &self,
        from: f64,
        to: f64,
        turning: f64,
        better: impl Fn(f64, f64) -> bool,
    ) -> (f64, f64) {
        let mut best = (self.distance(from), from);
        let inside = (turning > from && turning < to).then_some(turning);
        for angle in inside.into_iter().chain([to]) {
            let distance = self.distance(angle);
            if better(distance, best.0) {
                best = (distance, angle);
            }
        }
        best
    }
}
