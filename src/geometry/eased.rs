//! The distance to a hollow shape without its kinks.
//!
//! In a hollow (the inner side of a tube's bend, a crease of a scan, between the points of a cloud) the nearest place
//! jumps from one piece of the surface to another, and with it the normal. What is pressed into a hollow comes to rest
//! just there, where no method finds it that follows slopes. So the pieces that are nearly as near are mixed: the
//! least of their distances is smoothed by the logarithm of the sum of their exponentials (Boyd & Vandenberghe, "Convex
//! Optimization", 2004, section 3.1.5), at most a few times `over` below the least itself.
//!
//! Only what lies across a hollow counts: of a piece that is convex, every other place is farther than its foot by
//! Pythagoras at least, so where the squares of two distances differ by that of the way between the feet, nothing is
//! hollow, and on flat or convex surfaces the distance stays what it is.

use nalgebra::{Matrix3, Point3, Rotation3, Vector3};

use super::shape::{Contact, NO_GRADIENT, foot_on_segment, outer, turned_about};

/// Pieces that are farther than the nearest by this many times `over` weigh a millionth of it, and are left out.
const SPAN: f64 = 14.0;
/// Two feet are the same place where the square of what is between them is no more than this part of the distance's.
const SAME_FOOT: f64 = 1e-8;

/// Most pieces that are mixed: more meet only about the middle of a scanned pipe or ball, where all are as near and none
/// matters more than another.
const MOST: usize = 32;

/// Distance, gradient and second derivative of what is eased.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Eased {
    /// Signed distance \[m\], negative inside.
    pub distance: f64,
    /// Its gradient: the outward normal, shorter than one in a hollow.
    pub gradient: Vector3<f64>,
    /// Its second derivative \[1/m\].
    pub bend: Matrix3<f64>,
}

impl From<Contact> for Eased {
    fn from(contact: Contact) -> Self {
        Self {
            distance: contact.distance,
            gradient: contact.normal.into_inner(),
            bend: contact.bend,
        }
    }
}

impl Eased {
    /// The same in a frame that `rotation` leads to.
    pub(crate) fn turned(self, rotation: &Rotation3<f64>) -> Self {
        Self {
            distance: self.distance,
            gradient: rotation * self.gradient,
            bend: turned_about(rotation, &self.bend),
        }
    }
}

/// The nearest place on one piece, from outside it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Near {
    /// From the foot to the place asked for \[m\]; not zero.
    pub(super) away: Vector3<f64>,
    /// Second derivative of the distance \[1/m\].
    pub(super) bend: Matrix3<f64>,
}

impl Near {
    fn distance(&self) -> f64 {
        self.away.norm()
    }

    fn normal(&self) -> Vector3<f64> {
        self.away / self.distance()
    }

    /// How the foot moves with the place.
    fn foot_moves(&self) -> Matrix3<f64> {
        let n = self.normal();
        Matrix3::identity() - outer(&n, &n) - self.bend * self.distance()
    }
}

/// A share between nothing and one, with its first and second derivatives by the place.
#[derive(Debug, Clone, Copy)]
struct Share {
    value: f64,
    first: Vector3<f64>,
    second: Matrix3<f64>,
}

impl Share {
    fn all() -> Self {
        Self {
            value: 1.0,
            ..Self::none()
        }
    }

    fn none() -> Self {
        Self {
            value: 0.0,
            first: Vector3::zeros(),
            second: Matrix3::zeros(),
        }
    }

    fn times(&self, other: &Self) -> Self {
        Self {
            value: self.value * other.value,
            first: self.first * other.value + other.first * self.value,
            second: self.second * other.value
                + outer(&self.first, &other.first)
                + outer(&other.first, &self.first)
                + other.second * self.value,
        }
    }

    fn rest(&self) -> Self {
        Self {
            value: 1.0 - self.value,
            first: -self.first,
            second: -self.second,
        }
    }

    /// How far a piece lies across a hollow from a nearer one: all where both are as near, nothing where no more than
    /// Pythagoras is between them.
    fn across(nearer: &Near, other: &Near) -> Self {
        let (d, least) = (other.distance(), nearer.distance());
        // From the foot of the one to that of the other.
        let apart = nearer.away - other.away;
        let s2 = apart.norm_squared();
        let farther = d * d - least * least;
        let x = (1.0 - farther / s2).min(1.0);
        if s2 <= SAME_FOOT * d * d || x.is_nan() || x <= 0.0 {
            return Self::none();
        }
        let feet = other.foot_moves() - nearer.foot_moves();
        let deepens = apart * (2.0 / s2) + feet.transpose() * apart * (2.0 * farther / (s2 * s2));
        Self {
            value: x * x * (3.0 - 2.0 * x),
            first: deepens * (6.0 * x * (1.0 - x)),
            // How fast the feet move on faces and along edges changes only at second order.
            second: outer(&deepens, &deepens) * (6.0 - 12.0 * x),
        }
    }
}

/// The distance to the nearest of some pieces less the radius about them \[m\], smoothed over so many metres; `None` without
/// any. Each counts as far as it lies across a hollow from every nearer one.
pub(super) fn mixed(mut pieces: Vec<Near>, radius: f64, over: f64) -> Option<Eased> {
    pieces.sort_by(|a, b| a.distance().total_cmp(&b.distance()));
    let (nearest, others) = pieces.split_first()?;
    let (n, least) = (nearest.normal(), nearest.distance());
    // The sum of the weights, and its first and second derivatives.
    let mut sum = 1.0;
    let mut first = n / -over;
    let mut second = outer(&n, &n) / (over * over) - nearest.bend / over;
    let mut counted = vec![(nearest, Share::all())];
    for other in others {
        if other.distance() > reach(least, over) || counted.len() == MOST {
            break;
        }
        // What lies beside a nearer piece that counts itself is a part of the same side.
        let mut own = Share::all();
        for (nearer, counts) in &counted {
            let beside = Share::across(nearer, other).rest();
            own = own.times(&counts.times(&beside).rest());
        }
        if own.value <= 0.0 {
            continue;
        }
        let e = ((least - other.distance()) / over).exp();
        let n = other.normal();
        sum += e * own.value;
        first += (own.first - n * (own.value / over)) * e;
        second += (own.second - (outer(&own.first, &n) + outer(&n, &own.first)) / over
            + (outer(&n, &n) / over - other.bend) * (own.value / over))
            * e;
        counted.push((other, own));
    }
    if counted.len() == 1 {
        return Some(Eased {
            distance: least - radius,
            gradient: n,
            bend: nearest.bend,
        });
    }
    let mean = first / sum;
    Some(Eased {
        distance: least - radius - over * sum.ln(),
        gradient: mean * -over,
        bend: (outer(&mean, &mean) - second / sum) * over,
    })
}

/// How far a piece may be to matter where the nearest is so far \[m\].
pub(super) fn reach(least: f64, over: f64) -> f64 {
    least + SPAN * over
}

/// A tube's straight pieces mixed; `None` where one alone is near, on the centreline, and where `p` is not finite.
pub(super) fn of_tube(
    p: &Point3<f64>,
    along: &[Point3<f64>],
    radius: f64,
    over: f64,
) -> Option<Eased> {
    let away = |ends: &[Point3<f64>]| foot_on_segment(p, &ends[0], &ends[1]).1.norm();
    let least = along.windows(2).map(away).fold(f64::INFINITY, f64::min);
    let as_near = |ends: &&[Point3<f64>]| away(ends) <= reach(least, over);
    if along.windows(2).filter(as_near).count() < 2 {
        return None;
    }
    let near = |ends: &[Point3<f64>]| {
        let (share, away) = foot_on_segment(p, &ends[0], &ends[1]);
        let d = away.norm();
        let mut across = Matrix3::identity();
        if share > 0.0 && share < 1.0 {
            let u = (ends[1] - ends[0]).try_normalize(0.0)?;
            across -= outer(&u, &u);
        }
        let n = away / d;
        let bend = (across - outer(&n, &n)) / d;
        (d > NO_GRADIENT).then_some(Near { away, bend })
    };
    let all: Vec<Near> = along.windows(2).map(near).collect::<Option<_>>()?;
    mixed(all, radius, over)
}
