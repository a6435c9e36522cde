//! Points that cover a shape's surface, and other bounds on where a shape is.
//!
//! Every surface here is swept by a point at distance ρ from an axis, or is a rectangle. It is cut into cells,
//! each with a sample in its middle, such that no point of a cell is farther than `spacing` from the sample:
//!
//! - Rectangle (walls of a block): sides of a cell at most √2·spacing, so half its diagonal is at most spacing.
//! - Ring of a surface of revolution (side and flat end of a cylinder, side and round end of a tube, ball): for
//!   two points on it, m apart along the generating line (straight or round) and φ apart about the axis, the
//!   chord is at most √(m² + ρ₁ρ₂·4 sin²(φ/2)) ≤ √(m² + ρ²φ²), ρ the greatest radius in the cell. (Straight
//!   line: by the cosine rule, with equality. Ball: chord² = 4r² (sin²(Δθ/2) + sin θ₁ sin θ₂ sin²(φ/2)), θ from
//!   the pole.) With m and ρφ at most spacing/√2 from the middle, that is at most spacing.
//!
//! A tube is the union of its straight pieces with round ends. Each is covered whole, also where its surface
//! lies inside a neighbour: so a point inside has a sample within its depth + spacing, the depth as
//! [`Shape::distance`] counts it.

use std::f64::consts::{PI, SQRT_2};

use nalgebra::{Point3, Unit, UnitVector3, Vector3};

use super::Shape;

impl Shape {
    /// Points on or inside the surface such that every point of the surface lies within `spacing` \[m\] of one
    /// (for the proof see the source); none for a scan, which has an index of its own. `spacing` must be positive; the count grows as surface / (2 spacing²).
    pub fn surface_samples(&self, spacing: f64) -> Vec<Point3<f64>> {
        let mut found = Vec::new();
        match self {
            Self::Tube { along, diameter } => {
                let radius = 0.5 * diameter;
                for point in along {
                    ball(&mut found, point, radius, spacing);
                }
                for w in along.windows(2) {
                    let Some((axis, length)) = Unit::try_new_and_get(w[1] - w[0], 0.0) else {
                        continue;
                    };
                    side(&mut found, &w[0], &axis, length, radius, spacing);
                }
            }
            Self::Block {
                centre,
                size,
                turned,
            } => {
                for wall in 0..3 {
                    let (a, b) = ((wall + 1) % 3, (wall + 2) % 3);
                    for u in middles(size[a], SQRT_2 * spacing) {
                        for v in middles(size[b], SQRT_2 * spacing) {
                            for sign in [-0.5, 0.5] {
                                let mut p = Vector3::zeros();
                                p[wall] = sign * size[wall];
                                p[a] = (u - 0.5) * size[a];
                                p[b] = (v - 0.5) * size[b];
                                found.push(centre + turned * p);
                            }
                        }
                    }
                }
            }
            Self::Ball { centre, diameter } => ball(&mut found, centre, 0.5 * diameter, spacing),
            Self::Cylinder { from, to, diameter } => {
                let radius = 0.5 * diameter;
                let (axis, length) =
                    Unit::try_new_and_get(to - from, 0.0).unwrap_or((Vector3::z_axis(), 0.0));
                side(&mut found, from, &axis, length, radius, spacing);
                for t in middles(radius, SQRT_2 * spacing) {
                    let outer = radius * t + spacing / SQRT_2;
                    for end in [from, to] {
                        ring(
                            &mut found,
                            end,
                            &axis,
                            radius * t,
                            outer.min(radius),
                            spacing,
                        );
                    }
                }
            }
            Self::Scan(_) => {}
        }
        found
    }

    /// A ball that holds the whole shape: its middle and radius \[m\].
    pub fn bounds(&self) -> (Point3<f64>, f64) {
        match self {
            Self::Tube { along, diameter } => {
                let (mut low, mut high) = match along.first() {
                    Some(first) => (*first, *first),
                    None => return (Point3::origin(), 0.0),
                };
                for p in along {
                    low = low.inf(p);
                    high = high.sup(p);
                }
                let middle = nalgebra::center(&low, &high);
                let reach = along.iter().map(|p| (p - middle).norm());
                (middle, reach.fold(0.0, f64::max) + 0.5 * diameter)
            }
            Self::Block { centre, size, .. } => (*centre, 0.5 * size.norm()),
            Self::Ball { centre, diameter } => (*centre, 0.5 * diameter),
            Self::Cylinder { from, to, diameter } => (
                nalgebra::center(from, to),
                0.5 * (to - from).norm().hypot(*diameter),
            ),
            Self::Scan(scan) => scan.bounds(),
        }
    }

    /// No point inside the shape is deeper than this below its surface, as [`Shape::distance`] counts it \[m\].
    pub fn depth(&self) -> f64 {
        match self {
            Self::Tube { diameter, .. } | Self::Ball { diameter, .. } => 0.5 * diameter,
            Self::Block { size, .. } => 0.5 * size.min(),
            Self::Cylinder { from, to, diameter } => 0.5 * diameter.min((to - from).norm()),
            Self::Scan(scan) if scan.has_inside() => scan.bounds().1,
            Self::Scan(scan) => scan.surface.allowance(),
        }
    }

    /// Surface \[m²\]; that of a tube without regard to where its pieces overlap, for a scan that of a ball around it.
    pub fn area(&self) -> f64 {
        match self {
            Self::Tube { along, diameter } => {
                let length: f64 = along.windows(2).map(|w| (w[1] - w[0]).norm()).sum();
                PI * diameter * (length + diameter)
            }
            Self::Block { size, .. } => 2.0 * (size.x * size.y + size.y * size.z + size.z * size.x),
            Self::Ball { diameter, .. } => PI * diameter * diameter,
            Self::Cylinder { from, to, diameter } => {
                PI * diameter * ((to - from).norm() + 0.5 * diameter)
            }
            Self::Scan(scan) => 4.0 * PI * scan.bounds().1.powi(2),
        }
    }

    /// The shape as convex ones whose union it is; the least of their signed distances is its own. Not of a scan, whose
    /// pieces are too many to list: none.
    pub fn convex_pieces(&self) -> Vec<Self> {
        match self {
            Self::Tube { along, diameter } if along.len() > 2 => along
                .windows(2)
                .map(|w| Self::Tube {
                    along: w.to_vec(),
                    diameter: *diameter,
                })
                .collect(),
            Self::Scan(_) => Vec::new(),
            other => vec![other.clone()],
        }
    }
}

/// Middles of the fewest equal cells no wider than `widest` that a length is cut into, as shares of the
/// length; at least one.
fn middles(length: f64, widest: f64) -> impl Iterator<Item = f64> + Clone {
    let cells = (length / widest).ceil().max(1.0);
    std::iter::successors(Some(0.5), |i| Some(i + 1.0))
        .take_while(move |i| *i < cells)
        .map(move |i| i / cells)
}

/// A ring of samples at `radius` about the axis, dense enough for cells that reach out to `outer`.
fn ring(
    found: &mut Vec<Point3<f64>>,
    middle: &Point3<f64>,
    axis: &UnitVector3<f64>,
    radius: f64,
    outer: f64,
    spacing: f64,
) {
    let u = Vector3::ith(axis.iamin(), 1.0).cross(axis).normalize();
    let v = axis.cross(&u);
    for t in middles(2.0 * PI * outer, SQRT_2 * spacing) {
        let (sin, cos) = (2.0 * PI * t).sin_cos();
        found.push(middle + (u * cos + v * sin) * radius);
    }
}

/// The side of a cylinder.
fn side(
    found: &mut Vec<Point3<f64>>,
    from: &Point3<f64>,
    axis: &UnitVector3<f64>,
    length: f64,
    radius: f64,
    spacing: f64,
) {
    for t in middles(length, SQRT_2 * spacing) {
        let middle = from + axis.into_inner() * (t * length);
        ring(found, &middle, axis, radius, radius, spacing);
    }
}

/// A ball, in rings about the upright axis.
fn ball(found: &mut Vec<Point3<f64>>, centre: &Point3<f64>, radius: f64, spacing: f64) {
    let axis = Vector3::z_axis();
    for t in middles(PI * radius, SQRT_2 * spacing) {
        let angle = PI * t;
        // Half a cell nearer to the equator, where the ring is widest.
        let half = spacing / (SQRT_2 * radius);
        let widest = if (angle - 0.5 * PI).abs() <= half {
            1.0
        } else {
            (angle - half).sin().max((angle + half).sin())
        };
        let (sin, cos) = angle.sin_cos();
        let middle = centre + axis.into_inner() * (radius * cos);
        ring(
            found,
            &middle,
            &axis,
            radius * sin,
            radius * widest,
            spacing,
        );
    }
}
