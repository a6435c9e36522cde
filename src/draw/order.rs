//! Which part is drawn over which.

use nalgebra::Isometry3;

use crate::geometry::Shape;
use crate::machine::{Part, Stance};

use super::display::{Frame, Spot};
use super::project::Projection;
use super::silhouette::Area;

/// Spots per side at which two parts are compared.
const SPOTS: u32 = 9;

/// Indices of the parts, farthest from the eye first. Where two outlines overlap, the part that is nearer at
/// most of the spots compared goes later; where that runs in a circle, the part whose middle is farther goes
/// first.
pub(crate) fn farthest_first(
    parts: &[Part],
    stance: &Stance,
    outlines: &[Area],
    projection: &Projection,
) -> Vec<usize> {
    let frames: Vec<Option<Frame>> = outlines
        .iter()
        .map(|o| Frame::around(o.iter().flatten()))
        .collect();
    let depth = |i: usize, spot: Spot| {
        let part = &parts[i];
        nearness(&part.shape, &stance.bodies[part.on.0], spot, projection)
    };
    let count = parts.len();
    let mut under = vec![Vec::new(); count];
    for a in 0..count {
        for b in a + 1..count {
            let nearer = compare(
                (&outlines[a], &outlines[b]),
                (frames[a], frames[b]),
                |spot| Some(depth(b, spot)? - depth(a, spot)?),
            );
            match nearer {
                n if n > 0 => under[b].push(a),
                n if n < 0 => under[a].push(b),
                _ => {}
            }
        }
    }
    let middle: Vec<f64> = parts
        .iter()
        .map(|part| middle(&part.shape, &stance.bodies[part.on.0], projection))
        .collect();
    sorted(&under, &middle)
}

/// How many more spots see the second part in front than the first.
fn compare(
    outlines: (&Area, &Area),
    frames: (Option<Frame>, Option<Frame>),
    ahead: impl Fn(Spot) -> Option<f64>,
) -> i32 {
    let (Some(a), Some(b)) = frames else { return 0 };
    if !a.overlaps(&b) {
        return 0;
    }
    let (x, y) = (a.x.max(b.x), a.y.max(b.y));
    let (w, h) = (a.right().min(b.right()) - x, a.bottom().min(b.bottom()) - y);
    let mut votes = 0;
    for i in 0..SPOTS {
        for j in 0..SPOTS {
            let part = |k: u32| (f64::from(k) + 0.5) / f64::from(SPOTS);
            let spot = [x + w * part(i), y + h * part(j)];
            if inside(outlines.0, spot) && inside(outlines.1, spot) {
                votes += match ahead(spot) {
                    Some(d) if d > 1e-6 => 1,
                    Some(d) if d < -1e-6 => -1,
                    _ => 0,
                };
            }
        }
    }
    votes
}

/// Whether a spot is inside an area (even-odd).
pub(crate) fn inside(area: &Area, s: Spot) -> bool {
    let mut inside = false;
    for contour in area {
        let next = contour.iter().cycle().skip(1);
        for (a, b) in contour.iter().zip(next) {
            if (a[1] > s[1]) != (b[1] > s[1])
                && s[0] < (b[0] - a[0]) * (s[1] - a[1]) / (b[1] - a[1]) + a[0]
            {
                inside = !inside;
            }
        }
    }
    inside
}

/// How near to the eye the surface of a shape is at a spot \[m\], by walking along the line of sight in steps of
/// the distance to the surface; `None` where the line misses it.
fn nearness(
    shape: &Shape,
    motion: &Isometry3<f64>,
    spot: Spot,
    projection: &Projection,
) -> Option<f64> {
    let (middle, reach) = ball_around(shape, motion);
    let start = projection.nearness(&middle) + reach;
    let mut at = start;
    for _ in 0..200 {
        let p = motion.inverse_transform_point(&projection.point(spot, at));
        let distance = shape.distance(&p);
        if distance < 1e-5 {
            return Some(at);
        }
        at -= distance;
        if start - at > 2.0 * reach + 1e-3 || !at.is_finite() {
            break;
        }
    }
    None
}

/// How near the middle of a shape is.
fn middle(shape: &Shape, motion: &Isometry3<f64>, projection: &Projection) -> f64 {
    projection.nearness(&ball_around(shape, motion).0)
}

/// A ball that holds the shape.
fn ball_around(shape: &Shape, motion: &Isometry3<f64>) -> (nalgebra::Point3<f64>, f64) {
    let (points, margin) = match shape {
        Shape::Tube { along, diameter } => (along.clone(), 0.5 * diameter),
        Shape::Block { centre, size, .. } => (vec![*centre], 0.5 * size.norm()),
        Shape::Ball { centre, diameter } => (vec![*centre], 0.5 * diameter),
        Shape::Cylinder { from, to, diameter } => (vec![*from, *to], 0.5 * diameter),
        Shape::Scan(_) => {
            let (middle, radius) = shape.bounds();
            (vec![middle], radius)
        }
    };
    let sum = points
        .iter()
        .map(|p| p.coords)
        .sum::<nalgebra::Vector3<f64>>();
    let middle = nalgebra::Point3::from(sum / points.len().max(1) as f64);
    let reach = points
        .iter()
        .map(|p| (p - middle).norm())
        .fold(0.0, f64::max);
    (motion * middle, reach + margin)
}

/// A topological order: what is under comes first, the lower `middle` first where both may come.
fn sorted(under: &[Vec<usize>], middle: &[f64]) -> Vec<usize> {
    let mut left: Vec<usize> = (0..under.len()).collect();
    let mut order = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let free = |i: usize| under[i].iter().all(|u| !left.contains(u));
        let ready: Vec<usize> = left.iter().copied().filter(|&i| free(i)).collect();
        let choice = if ready.is_empty() { &left } else { &ready };
        let Some(&next) = choice
            .iter()
            .min_by(|&&a, &&b| middle[a].total_cmp(&middle[b]).then(a.cmp(&b)))
        else {
            break;
        };
        left.retain(|&i| i != next);
        order.push(next);
    }
    order
}
