//! Shapes with an exact signed distance.

use nalgebra::{Matrix3, Point3, Rotation3, UnitVector3, Vector3};

use super::Scan;
use super::eased::{Eased, of_tube};

/// Nearer than this to a place where the distance has no single gradient (a tube's axis, a ball's middle, a
/// sharp edge itself) the normal is one of the several that are right there, and `bend`, which has no finite
/// value, is given as zero \[m\].
pub(super) const NO_GRADIENT: f64 = 1e-9;

/// A solid shape, drawn where it is with every joint at zero. Sizes \[m\].
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A round tube along a line of at least two points, with round ends and round bends.
    Tube {
        /// Its centreline.
        along: Vec<Point3<f64>>,
        /// Outside diameter.
        diameter: f64,
    },
    /// A box; sides along the axes of `turned`.
    Block {
        /// Its middle.
        centre: Point3<f64>,
        /// Full lengths of its sides.
        size: Vector3<f64>,
        /// Its three axes as columns (a rotation).
        turned: Rotation3<f64>,
    },
    /// A ball.
    Ball {
        /// Its middle.
        centre: Point3<f64>,
        /// Diameter.
        diameter: f64,
    },
    /// A solid cylinder with flat ends.
    Cylinder {
        /// Middle of one end.
        from: Point3<f64>,
        /// Middle of the other end.
        to: Point3<f64>,
        /// Diameter.
        diameter: f64,
    },
    /// A scan: triangles or bare points. Only where its triangles close round it has it an inside; elsewhere the
    /// distance is never below zero, and the normal looks to the side that the point is on.
    Scan(Scan),
}

/// The nearest place on a shape's surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contact {
    /// Signed distance \[m\], negative inside.
    pub distance: f64,
    /// Outward normal there: the gradient of the distance.
    pub normal: UnitVector3<f64>,
    /// Second derivative of the distance \[1/m\].
    pub bend: Matrix3<f64>,
}

/// How far a shape's surface is, and which way from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slope {
    /// Signed distance \[m\], negative inside.
    pub distance: f64,
    /// Outward normal at the nearest place of the surface: the gradient of the distance.
    pub normal: UnitVector3<f64>,
}

impl Shape {
    /// A slab: a thin plate about `centre`, `thickness` along `normal`, `length` along the part of `along`
    /// that is square to the normal, `width` across both. `None` where the normal has no length or `along`
    /// has none beside it.
    pub fn slab(
        centre: Point3<f64>,
        normal: Vector3<f64>,
        along: Vector3<f64>,
        length: f64,
        width: f64,
        thickness: f64,
    ) -> Option<Self> {
        let up = normal.try_normalize(0.0)?;
        let square = along - up * up.dot(&along);
        // What is left of `along` is noise where it was parallel to the normal but for rounding.
        let forward = square.try_normalize(1e-12 * along.norm())?;
        Some(Self::Block {
            centre,
            size: Vector3::new(length, width, thickness),
            turned: Rotation3::from_basis_unchecked(&[forward, up.cross(&forward), up]),
        })
    }

    /// Whether the straight way between any two of its points stays inside, so that no two of its faces look at each
    /// other.
    pub fn is_convex(&self) -> bool {
        match self {
            Self::Tube { along, .. } => along.len() <= 2,
            other => matches!(
                other,
                Self::Block { .. } | Self::Ball { .. } | Self::Cylinder { .. }
            ),
        }
    }

    /// The nearest place on the surface, seen from `p`, both in the shape's own frame.
    ///
    /// Exact outside and inside; only inside a [`Shape::Tube`] that bends, on the inner side of the bend, the
    /// depth is that below the straight piece's own surface, which can be less than the way out. Where several
    /// places are nearest (the middle of a ball, equal walls of a box) one of them is taken, always the same.
    /// A point that is not finite gives a distance of NaN.
    #[inline]
    pub fn contact(&self, p: &Point3<f64>) -> Contact {
        self.touched::<true>(p)
    }

    /// Signed distance from `p` and the normal there: those of [`Shape::contact`], faster.
    #[inline]
    pub fn slope(&self, p: &Point3<f64>) -> Slope {
        let Contact {
            distance, normal, ..
        } = self.touched::<false>(p);
        Slope { distance, normal }
    }

    /// As [`Shape::contact`], smoothed over so many metres where the shape is hollow: there the distance is at most a few
    /// times that less.
    pub fn eased(&self, p: &Point3<f64>, over: f64) -> Eased {
        match self {
            Self::Scan(scan) if p.iter().all(|c| c.is_finite()) => scan.eased(p, over),
            Self::Tube { along, diameter } if along.len() > 2 => {
                of_tube(p, along, 0.5 * diameter, over).unwrap_or_else(|| self.contact(p).into())
            }
            _ => self.contact(p).into(),
        }
    }

    /// The nearest place on the surface; what is not `BENT` has no second derivative.
    #[inline]
    fn touched<const BENT: bool>(&self, p: &Point3<f64>) -> Contact {
        if !p.iter().all(|c| c.is_finite()) {
            return Contact::flat(f64::NAN, Vector3::x());
        }
        match self {
            Self::Tube { along, diameter } => tube_contact::<BENT>(p, along, 0.5 * diameter),
            Self::Block {
                centre,
                size,
                turned,
            } => {
                let local = turned.inverse_transform_vector(&(p - centre));
                block_contact::<BENT>(&local, size).turned::<BENT>(turned)
            }
            Self::Ball { centre, diameter } => {
                let across = Matrix3::identity();
                round_contact::<BENT>(p - centre, &across, 0.5 * diameter, Vector3::z)
            }
            Self::Cylinder { from, to, diameter } => {
                cylinder_contact::<BENT>(p, from, to, 0.5 * diameter)
            }
            Self::Scan(scan) => scan.contact(p),
        }
    }

    /// Of a scan of bare points their spacing and by how much distances to them are counted down \[m\].
    pub fn cloud(&self) -> Option<(f64, f64)> {
        match self {
            Self::Scan(scan) => Some((scan.surface.spacing()?, scan.surface.allowance())),
            _ => None,
        }
    }

    /// Signed distances from many places \[m\], in their order, each as [`Shape::distance`] gives it. For a scan this is
    /// faster than one place after another, in whatever order they are.
    pub fn distances(&self, places: &[Point3<f64>]) -> Vec<f64> {
        match self {
            Self::Scan(scan) => scan.distances(places),
            _ => places.iter().map(|p| self.distance(p)).collect(),
        }
    }

    /// Whether the signed distance from `p` is less than `than` \[m\]: where it is not, soon told of a scan.
    pub fn is_nearer(&self, p: &Point3<f64>, than: f64) -> bool {
        match self {
            Self::Scan(scan) if p.iter().all(|c| c.is_finite()) => scan.is_nearer(p, than),
            _ => self.distance(p) < than,
        }
    }

    /// Signed distance from `p` \[m\], negative inside: that of [`Shape::contact`], faster.
    pub fn distance(&self, p: &Point3<f64>) -> f64 {
        if !p.iter().all(|c| c.is_finite()) {
            return f64::NAN;
        }
        match self {
            Self::Tube { along, diameter } => {
                let feet = along.windows(2).map(|w| foot_on_segment(p, &w[0], &w[1]).1);
                let nearest2 = feet.map(|away| away.norm_squared());
                let alone = match along.as_slice() {
                    [only] => (p - only).norm_squared(),
                    _ => f64::INFINITY,
                };
                nearest2.fold(alone, f64::min).sqrt() - 0.5 * diameter
            }
            Self::Block {
                centre,
                size,
                turned,
            } => {
                let beyond = turned.inverse_transform_vector(&(p - centre)).abs() - size * 0.5;
                let outside = beyond.map(|b| b.max(0.0)).norm();
                outside + beyond.max().min(0.0)
            }
            Self::Ball { centre, diameter } => (p - centre).norm() - 0.5 * diameter,
            Self::Cylinder { from, to, diameter } => {
                let run = to - from;
                let length = run.norm();
                let w = p - nalgebra::center(from, to);
                let u = if length > 0.0 {
                    run / length
                } else {
                    Vector3::z()
                };
                let along = w.dot(&u);
                let past_side = (w - u * along).norm() - 0.5 * diameter;
                let past_end = along.abs() - 0.5 * length;
                past_side.max(0.0).hypot(past_end.max(0.0)) + past_side.max(past_end).min(0.0)
            }
            Self::Scan(scan) => scan.distance(p),
        }
    }
}

impl Contact {
    /// A contact with a flat face.
    pub(super) fn flat(distance: f64, normal: Vector3<f64>) -> Self {
        Self {
            distance,
            normal: UnitVector3::new_unchecked(normal),
            bend: Matrix3::zeros(),
        }
    }

    /// The same contact in a frame that `rotation` leads to.
    #[inline]
    pub(super) fn turned<const BENT: bool>(self, rotation: &Rotation3<f64>) -> Self {
        let normal = rotation * self.normal;
        if !BENT {
            return Self { normal, ..self };
        }
        Self {
            distance: self.distance,
            normal,
            bend: turned_about(rotation, &self.bend),
        }
    }
}

/// R B Rᵀ as sums of R's columns: a product of matrices is a call of its own as often as not, and this is looked at
/// for every place that touches anything.
#[inline]
pub(super) fn turned_about(rotation: &Rotation3<f64>, b: &Matrix3<f64>) -> Matrix3<f64> {
    let own = rotation.matrix();
    let r: [Vector3<f64>; 3] = std::array::from_fn(|i| own.column(i).into_owned());
    let sum = |weights: [f64; 3]| r[0] * weights[0] + r[1] * weights[1] + r[2] * weights[2];
    let c: [Vector3<f64>; 3] = std::array::from_fn(|i| sum([b[(i, 0)], b[(i, 1)], b[(i, 2)]]));
    let column = |j: usize| sum([c[0][j], c[1][j], c[2][j]]);
    Matrix3::from_columns(&[column(0), column(1), column(2)])
}

/// Contact with what lies `radius` around a point or a line. `away` is the vector from the nearest point of
/// the core, `across` the projector on the directions in which the core does not run on.
#[inline]
fn round_contact<const BENT: bool>(
    away: Vector3<f64>,
    across: &Matrix3<f64>,
    radius: f64,
    any_normal: impl FnOnce() -> Vector3<f64>,
) -> Contact {
    let d = away.norm();
    if d <= NO_GRADIENT {
        return Contact::flat(d - radius, any_normal());
    }
    let n = away / d;
    let mut contact = Contact::flat(d - radius, n);
    if BENT {
        contact.bend = (across - outer(&n, &n)) / d;
    }
    contact
}

/// a bᵀ, by columns: a product of matrices is a call of its own as often as not.
#[inline(always)]
pub(crate) fn outer(a: &Vector3<f64>, b: &Vector3<f64>) -> Matrix3<f64> {
    Matrix3::from_columns(&[a * b.x, a * b.y, a * b.z])
}

/// A unit vector square to the unit vector `u`, always the same one.
fn square_to(u: &Vector3<f64>) -> Vector3<f64> {
    let axis = Vector3::ith(u.iamin(), 1.0);
    (axis - u * u.dot(&axis)).normalize()
}

/// The point nearest to `p` on a segment: its share of the way from `a` to `b` (0 to 1) and the vector from
/// there to `p`.
#[inline]
pub(super) fn foot_on_segment(
    p: &Point3<f64>,
    a: &Point3<f64>,
    b: &Point3<f64>,
) -> (f64, Vector3<f64>) {
    let (run, w) = (b - a, p - a);
    let length2 = run.norm_squared();
    let share = if length2 > 0.0 {
        (w.dot(&run) / length2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (share, w - run * share)
}

#[inline]
fn tube_contact<const BENT: bool>(p: &Point3<f64>, along: &[Point3<f64>], radius: f64) -> Contact {
    let feet = along
        .windows(2)
        .map(|w| (w[1] - w[0], foot_on_segment(p, &w[0], &w[1])));
    let nearest = feet.min_by(|a, b| a.1.1.norm_squared().total_cmp(&b.1.1.norm_squared()));
    let Some((run, (share, away))) = nearest else {
        // Fewer than two points: a ball, or nothing at all and so infinitely far.
        return along.first().map_or_else(
            || Contact::flat(f64::INFINITY, Vector3::z()),
            |q| round_contact::<BENT>(p - q, &Matrix3::identity(), radius, Vector3::z),
        );
    };
    let u = run.try_normalize(0.0).unwrap_or_else(Vector3::x);
    let mut across = Matrix3::identity();
    if BENT && share > 0.0 && share < 1.0 {
        across -= outer(&u, &u);
    }
    round_contact::<BENT>(away, &across, radius, || square_to(&u))
}

/// Contact with a box of full side lengths `size` about the origin.
#[inline]
fn block_contact<const BENT: bool>(p: &Vector3<f64>, size: &Vector3<f64>) -> Contact {
    let half = size * 0.5;
    let beyond = p.abs() - half;
    let away = p.zip_map(&beyond, |c, b| b.max(0.0).copysign(c));
    let d = away.norm();
    if d <= NO_GRADIENT {
        // Inside or on the surface: straight out through the nearest wall.
        let wall = beyond.imax();
        let distance = if d > 0.0 { d } else { beyond[wall] };
        return Contact::flat(distance, Vector3::ith(wall, 1f64.copysign(p[wall])));
    }
    let n = away / d;
    let mut contact = Contact::flat(d, n);
    if BENT {
        let across = Matrix3::from_diagonal(&beyond.map(|b| if b > 0.0 { 1.0 } else { 0.0 }));
        contact.bend = (across - outer(&n, &n)) / d;
    }
    contact
}

#[inline]
fn cylinder_contact<const BENT: bool>(
    p: &Point3<f64>,
    from: &Point3<f64>,
    to: &Point3<f64>,
    radius: f64,
) -> Contact {
    let run = to - from;
    let u = run.try_normalize(0.0).unwrap_or_else(Vector3::z);
    let w = p - nalgebra::center(from, to);
    let along = w.dot(&u);
    let out = w - u * along;
    let rho = out.norm();
    let beside = if rho > NO_GRADIENT {
        out / rho
    } else {
        square_to(&u)
    };
    let end = u * 1f64.copysign(along);
    let (past_side, past_end) = (rho - radius, along.abs() - 0.5 * run.norm());
    let around = || {
        let around = u.cross(&beside);
        outer(&around, &around)
    };

    let d = past_side.max(0.0).hypot(past_end.max(0.0));
    if past_side > 0.0 && past_end > 0.0 && d > NO_GRADIENT {
        // The rim: a circle seen from outside. In the half plane through the axis the distance is that to a
        // point; around the axis the slope across the axis turns with the half plane.
        let n = (beside * past_side + end * past_end) / d;
        let mut contact = Contact::flat(d, n);
        if BENT {
            let level = (beside * past_end - end * past_side) / d;
            contact.bend = outer(&level, &level) / d + around() * (past_side / (d * rho));
        }
        return contact;
    }
    let distance = if d > 0.0 { d } else { past_side.max(past_end) };
    if past_side >= past_end {
        let mut contact = Contact::flat(distance, beside);
        if BENT && rho > NO_GRADIENT {
            contact.bend = around() / rho;
        }
        contact
    } else {
        Contact::flat(distance, end)
    }
}
