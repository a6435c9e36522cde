//! How much of what a bundle sees is a hot part.

use nalgebra::{Point3, Vector3};

use crate::machine::{PartId, Stance, Surroundings};

/// View factor from a long cylinder of radius `r1` to a parallel one of radius `r2`, their surfaces `gap` apart, by
/// crossed strings (Hottel; Incropera et al., *Fundamentals of Heat and Mass Transfer*, table 13.1; Howell, *A Catalog
/// of Radiation Heat Transfer Configuration Factors*, C-63; from memory, checked by sampling).
pub fn parallel_cylinders(r1: f64, r2: f64, gap: f64) -> f64 {
    let (r, s) = (r2 / r1, gap.max(0.0) / r1);
    let c = 1.0 + r + s;
    let root = |a: f64| (c * c - a * a).max(0.0).sqrt();
    let angle = |a: f64| a.clamp(-1.0, 1.0).acos();
    let sum = std::f64::consts::PI + root(r + 1.0) - root(r - 1.0)
        + (r - 1.0) * angle(r / c - 1.0 / c)
        - (r + 1.0) * angle(r / c + 1.0 / c);
    sum / std::f64::consts::TAU
}

/// A short piece of bundle that looks about itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Viewer {
    /// Its middle, machine frame \[m\].
    pub at: Point3<f64>,
    /// Unit tangent.
    pub along: Vector3<f64>,
    /// Outside radius \[m\].
    pub radius: f64,
}

/// A ray that has come so near to a part has met it \[m\].
const MET: f64 = 2e-4;
/// Steps of a ray at most.
const STEPS: usize = 48;

/// View factors from a piece of bundle to each of `hot`, other parts standing in the way: `rays` rays from all round
/// it, spread evenly by the generalised golden ratio (Roberts' R3 sequence) and drawn by the cosine about each normal,
/// followed for `reach` \[m\] by the distance to the nearest part (Hart, "Sphere tracing", The Visual Computer 12,
/// 1996). The error falls about as 1/rays.
pub fn seen(
    surroundings: &Surroundings<'_>,
    stance: &Stance,
    viewer: &Viewer,
    hot: &[PartId],
    rays: u32,
    reach: f64,
) -> Vec<f64> {
    let mut hits = vec![0.0; hot.len()];
    let mut near = Vec::new();
    surroundings.near(stance, &viewer.at, reach, &mut near);
    let others: Vec<PartId> = near
        .into_iter()
        .filter(|part| !hot.contains(part))
        .collect();
    let axis = if viewer.along.x.abs() < 0.6 {
        Vector3::x()
    } else {
        Vector3::y()
    };
    let u = viewer.along.cross(&axis).normalize();
    let v = viewer.along.cross(&u);
    for ray in 0..rays {
        let share = |step: f64| (0.5 + f64::from(ray) * step).fract();
        // 1/g, 1/g², 1/g³ with g⁴ = g + 1.
        let around = std::f64::consts::TAU * share(0.819_172_513_396_164_5);
        let out = share(0.671_043_606_703_789_3);
        let turn = std::f64::consts::TAU * share(0.549_700_477_901_560_4);
        let normal = u * around.cos() + v * around.sin();
        let side = viewer.along.cross(&normal);
        let flat = out.sqrt();
        let way = normal * (1.0 - out).sqrt()
            + viewer.along * (flat * turn.cos())
            + side * (flat * turn.sin());
        let from = viewer.at + normal * viewer.radius;
        if let Some((index, far)) = met(surroundings, stance, &from, &way, hot, reach)
            && met(surroundings, stance, &from, &way, &others, far).is_none()
        {
            hits[index] += 1.0;
        }
    }
    hits.into_iter()
        .map(|count| count / f64::from(rays.max(1)))
        .collect()
}

/// The first of `parts` that a ray meets within `reach`, and how far away \[m\].
fn met(
    surroundings: &Surroundings<'_>,
    stance: &Stance,
    from: &Point3<f64>,
    way: &Vector3<f64>,
    parts: &[PartId],
    reach: f64,
) -> Option<(usize, f64)> {
    let mut gone = 0.0;
    for _ in 0..STEPS {
        let here = from + way * gone;
        let nearest = parts
            .iter()
            .enumerate()
            .map(|(index, &part)| (index, surroundings.distance(stance, part, &here)))
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        if nearest.1 < MET {
            return Some((nearest.0, gone));
        }
        gone += nearest.1;
        if gone > reach {
            return None;
        }
    }
    None
}
