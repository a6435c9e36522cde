//! How far apart the points of a cloud are.

use std::num::NonZero;

use kiddo::{ImmutableKdTree, SquaredEuclidean};
use nalgebra::Point3;

/// In a square grid a point has so many neighbours at the distance of the pitch; so the distance to the fourth is the
/// pitch there, and about the pitch of a grid as dense where points lie at random.
const NEIGHBOURS: usize = 4;
/// So many points are asked, evenly through the list as it was given: an order by coordinates would be another in another
/// frame. Steps of the golden section of the list fall in with no line of a scanner (Weyl's sequence).
const ASKED: usize = 2000;
/// The share of them whose neighbours are at least as near: wide enough for thinner places, not thrown off by the rim
/// and by single points in the air.
const SHARE: f64 = 0.95;

/// Spacing of the points \[m\]: the pitch of a square grid as dense as the cloud is where it is thin. `None` where all
/// of them are the same. They must be finite.
pub(super) fn spacing(points: &[Point3<f64>]) -> Option<f64> {
    // Duplicates are no neighbours; of two zeros one may have a sign.
    let mut distinct: Vec<[f64; 3]> = points
        .iter()
        .map(|p| [p.x + 0.0, p.y + 0.0, p.z + 0.0])
        .collect();
    distinct.sort_unstable_by(|a, b| {
        a[0].total_cmp(&b[0])
            .then(a[1].total_cmp(&b[1]))
            .then(a[2].total_cmp(&b[2]))
    });
    distinct.dedup();
    let neighbours = NEIGHBOURS.min(distinct.len() - 1);
    if neighbours == 0 {
        return None;
    }
    let tree = ImmutableKdTree::<f64, 3>::new_from_slice(&distinct).ok()?;
    let wanted = NonZero::new(neighbours + 1)?;
    let mut found: Vec<f64> = asked(points.len())
        .map(|i| [points[i].x, points[i].y, points[i].z])
        .filter_map(|p| {
            let hits = tree
                .query(&p)
                .nearest_n::<SquaredEuclidean<f64>>(wanted)
                .execute();
            // Squared; the point itself is one of them.
            let farthest = hits.iter().map(|hit| hit.distance).fold(0.0, f64::max);
            farthest.is_finite().then(|| farthest.sqrt())
        })
        .collect();
    found.sort_by(f64::total_cmp);
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a count"
    )]
    let rank = ((found.len() as f64 * SHARE).ceil() as usize).clamp(1, found.len().max(1));
    found.get(rank - 1).copied().filter(|h| *h > 0.0)
}

/// Which of `count` points are asked: all of them where they are few.
fn asked(count: usize) -> impl Iterator<Item = usize> {
    // The golden section as a part of 2^64.
    const SECTION: u64 = 0x9E37_79B9_7F4A_7C15;
    let few = count <= ASKED;
    (0..count.min(ASKED)).map(move |k| {
        if few {
            return k;
        }
        let share = SECTION.wrapping_mul(k as u64);
        #[allow(clippy::cast_possible_truncation, reason = "less than count")]
        let i = ((u128::from(share) * count as u128) >> 64) as usize;
        i
    })
}
