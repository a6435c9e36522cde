//! Where a ray first meets a shape.
//!
//! Simple shapes are convex pieces; a ray is in such a piece from one place to another, both in closed form (Ericson,
//! "Real-Time Collision Detection" (2005), section 5.3). A scan is approached by its distance (Hart, "Sphere tracing",
//! The Visual Computer 12, 1996).

use nalgebra::{Point3, Vector3};

use super::Shape;

/// A ray that has come so near to a scan has met it \[m\].
const MET: f64 = 2e-4;
/// Steps toward a scan at most.
const STEPS: usize = 64;

/// Where a ray goes in and comes out \[m\] along it.
type Inside = (f64, f64);

impl Shape {
    /// How far \[m\] a ray from `from` in the direction of the unit vector `way` goes until it meets the surface, both
    /// in the shape's own frame; `None` where that is not within `reach` \[m\]. A ray that begins inside meets it at
    /// once.
    pub fn met(&self, from: &Point3<f64>, way: &Vector3<f64>, reach: f64) -> Option<f64> {
        let first = |inside: Option<Inside>| {
            inside
                .filter(|(enters, leaves)| *leaves >= 0.0 && *enters <= reach)
                .map(|(enters, _)| enters.max(0.0))
        };
        match self {
            Self::Tube { along, diameter } => {
                let radius = 0.5 * diameter;
                let bends = along.iter().map(|centre| ball(from, way, centre, radius));
                let pieces = along
                    .windows(2)
                    .map(|ends| cylinder(from, way, &ends[0], &ends[1], radius));
                bends.chain(pieces).filter_map(first).min_by(f64::total_cmp)
            }
            Self::Block {
                centre,
                size,
                turned,
            } => first(block(
                &turned.inverse_transform_vector(&(from - centre)),
                &turned.inverse_transform_vector(way),
                size,
            )),
            Self::Ball { centre, diameter } => first(ball(from, way, centre, 0.5 * diameter)),
            Self::Cylinder {
                from: end,
                to,
                diameter,
            } => first(cylinder(from, way, end, to, 0.5 * diameter)),
            Self::Scan(_) => {
                let mut gone = 0.0;
                for _ in 0..STEPS {
                    let away = self.distance(&(from + way * gone));
                    if away < MET {
                        return Some(gone);
                    }
                    gone += away;
                    if gone.partial_cmp(&reach) != Some(std::cmp::Ordering::Less) {
                        return None;
                    }
                }
                // Along a surface, almost touching it.
                None
            }
        }
    }
}

/// Where `|off + t way| ≤ radius`, for vectors square to an axis or not.
fn round(off: &Vector3<f64>, way: &Vector3<f64>, radius: f64) -> Option<Inside> {
    let (a, b) = (way.norm_squared(), off.dot(way));
    let c = off.norm_squared() - radius * radius;
    if a <= f64::MIN_POSITIVE {
        return (c <= 0.0).then_some((f64::NEG_INFINITY, f64::INFINITY));
    }
    let root = b * b - a * c;
    (root >= 0.0).then(|| ((-b - root.sqrt()) / a, (-b + root.sqrt()) / a))
}

/// Where `low ≤ off + t way ≤ high`.
fn slab(off: f64, way: f64, low: f64, high: f64) -> Option<Inside> {
    if way.abs() <= f64::MIN_POSITIVE {
        return (low <= off && off <= high).then_some((f64::NEG_INFINITY, f64::INFINITY));
    }
    let (a, b) = ((low - off) / way, (high - off) / way);
    Some((a.min(b), a.max(b)))
}

fn both(a: Inside, b: Inside) -> Option<Inside> {
    let (enters, leaves) = (a.0.max(b.0), a.1.min(b.1));
    (enters <= leaves).then_some((enters, leaves))
}

fn ball(
    from: &Point3<f64>,
    way: &Vector3<f64>,
    centre: &Point3<f64>,
    radius: f64,
) -> Option<Inside> {
    round(&(from - centre), way, radius)
}

fn cylinder(
    from: &Point3<f64>,
    way: &Vector3<f64>,
    a: &Point3<f64>,
    b: &Point3<f64>,
    radius: f64,
) -> Option<Inside> {
    let run = b - a;
    let u = run.try_normalize(0.0)?;
    let off = from - a;
    let (along, ahead) = (off.dot(&u), way.dot(&u));
    let side = round(&(off - u * along), &(way - u * ahead), radius)?;
    both(side, slab(along, ahead, 0.0, run.norm())?)
}

fn block(off: &Vector3<f64>, way: &Vector3<f64>, size: &Vector3<f64>) -> Option<Inside> {
    (0..3).try_fold((f64::NEG_INFINITY, f64::INFINITY), |inside, axis| {
        let half = 0.5 * size[axis];
        both(inside, slab(off[axis], way[axis], -half, half)?)
    })
}
