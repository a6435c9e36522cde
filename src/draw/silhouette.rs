//! True outlines of parts as they are seen: solids to areas of paper.
//!
//! In parallel projection every shape here is seen as the convex hull of a few discs (a tube: one hull a
//! piece), and everything within a distance of it as the hull of the same discs grown by that distance.

use i_overlay::core::fill_rule::FillRule;
use i_overlay::float::simplify::SimplifyShape;
use nalgebra::{Isometry3, Point3, Vector3};

use crate::geometry::Shape;

use super::display::Spot;
use super::project::Projection;
use super::scan_outline;

/// An area of paper: contours, the inner ones cut holes (even-odd).
pub(crate) type Area = Vec<Vec<Spot>>;

/// How far a drawn arc may lie off the true one \[mm\].
const ARC_ERROR: f64 = 0.02;

/// The outline of `shape`, moved by `motion` and grown by `margin` \[m\] on all sides.
pub(crate) fn outline(
    shape: &Shape,
    motion: &Isometry3<f64>,
    margin: f64,
    projection: &Projection,
) -> Area {
    let area = merge(pieces(shape, motion, margin, projection));
    match shape {
        Shape::Scan(_) => scan_outline::smooth(area),
        _ => area,
    }
}

/// The convex areas that together make the outline.
pub(crate) fn pieces(
    shape: &Shape,
    motion: &Isometry3<f64>,
    margin: f64,
    projection: &Projection,
) -> Vec<Vec<Spot>> {
    let disc = |p: &Point3<f64>, radius: f64| {
        disc(projection.spot(&(motion * p)), radius * projection.scale)
    };
    match shape {
        Shape::Tube { along, diameter } => along
            .windows(2)
            .map(|ends| {
                let mut spots = disc(&ends[0], 0.5 * diameter + margin);
                spots.extend(disc(&ends[1], 0.5 * diameter + margin));
                hull(spots)
            })
            .collect(),
        Shape::Block { .. } => {
            let corners = corners(shape);
            vec![hull(corners.iter().flat_map(|c| disc(c, margin)).collect())]
        }
        Shape::Ball { centre, diameter } => vec![disc(centre, 0.5 * diameter + margin)],
        Shape::Cylinder { from, to, diameter } => {
            let rims = [rim(from, to, *diameter, from), rim(from, to, *diameter, to)];
            vec![hull(
                rims.iter()
                    .flatten()
                    .flat_map(|p| disc(p, margin))
                    .collect(),
            )]
        }
        Shape::Scan(scan) => scan_outline::runs(scan, motion, margin, projection),
    }
}

/// The edges that are seen inside the outline, each as a line on paper.
pub(crate) fn edges(
    shape: &Shape,
    motion: &Isometry3<f64>,
    projection: &Projection,
) -> Vec<Vec<Spot>> {
    let toward = motion.inverse_transform_vector(&projection.viewpoint.toward);
    let spot = |p: &Point3<f64>| projection.spot(&(motion * p));
    match shape {
        Shape::Block { turned, .. } => {
            let eye = turned.inverse() * toward;
            let corners = corners(shape);
            (0..3)
                .flat_map(|axis| {
                    let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
                    // The edge along `axis` where both faces look at the eye is the one inside the outline.
                    let inside = eye[u].abs() > 1e-6 && eye[v].abs() > 1e-6;
                    let bit = |i: usize| usize::from(eye[i] > 0.0) << i;
                    let low = bit(u) | bit(v);
                    inside.then(|| vec![spot(&corners[low]), spot(&corners[low | 1 << axis])])
                })
                .collect()
        }
        Shape::Cylinder { from, to, diameter } => {
            let along = (to - from).dot(&toward);
            if along.abs() < 1e-9 {
                return Vec::new();
            }
            let near = if along > 0.0 { to } else { from };
            let mut circle: Vec<Spot> = rim(from, to, *diameter, near).iter().map(spot).collect();
            if let Some(&first) = circle.first() {
                circle.push(first);
            }
            vec![circle]
        }
        Shape::Tube { .. } | Shape::Ball { .. } | Shape::Scan(_) => Vec::new(),
    }
}

/// The union of areas that all run the same way round.
pub(crate) fn merge(pieces: Vec<Vec<Spot>>) -> Area {
    let finite: Vec<Vec<Spot>> = pieces
        .into_iter()
        .filter(|piece| piece.len() > 2 && piece.iter().flatten().all(|x| x.is_finite()))
        .collect();
    if finite.len() < 2 {
        return finite;
    }
    finite
        .simplify_shape(FillRule::NonZero)
        .into_iter()
        .flatten()
        .collect()
}

/// A corner that is off the line past it by less than this part of the line's length is there by rounding alone.
const STRAIGHT: f64 = 1e-9;

/// The convex hull, running the same way round for every input (Andrew's monotone chain).
pub(crate) fn hull(mut spots: Vec<Spot>) -> Vec<Spot> {
    spots.retain(|s| s[0].is_finite() && s[1].is_finite());
    spots.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    spots.dedup();
    if spots.len() < 3 {
        return spots;
    }
    let half = |spots: &mut dyn Iterator<Item = Spot>| {
        let mut chain: Vec<Spot> = Vec::new();
        for s in spots {
            while let [.., a, b] = chain[..] {
                let (along, to) = ([s[0] - a[0], s[1] - a[1]], [b[0] - a[0], b[1] - a[1]]);
                let turn = to[0] * along[1] - to[1] * along[0];
                if turn > STRAIGHT * (along[0] * along[0] + along[1] * along[1]) {
                    break;
                }
                chain.pop();
            }
            chain.push(s);
        }
        chain.pop();
        chain
    };
    let mut lower = half(&mut spots.iter().copied());
    lower.extend(half(&mut spots.iter().rev().copied()));
    lower
}

/// A circle as a polygon that is nowhere further off than [`ARC_ERROR`]; a single spot where it has no radius.
pub(crate) fn disc(centre: Spot, radius: f64) -> Vec<Spot> {
    if radius < 1e-6 {
        return vec![centre];
    }
    let step = 2.0 * (1.0 - (ARC_ERROR / radius).min(0.5)).acos();
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to a small positive count"
    )]
    let corners = (std::f64::consts::TAU / step).ceil().clamp(12.0, 180.0) as usize;
    (0..corners)
        .map(|i| {
            let (sin, cos) = (std::f64::consts::TAU * i as f64 / corners as f64).sin_cos();
            [centre[0] + radius * cos, centre[1] + radius * sin]
        })
        .collect()
}

/// The eight corners of a block; bit i of the index is the side of axis i. Empty for other shapes.
fn corners(shape: &Shape) -> Vec<Point3<f64>> {
    let Shape::Block {
        centre,
        size,
        turned,
    } = shape
    else {
        return Vec::new();
    };
    (0..8_usize)
        .map(|i| {
            let side = |axis: usize| if i >> axis & 1 == 1 { 0.5 } else { -0.5 };
            centre + turned * Vector3::new(side(0) * size.x, side(1) * size.y, side(2) * size.z)
        })
        .collect()
}

/// Points round the rim of a cylinder's end.
fn rim(from: &Point3<f64>, to: &Point3<f64>, diameter: f64, end: &Point3<f64>) -> Vec<Point3<f64>> {
    let axis = (to - from).try_normalize(0.0).unwrap_or_else(Vector3::z);
    let across = [Vector3::x(), Vector3::y()]
        .into_iter()
        .find(|v| v.dot(&axis).abs() < 0.9)
        .unwrap_or_else(Vector3::z);
    let u = axis.cross(&across).normalize();
    let v = axis.cross(&u);
    (0..64)
        .map(|i| {
            let (sin, cos) = (std::f64::consts::TAU * f64::from(i) / 64.0).sin_cos();
            end + (u * cos + v * sin) * (0.5 * diameter)
        })
        .collect()
}
