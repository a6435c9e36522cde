//! Scans: triangles or bare points with an index, placed on the machine.
//!
//! Triangles give the exact distance, signed where the mesh is closed ([`Surface::open`] says why it is not). Bare points
//! count as balls whose radius is the allowance for their spacing: between the points of a square grid of pitch h the
//! surface may be up to h/√2 from the nearest of them, so the distance to the points overstates what is clear, and the
//! distance to the balls does not. Of a hole in a scan nothing is known.

mod alignment;
mod batch;
mod build;
mod closed;
mod cloud;
mod frame;
mod hollow;
mod tree;
mod triangle;

use std::f64::consts::FRAC_1_SQRT_2;
use std::sync::Arc;

use nalgebra::{Isometry3, Point3, UnitVector3, Vector3};
use rayon::prelude::*;

pub use alignment::{Alignment, AlignmentError, align};
pub(crate) use closed::Mixing;
pub use closed::Open;

use self::closed::Closed;
use self::tree::{MOST, Tree};
use self::triangle::{Foot, Primitive, Triangle};
use super::Contact;
use super::shape::NO_GRADIENT;

/// A scan where it is with every joint at zero. A copy shares the surface; moving one costs nothing.
#[derive(Debug, Clone)]
pub struct Scan {
    /// What was scanned, in its own frame \[m\].
    pub surface: Arc<Surface>,
    /// From the scan's own frame to the machine's.
    pub placed: Isometry3<f64>,
}

impl PartialEq for Scan {
    fn eq(&self, other: &Self) -> bool {
        self.placed == other.placed
            && (Arc::ptr_eq(&self.surface, &other.surface) || self.surface == other.surface)
    }
}

/// Scanned triangles or points, indexed.
#[derive(PartialEq)]
pub struct Surface {
    held: Held,
    low: Point3<f64>,
    high: Point3<f64>,
}

// Without its millions of triangles.
impl std::fmt::Debug for Surface {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Surface")
            .field("count", &self.count())
            .field("spacing", &self.spacing())
            .field("open", &self.open())
            .field("low", &self.low)
            .field("high", &self.high)
            .finish()
    }
}

#[derive(PartialEq)]
enum Held {
    Mesh {
        tree: Tree<Triangle>,
        closed: Result<Closed, Open>,
    },
    Cloud {
        tree: Tree<Point3<f64>>,
        spacing: f64,
    },
}

/// Why there is no surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SurfaceError {
    /// No triangles, no points.
    #[error("there is nothing in it")]
    Empty,
    /// More than an index can hold.
    #[error("it has more than {} million pieces", MOST / 1_000_000)]
    TooMany,
    /// A number that is not finite.
    #[error("a coordinate is not a finite number")]
    NotFinite,
    /// A triangle names a corner that is not there.
    #[error("a triangle names a corner that is not there")]
    NoSuchCorner,
    /// All points stand at the same place, so that nothing tells how far apart a scan's points are.
    #[error("all its points are the same")]
    OnePoint,
}

impl Surface {
    /// A surface of triangles: corners \[m\], and of each triangle its three. Corners that are the same place must be
    /// the same corner if the mesh is to count as closed.
    ///
    /// # Errors
    /// Nothing in it, too much, what is not finite, corners that are not there.
    pub fn of_triangles(
        corners: &[Point3<f64>],
        triangles: &[[u32; 3]],
    ) -> Result<Self, SurfaceError> {
        let corner = |i: u32| {
            let corner = corners.get(i as usize);
            let corner = *corner.ok_or(SurfaceError::NoSuchCorner)?;
            if corner.iter().all(|c| c.is_finite()) {
                Ok(corner)
            } else {
                Err(SurfaceError::NotFinite)
            }
        };
        let listed: Vec<Triangle> = triangles
            .iter()
            .map(|&[a, b, c]| Ok([corner(a)?, corner(b)?, corner(c)?]))
            .collect::<Result<_, SurfaceError>>()?;
        room(listed.len())?;
        let (tree, order) = Tree::new(&listed);
        drop(listed);
        let ordered: Vec<[u32; 3]> = order.par_iter().map(|&i| triangles[i as usize]).collect();
        let closed = Closed::of(&tree.primitives, &ordered);
        let (low, high) = frame(tree.primitives.iter().flatten());
        Ok(Self {
            held: Held::Mesh { tree, closed },
            low,
            high,
        })
    }

    /// A surface of bare points \[m\].
    ///
    /// # Errors
    /// Nothing in it, too much, what is not finite, points that are all the same.
    pub fn of_points(points: &[Point3<f64>]) -> Result<Self, SurfaceError> {
        room(points.len())?;
        if !points.iter().flat_map(Point3::iter).all(|c| c.is_finite()) {
            return Err(SurfaceError::NotFinite);
        }
        let spacing = cloud::spacing(points).ok_or(SurfaceError::OnePoint)?;
        let (tree, _) = Tree::new(points);
        let (low, high) = frame(points.iter());
        Ok(Self {
            held: Held::Cloud { tree, spacing },
            low,
            high,
        })
    }

    /// Number of triangles, or of points.
    pub fn count(&self) -> usize {
        match &self.held {
            Held::Mesh { tree, .. } => tree.primitives.len(),
            Held::Cloud { tree, .. } => tree.primitives.len(),
        }
    }

    /// Distance between the points of a cloud \[m\]; `None` for triangles.
    pub fn spacing(&self) -> Option<f64> {
        match &self.held {
            Held::Mesh { .. } => None,
            Held::Cloud { spacing, .. } => Some(*spacing),
        }
    }

    /// By how much the distance to the points of a cloud is counted down \[m\]: the spacing over √2. Zero for triangles.
    pub fn allowance(&self) -> f64 {
        self.spacing().map_or(0.0, |h| h * FRAC_1_SQRT_2)
    }

    /// Why a mesh has no inside; `None` where it has one, and for points.
    pub fn open(&self) -> Option<Open> {
        match &self.held {
            Held::Mesh { closed, .. } => closed.as_ref().err().copied(),
            Held::Cloud { .. } => None,
        }
    }

    /// Opposite corners of the box around it \[m\].
    pub fn frame(&self) -> (Point3<f64>, Point3<f64>) {
        (self.low, self.high)
    }

    /// The corners of each triangle, or each point by itself \[m\].
    pub(crate) fn pieces(&self) -> Box<dyn Iterator<Item = &[Point3<f64>]> + '_> {
        match &self.held {
            Held::Mesh { tree, .. } => Box::new(tree.primitives.iter().map(Primitive::corners)),
            Held::Cloud { tree, .. } => Box::new(tree.primitives.iter().map(Primitive::corners)),
        }
    }

    /// The nearest piece: its index and the place on it, and whether `p` is inside; `None` where `p` is too far off to be
    /// measured.
    fn nearest(&self, p: &Point3<f64>, guess: Option<usize>) -> Option<(usize, Foot, bool)> {
        match &self.held {
            Held::Mesh { tree, closed } => {
                let (i, foot, _) = tree.nearest(p, f64::INFINITY, guess)?;
                let inside = closed
                    .as_ref()
                    .is_ok_and(|closed| closed.inside(&tree.primitives, i, &foot, &(p - foot.at)));
                Some((i, foot, inside))
            }
            Held::Cloud { tree, .. } => {
                let (i, foot, _) = tree.nearest(p, f64::INFINITY, guess)?;
                Some((i, foot, false))
            }
        }
    }

    fn distance(&self, p: &Point3<f64>) -> f64 {
        self.distance_from(p, &mut None)
    }

    /// The distance, and which piece is nearest: a guess before, the answer after.
    fn distance_from(&self, p: &Point3<f64>, piece: &mut Option<usize>) -> f64 {
        let Some((i, foot, inside)) = self.nearest(p, *piece) else {
            // Coordinates beyond what can be squared.
            return f64::NAN;
        };
        *piece = Some(i);
        let away = (p - foot.at).norm();
        if inside {
            -away
        } else {
            away - self.allowance()
        }
    }

    /// Whether the distance is less than `than` \[m\].
    fn is_nearer(&self, p: &Point3<f64>, than: f64) -> bool {
        let far = than + self.allowance();
        match &self.held {
            // Inside it is less, however far the surface is.
            Held::Mesh { closed: Ok(_), .. } => self.distance(p) < than,
            _ if far.is_nan() || far <= 0.0 => false,
            Held::Mesh { tree, .. } => tree.nearest(p, far * far, None).is_some(),
            Held::Cloud { tree, .. } => tree.nearest(p, far * far, None).is_some(),
        }
    }

    fn contact(&self, p: &Point3<f64>) -> Contact {
        let Some((i, foot, inside)) = self.nearest(p, None) else {
            return Contact::flat(f64::NAN, Vector3::x());
        };
        self.contact_at(p, i, &foot, inside)
    }

    /// The contact with the piece that is nearest.
    fn contact_at(&self, p: &Point3<f64>, i: usize, foot: &Foot, inside: bool) -> Contact {
        let away = p - foot.at;
        let d = away.norm();
        let sign = if inside { -1.0 } else { 1.0 };
        let distance = sign * d - self.allowance();
        if d <= NO_GRADIENT {
            return Contact::flat(distance, self.normal(i));
        }
        let corners = match &self.held {
            Held::Cloud { tree, .. } => tree.primitives[i].corners(),
            Held::Mesh { tree, .. } => tree.primitives[i].corners(),
        };
        Contact {
            distance,
            normal: UnitVector3::new_unchecked(away / (d * sign)),
            bend: hollow::bend(corners, foot, &away) * sign,
        }
    }

    /// A normal of a piece, where the nearest place tells none.
    fn normal(&self, i: usize) -> Vector3<f64> {
        match &self.held {
            Held::Mesh { tree, .. } => {
                closed::normal(&tree.primitives[i]).unwrap_or_else(Vector3::z)
            }
            Held::Cloud { .. } => Vector3::z(),
        }
    }
}

/// A piece of a scan: a convex one, grown by the scan's allowance.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece<'a> {
    corners: &'a [Point3<f64>],
    allowance: f64,
}

impl Piece<'_> {
    /// Distance from `p` and its gradient, both in the scan's own frame.
    pub(crate) fn slope(&self, p: &Point3<f64>) -> (f64, Vector3<f64>) {
        let foot = match *self.corners {
            [a, b, c] => [a, b, c].foot(p).at,
            [a] => a,
            _ => return (f64::NAN, Vector3::zeros()),
        };
        let away = p - foot;
        let d = away.norm();
        let gradient = if d > 0.0 { away / d } else { Vector3::zeros() };
        (d - self.allowance, gradient)
    }
}

impl Scan {
    /// Signed distance from `p` \[m\].
    pub(super) fn distance(&self, p: &Point3<f64>) -> f64 {
        self.surface
            .distance(&self.placed.inverse_transform_point(p))
    }

    /// Whether the signed distance from `p` is less than `than` \[m\].
    pub(super) fn is_nearer(&self, p: &Point3<f64>, than: f64) -> bool {
        self.surface
            .is_nearer(&self.placed.inverse_transform_point(p), than)
    }

    /// Signed distances from many places \[m\], in their order.
    pub(super) fn distances(&self, places: &[Point3<f64>]) -> Vec<f64> {
        let local: Vec<Point3<f64>> = places
            .iter()
            .map(|p| self.placed.inverse_transform_point(p))
            .collect();
        self.surface.distances(&local)
    }

    /// The nearest place on the surface.
    pub(super) fn contact(&self, p: &Point3<f64>) -> Contact {
        let turn = self.placed.rotation.to_rotation_matrix();
        self.surface
            .contact(&self.placed.inverse_transform_point(p))
            .turned::<true>(&turn)
    }

    /// A ball that holds it: its middle and radius \[m\].
    pub(crate) fn bounds(&self) -> (Point3<f64>, f64) {
        let (low, high) = self.surface.frame();
        let middle = self.placed * nalgebra::center(&low, &high);
        (middle, 0.5 * (high - low).norm() + self.surface.allowance())
    }

    /// Whether a point can be inside it at all.
    pub(crate) fn has_inside(&self) -> bool {
        matches!(&self.surface.held, Held::Mesh { closed: Ok(_), .. })
    }

    /// Calls `visit` for each piece that may be nearer to the box from `low` to `high` (own frame) than `reach` \[m\];
    /// `visit` gives the reach from there on.
    pub(crate) fn near_box(
        &self,
        (low, high): (&Point3<f64>, &Point3<f64>),
        reach: f64,
        visit: &mut dyn FnMut(&Piece<'_>) -> f64,
    ) {
        let allowance = self.surface.allowance();
        match &self.surface.held {
            Held::Mesh { tree, .. } => {
                let mut of_triangle = |corners: &Triangle| visit(&Piece { corners, allowance });
                tree.near_box(low, high, &mut of_triangle, reach);
            }
            Held::Cloud { tree, .. } => {
                let mut of_point = |point: &Point3<f64>| {
                    let corners = std::slice::from_ref(point);
                    visit(&Piece { corners, allowance }) + allowance
                };
                tree.near_box(low, high, &mut of_point, reach + allowance);
            }
        }
    }

    /// The piece nearest to `p` (own frame), and whether `p` is inside.
    pub(crate) fn nearest_piece(&self, p: &Point3<f64>) -> Option<(Piece<'_>, bool)> {
        let (i, _, inside) = self.surface.nearest(p, None)?;
        let corners = match &self.surface.held {
            Held::Mesh { tree, .. } => tree.primitives[i].corners(),
            Held::Cloud { tree, .. } => tree.primitives[i].corners(),
        };
        let allowance = self.surface.allowance();
        Some((Piece { corners, allowance }, inside))
    }
}

fn room(count: usize) -> Result<(), SurfaceError> {
    match count {
        0 => Err(SurfaceError::Empty),
        n if n >= MOST => Err(SurfaceError::TooMany),
        _ => Ok(()),
    }
}

fn frame<'a>(points: impl Iterator<Item = &'a Point3<f64>>) -> (Point3<f64>, Point3<f64>) {
    let start = (
        Point3::from(Vector3::repeat(f64::INFINITY)),
        Point3::from(Vector3::repeat(f64::NEG_INFINITY)),
    );
    points.fold(start, |(low, high), p| (low.inf(p), high.sup(p)))
}
