//! Seeded numbers for tests that try many cases. A failing case prints its seed; the same seed replays it.

use nalgebra::{Point3, Rotation3, UnitVector3, Vector3};

/// `SplitMix64` (Steele, Lea & Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014; constants
/// from memory, and only their mixing matters here).
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub(crate) fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Even between two numbers.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        let high_bits = u32::try_from(self.bits() >> 32).unwrap();
        low + (high - low) * f64::from(high_bits) / f64::from(u32::MAX)
    }

    pub(crate) fn below(&mut self, count: usize) -> usize {
        usize::try_from(self.bits() >> 33).unwrap() % count
    }

    /// Normal with the standard deviation one (sum of twelve, good to a few per cent in the tails).
    pub(crate) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.between(0.0, 1.0)).sum::<f64>() - 6.0
    }

    pub(crate) fn vector(&mut self, reach: f64) -> Vector3<f64> {
        Vector3::from_fn(|_, _| self.between(-reach, reach))
    }

    pub(crate) fn point(&mut self, reach: f64) -> Point3<f64> {
        self.vector(reach).into()
    }

    pub(crate) fn direction(&mut self) -> UnitVector3<f64> {
        UnitVector3::new_normalize(Vector3::from_fn(|_, _| self.normal()))
    }

    pub(crate) fn rotation(&mut self) -> Rotation3<f64> {
        let angle = self.between(-3.0, 3.0);
        Rotation3::from_axis_angle(&self.direction(), angle)
    }
}
