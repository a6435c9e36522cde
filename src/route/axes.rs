//! Directions that belong to the machine, however it stands.

use nalgebra::Vector3;

use crate::machine::Joint;

use super::Route;

/// A joint that leans by less stands upright \[rad\].
const LEANS: f64 = 0.01;

impl Route {
    /// Three directions square to each other that turn with the machine when it is measured standing elsewhere,
    /// and are mirrored with it: level along the lean of the first joint that leans (or else toward the place that is
    /// farthest out), level across that to the side of the place that is farthest out, and up.
    pub fn axes(&self) -> [Vector3<f64>; 3] {
        let level = |v: Vector3<f64>| Vector3::new(v.x, v.y, 0.0);
        let count = self.places.iter().fold(0.0, |count, _| count + 1.0);
        let places = || self.places.iter().map(|place| level(place.at.coords));
        let middle = places().sum::<Vector3<f64>>() / f64::max(count, 1.0);
        // The first of those that are as far out but for rounding.
        let farthest = |off: &dyn Fn(Vector3<f64>) -> Vector3<f64>| {
            let mut far = Vector3::zeros();
            for out in places().map(|place| off(place - middle)) {
                if out.norm() > far.norm() * (1.0 + 1e-9) + 1e-9 {
                    far = out;
                }
            }
            far.try_normalize(f64::MIN_POSITIVE)
        };
        let leaning = self.machine.bodies.iter().find_map(|body| {
            let Joint::Turns { axis, .. } = body.joint else {
                return None;
            };
            // An axis has no ends: which way it points says only which way counts as up in its angle.
            let upward = axis.into_inner() * if axis.z < 0.0 { -1.0 } else { 1.0 };
            level(upward).try_normalize(LEANS)
        });
        let forward = leaning
            .or_else(|| farthest(&|out| out))
            .unwrap_or_else(Vector3::x);
        let across = Vector3::z().cross(&forward);
        let side = farthest(&|out| across * across.dot(&out)).unwrap_or(across);
        [forward, side, Vector3::z()]
    }
}
