//! Distances from many places at once.
//!
//! Places that lie beside each other see the same part of the index: taken one after another along a curve that fills the
//! space (Morton, 1966), each finds what it needs still in the cache, and the piece that was nearest to the one before is
//! a good first guess. Each answer is the one that the place would get alone.

use nalgebra::Point3;

use super::Surface;

/// Cells along each axis, as a power of two: three of them fill a 64-bit number.
const BITS: u32 = 21;

impl Surface {
    /// Signed distances from many places \[m\], in their order; NaN where one alone would give it.
    pub(super) fn distances(&self, places: &[Point3<f64>]) -> Vec<f64> {
        let (low, high) = self.frame();
        // Most of what is asked about lies within the surface's own size of it.
        let side = 3.0 * (high - low).amax().max(f64::MIN_POSITIVE);
        let corner = nalgebra::center(&low, &high) - nalgebra::Vector3::repeat(0.5 * side);
        let finite = |p: &Point3<f64>| p.iter().all(|c| c.is_finite());
        let mut order: Vec<(u64, usize)> = places
            .iter()
            .enumerate()
            .filter(|(_, p)| finite(p))
            .map(|(i, p)| (along(&((p - corner) / side).into()), i))
            .collect();
        order.sort_unstable();
        let mut distances = vec![f64::NAN; places.len()];
        let mut piece = None;
        for (_, i) in order {
            distances[i] = self.distance_from(&places[i], &mut piece);
        }
        distances
    }
}

/// How far along the curve a place of the unit cube is; one beside the cube counts as on its side.
fn along(p: &Point3<f64>) -> u64 {
    let cells = f64::from(1_u32 << BITS);
    p.iter().fold(0, |code, share| {
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "held to what fits; what is no number becomes zero"
        )]
        let cell = (share * cells).clamp(0.0, cells - 1.0) as u64;
        code << 1 | spread(cell)
    })
}

/// The bits of a number, each three places from the next.
fn spread(n: u64) -> u64 {
    let mut n = n & ((1 << BITS) - 1);
    for (shift, mask) in [
        (32, 0x001F_0000_0000_FFFF),
        (16, 0x001F_0000_FF00_00FF),
        (8, 0x100F_00F0_0F00_F00F),
        (4, 0x10C3_0C30_C30C_30C3),
        (2, 0x1249_2492_4924_9249),
    ] {
        n = (n | n << shift) & mask;
    }
    n
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_beside_each_other_come_one_after_another() {
        // Eight halves of the unit cube, in the order of the bits x, y, z.
        let at = |i: u64| [2, 1, 0].map(|bit| if i >> bit & 1 == 1 { 0.75 } else { 0.25 });
        let codes: Vec<u64> = (0..8)
            .map(|i| along(&Point3::from(at(i))) >> (3 * (BITS - 1)))
            .collect();
        assert_eq!(codes, [0, 1, 2, 3, 4, 5, 6, 7]);
        assert_eq!(spread(0b111), 0b100_1001);
        for far in [f64::NAN, f64::INFINITY, -1.0, 2.0] {
            assert!(along(&Point3::new(far, 0.5, 0.5)) < 1 << 63);
        }
    }
}
