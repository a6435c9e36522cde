//! How much of what a bundle sees is a hot part.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use nalgebra::{Isometry3, Matrix3, Point3, Vector3};

use crate::geometry::Shape;
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

/// Lanes across the bundle that rays leave in, and by how many the next ray jumps.
const LANES: (u32, u32) = (16, 7);
/// 1/g³ with g⁴ = g + 1 (Roberts' R3 sequence): far from every simple share.
const ASIDE: f64 = 0.549_700_477_901_560_4;

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

/// The rays of a viewer, told in its own frame: up, aside, along. Those that go nearly the same way stand together.
#[derive(Debug, Clone, PartialEq)]
pub struct Rays(Vec<Sheaf>);

/// Rays that go nearly the same way.
#[derive(Debug, Clone, PartialEq)]
struct Sheaf {
    rays: Vec<Ray>,
    /// About which they go: a unit vector, and sine and cosine of the most that one leans from it.
    axis: Vector3<f64>,
    spread: (f64, f64),
}

/// One of them: where on the surface it begins, as the normal there, and where it goes, both unit vectors.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Ray {
    normal: Vector3<f64>,
    way: Vector3<f64>,
}

impl Sheaf {
    fn new(rays: Vec<Ray>) -> Self {
        let sum: Vector3<f64> = rays.iter().map(|ray| ray.way).sum();
        let axis = sum.try_normalize(0.0).unwrap_or_else(Vector3::z);
        let cosines = rays.iter().map(|ray| ray.way.dot(&axis));
        // A hair more, for what is rounded.
        let cosine = (cosines.fold(1.0, f64::min) - 1e-9).max(-1.0);
        Self {
            rays,
            axis,
            spread: ((1.0 - cosine * cosine).sqrt(), cosine),
        }
    }

    /// Whether one of the rays may meet what is seen within a cone, none of them leaning by more than a right angle.
    #[inline]
    fn may_meet(&self, cone: &Cone) -> bool {
        let ((sin, cos), (s, c)) = (self.spread, cone.half);
        // Cones that together are wider than half a turn miss nothing. What is not a number may be met.
        let apart = sin * c + cos * s > 0.0 && self.axis.dot(&cone.axis) < cos * c - sin * s - 1e-9;
        cone.all || !apart
    }
}

/// What is seen of a ball from anywhere on the viewer: a unit vector, sine and cosine of half the opening.
struct Cone {
    axis: Vector3<f64>,
    half: (f64, f64),
    /// The viewer stands in it.
    all: bool,
}

impl Cone {
    /// The ball in the viewer's frame; rays begin within `radius` of the viewer's middle.
    fn of(ball: &Ball, radius: f64) -> Self {
        let (away, wide) = (ball.middle.coords.norm(), ball.square.sqrt() + radius);
        let sine = wide / away;
        Self {
            axis: ball.middle.coords / away,
            half: (sine, (1.0 - sine * sine).max(0.0).sqrt()),
            all: sine.partial_cmp(&1.0) != Some(Ordering::Less),
        }
    }
}

/// Cells along each side of the cube that directions are sorted by.
const CELLS: u8 = 8;

/// The cell of a cube around the viewer through which a direction leaves it.
fn cell(way: &Vector3<f64>) -> (usize, bool, u8, u8) {
    let face = way.iamax();
    let on_face = |axis: usize| {
        let cell = 0.5 * f64::from(CELLS) * (way[axis] / way[face].abs() + 1.0);
        (0..CELLS)
            .rfind(|&step| f64::from(step) <= cell)
            .unwrap_or(0)
    };
    (
        face,
        way[face] > 0.0,
        on_face((face + 1) % 3),
        on_face((face + 2) % 3),
    )
}

impl Rays {
    /// So many rays, in whole fours. Seen along the bundle, what leaves it by the cosine law are all straight lines evenly:
    /// their directions stand at even angles, and lanes across it take turns, so that the edge of what is seen falls
    /// between directions as finely as all rays together. By how much a ray leans along the bundle is drawn by itself, as
    /// that does not matter to what runs beside it. Rays come in fours, ahead and back, left and right.
    pub fn new(count: u32) -> Self {
        let fours = count.div_ceil(4);
        let ray = |ray: u32| {
            let (four, side, ahead) = (
                ray / 4,
                if ray.is_multiple_of(2) { 1.0 } else { -1.0 },
                if ray % 4 < 2 { 1.0 } else { -1.0 },
            );
            let leans = (0.5 + f64::from(four) * ASIDE).fract();
            let lane = four * LANES.1 % LANES.0;
            let across = 2.0 * (0.5 + f64::from(lane)) / f64::from(LANES.0) - 1.0;
            let direction = std::f64::consts::PI * (0.5 + f64::from(four)) / f64::from(fours);
            let around = side * (direction - across.asin());
            let across = side * across;
            let (ahead, out) = (ahead * slant(0.5 + 0.5 * leans)).sin_cos();
            let normal = Vector3::new(around.cos(), around.sin(), 0.0);
            let side = Vector3::new(-normal.y, normal.x, 0.0);
            let square = normal * (1.0 - across * across).sqrt() + side * across;
            Ray {
                normal,
                way: square * out + Vector3::z() * ahead,
            }
        };
        let mut cells: BTreeMap<_, Vec<Ray>> = BTreeMap::new();
        for ray in (0..4 * fours).map(ray) {
            cells.entry(cell(&ray.way)).or_default().push(ray);
        }
        Self(cells.into_values().map(Sheaf::new).collect())
    }
}

/// A ball that holds a part.
struct Ball {
    middle: Point3<f64>,
    square: f64,
}

impl Ball {
    /// Whether a ray may meet what is in it.
    #[inline]
    fn may_be_met(&self, from: &Point3<f64>, way: &Vector3<f64>) -> bool {
        let to = self.middle - from;
        let (ahead, away) = (to.dot(way), to.norm_squared());
        // Not past the ball, and not away from it.
        away <= self.square || (ahead >= 0.0 && away - ahead * ahead <= self.square)
    }
}

/// A piece of a part that may be seen, with a ball that holds it in the machine frame.
struct Target<'p> {
    shape: &'p Shape,
    motion: &'p Isometry3<f64>,
    ball: Ball,
    /// In the viewer's own frame.
    cone: Cone,
    /// The hot part that it is of, by its place in the list; `None` of what stands in the way.
    of: Option<usize>,
}

impl Target<'_> {
    /// How far a ray goes until it meets the piece, where that is within `reach`.
    fn met(&self, from: &Point3<f64>, way: &Vector3<f64>, reach: f64) -> Option<f64> {
        if !self.ball.may_be_met(from, way) {
            return None;
        }
        let from = self.motion.inverse_transform_point(from);
        let way = self.motion.inverse_transform_vector(way);
        self.shape.met(&from, &way, reach)
    }
}

/// View factors from a piece of bundle to each of `hot`, other parts standing in the way. Of a pipe that runs along, 8192
/// rays find the view factor to 1 %, on whichever side it lies. Rays are told from the vertical: a machine that stands
/// elsewhere, turned or mirrored, and a bundle that is told from its other end, see the same.
pub fn seen<'m>(
    surroundings: &'m Surroundings<'m>,
    stance: &Stance,
    viewer: &Viewer,
    hot: &[PartId],
    rays: &Rays,
) -> Vec<f64> {
    let parts = &surroundings.machine().parts;
    let mut hits = vec![0.0; hot.len()];
    // What stands upright has no side that is above.
    let up = Vector3::z() - viewer.along * viewer.along.z;
    let v = up
        .try_normalize(1e-6)
        .unwrap_or_else(|| viewer.along.cross(&Vector3::y()).normalize());
    let frame = Matrix3::from_columns(&[v, viewer.along.cross(&v), viewer.along]);
    let target = |of: Option<usize>, id: PartId, shape: &'m Shape| {
        let motion = &stance.bodies[parts[id.0].on.0];
        let (middle, radius) = shape.bounds();
        // A hair more, for what is rounded.
        let square = (radius * (1.0 + 1e-9) + 1e-9).powi(2);
        let middle = motion * middle;
        let to = Point3::from(frame.tr_mul(&(middle - viewer.at)));
        Target {
            shape,
            motion,
            cone: Cone::of(&Ball { middle: to, square }, viewer.radius),
            ball: Ball { middle, square },
            of,
        }
    };
    let targets: Vec<Target<'_>> = (0..parts.len())
        .map(PartId)
        .flat_map(|id| {
            let of = hot.iter().position(|&part| part == id);
            surroundings
                .pieces_of(id)
                .iter()
                .map(move |shape| (of, id, shape))
        })
        .map(|(of, id, shape)| target(of, id, shape))
        .collect();
    let (mut shining, mut standing) = (Vec::new(), Vec::new());
    for sheaf in &rays.0 {
        let met = |target: &&Target<'_>| sheaf.may_meet(&target.cone);
        let (hot, others) = (
            targets.iter().filter(|target| target.of.is_some()),
            targets.iter().filter(|target| target.of.is_none()),
        );
        shining.clear();
        shining.extend(hot.filter(met));
        if shining.is_empty() {
            continue;
        }
        standing.clear();
        standing.extend(others.filter(met));
        for ray in &sheaf.rays {
            let (normal, way) = (frame * ray.normal, frame * ray.way);
            let from = viewer.at + normal * viewer.radius;
            let (mut first, mut far) = (None, f64::INFINITY);
            for target in &shining {
                if let Some(gone) = target.met(&from, &way, far) {
                    (first, far) = (target.of, gone);
                }
            }
            // What stands in the way is asked for only where something hot would be seen.
            if let Some(index) = first
                && !standing
                    .iter()
                    .any(|part| part.met(&from, &way, far).is_some())
            {
                hits[index] += 1.0;
            }
        }
    }
    let count = rays.0.iter().map(|sheaf| sheaf.rays.len()).sum::<usize>();
    let count = u32::try_from(count).unwrap_or(u32::MAX).max(1);
    hits.into_iter().map(|hit| hit / f64::from(count)).collect()
}

/// No view factor from a piece of bundle to each of `hot` is greater than this: that of the ball which holds the part, or of the
/// round rods which hold its pieces, nothing standing in the way. Of the light that a thin cylinder sheds, what goes in
/// directions of Ω is no more than Ω/π², as if all of it were shed square to the cylinder (∫ sin θ dΩ = π² over all
/// directions).
pub fn seen_at_most(
    surroundings: &Surroundings<'_>,
    stance: &Stance,
    viewer: &Viewer,
    hot: &[PartId],
) -> Vec<f64> {
    let share = |directions: f64| {
        // Rays are counted: a few more may fall on what is seen than its share. What is not a number bounds nothing.
        let most = 1.02 * directions / std::f64::consts::PI.powi(2) + 1e-3;
        if most.is_nan() { 1.0 } else { most.min(1.0) }
    };
    let bound = |id: &PartId| {
        let part = &surroundings.machine().parts[id.0];
        let motion = &stance.bodies[part.on.0];
        let eye = motion.inverse_transform_point(&viewer.at);
        let ball = |shape: &Shape| {
            let (middle, radius) = shape.bounds();
            directions(&eye, &middle, &middle, radius + viewer.radius)
        };
        let rod = |shape: &Shape| match shape {
            Shape::Tube { along, diameter } => match along[..] {
                [a, b] => directions(&eye, &a, &b, 0.5 * diameter + viewer.radius),
                _ => ball(shape),
            },
            Shape::Cylinder { from, to, diameter } => {
                directions(&eye, from, to, 0.5 * diameter + viewer.radius).min(ball(shape))
            }
            Shape::Ball { .. } | Shape::Block { .. } | Shape::Scan(_) => ball(shape),
        };
        let pieces = surroundings.pieces_of(*id).iter();
        share(ball(&part.shape)).min(pieces.map(|piece| share(rod(piece))).sum())
    };
    hot.iter().map(bound).collect()
}

/// The directions \[sr\] in which something of a rod with round ends is seen, from `a` to `b` and of this radius \[m\], no more than
/// these: caps of a sphere, as wide as the nearest, along the arc from one end to the other.
fn directions(eye: &Point3<f64>, a: &Point3<f64>, b: &Point3<f64>, radius: f64) -> f64 {
    let (to_a, to_b, run) = (a - eye, b - eye, b - a);
    let square = run.norm_squared();
    let foot = if square > 0.0 {
        (-to_a.dot(&run) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let sine = radius / (to_a + run * foot).norm();
    if sine.partial_cmp(&1.0) != Some(Ordering::Less) {
        return 4.0 * std::f64::consts::PI;
    }
    let cap = std::f64::consts::TAU * (1.0 - (1.0 - sine * sine).sqrt());
    2.0 * sine * to_a.angle(&to_b) + cap
}

/// The angle at which a ray leans along the bundle, of which a share `share` lean less: the cosine law, over all
/// directions square to the bundle, leaves the density (2/π) cos², whose integral is inverted by Newton's method.
fn slant(share: f64) -> f64 {
    let wanted = std::f64::consts::PI * (share - 0.5);
    let mut angle = 0.0_f64;
    for _ in 0..40 {
        let (sin, cos) = angle.sin_cos();
        let step = (wanted - angle - sin * cos) / (2.0 * cos * cos).max(0.05);
        angle += step;
        if step.abs() < 1e-9 {
            break;
        }
    }
    angle
}
