//! The nearest place on a triangle or on a bare point.
//!
//! Regions as in Ericson, "Real-Time Collision Detection" (2005), section 5.1.5. A triangle that is almost a line has
//! barycentric coordinates that rounding may spoil, so there the three edges are looked at as well.

use nalgebra::{Point3, Vector3};

/// A triangle by its corners.
pub(super) type Triangle = [Point3<f64>; 3];

/// Squared sine of the angle at a corner below which the edges are looked at as well.
const SLIVER: f64 = 1e-8;

/// Which place of a triangle is nearest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Feature {
    /// Its inside.
    Face,
    /// The edge from corner `.0` to the next.
    Edge(usize),
    /// The corner.
    Corner(usize),
}

/// The nearest place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Foot {
    pub(super) at: Point3<f64>,
    pub(super) feature: Feature,
}

/// What an index can hold.
pub(super) trait Primitive: Copy + Send + Sync {
    /// Its corners; it is their convex hull.
    fn corners(&self) -> &[Point3<f64>];
    /// A direction across it and one along it, both longer the larger it is; zero where it has none.
    fn lies(&self) -> (Vector3<f64>, Vector3<f64>);
    /// The place on it that is nearest to `p`.
    fn foot(&self, p: &Point3<f64>) -> Foot;
}

impl Primitive for Point3<f64> {
    fn corners(&self) -> &[Self] {
        std::slice::from_ref(self)
    }

    fn lies(&self) -> (Vector3<f64>, Vector3<f64>) {
        (Vector3::zeros(), Vector3::zeros())
    }

    fn foot(&self, _: &Self) -> Foot {
        Foot {
            at: *self,
            feature: Feature::Corner(0),
        }
    }
}

impl Primitive for Triangle {
    fn corners(&self) -> &[Point3<f64>] {
        self
    }

    fn lies(&self) -> (Vector3<f64>, Vector3<f64>) {
        let [a, b, c] = self;
        let sides = [b - a, c - b, a - c];
        let longest = sides.map(|side| side.norm_squared());
        (
            sides[0].cross(&sides[2]),
            sides[Vector3::from(longest).imax()],
        )
    }

    #[inline]
    fn foot(&self, p: &Point3<f64>) -> Foot {
        let [a, b, c] = self;
        let (ab, ac) = (b - a, c - a);
        let (ab2, ac2) = (ab.norm_squared(), ac.norm_squared());
        let area2 = ab2 * ac2 - ab.dot(&ac).powi(2);
        let foot = by_region(p, self);
        if area2 > SLIVER * ab2 * ac2 {
            return foot;
        }
        // Almost or wholly a line. What is inside is then worth something only where it is a number.
        let away = |foot: &Foot| (p - foot.at).norm_squared();
        let edges = (0..3).map(|i| edge(p, self, i));
        edges.fold(foot, |best, foot| {
            if away(&best) <= away(&foot) {
                best
            } else {
                foot
            }
        })
    }
}

/// By the region that the point lies in.
#[inline]
fn by_region(p: &Point3<f64>, [a, b, c]: &Triangle) -> Foot {
    let corner = |i: usize, at: &Point3<f64>| Foot {
        at: *at,
        feature: Feature::Corner(i),
    };
    let (ab, ac, ap) = (b - a, c - a, p - a);
    let (d1, d2) = (ab.dot(&ap), ac.dot(&ap));
    if d1 <= 0.0 && d2 <= 0.0 {
        return corner(0, a);
    }
    let bp = p - b;
    let (d3, d4) = (ab.dot(&bp), ac.dot(&bp));
    if d3 >= 0.0 && d4 <= d3 {
        return corner(1, b);
    }
    let vc = d1 * d4 - d3 * d2;
    if vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0 {
        return Foot {
            at: a + ab * (d1 / (d1 - d3)),
            feature: Feature::Edge(0),
        };
    }
    let cp = p - c;
    let (d5, d6) = (ab.dot(&cp), ac.dot(&cp));
    if d6 >= 0.0 && d5 <= d6 {
        return corner(2, c);
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0 {
        return Foot {
            at: a + ac * (d2 / (d2 - d6)),
            feature: Feature::Edge(2),
        };
    }
    let va = d3 * d6 - d5 * d4;
    let (past_b, before_c) = (d4 - d3, d5 - d6);
    if va <= 0.0 && past_b >= 0.0 && before_c >= 0.0 {
        return Foot {
            at: b + (c - b) * (past_b / (past_b + before_c)),
            feature: Feature::Edge(1),
        };
    }
    let whole = va + vb + vc;
    Foot {
        at: a + ab * (vb / whole) + ac * (vc / whole),
        feature: Feature::Face,
    }
}

/// The nearest place on edge `i` alone.
fn edge(p: &Point3<f64>, corners: &Triangle, i: usize) -> Foot {
    let (from, to) = (corners[i], corners[(i + 1) % 3]);
    let (share, _) = crate::geometry::shape::foot_on_segment(p, &from, &to);
    if share <= 0.0 {
        Foot {
            at: from,
            feature: Feature::Corner(i),
        }
    } else if share >= 1.0 {
        Foot {
            at: to,
            feature: Feature::Corner((i + 1) % 3),
        }
    } else {
        Foot {
            at: from + (to - from) * share,
            feature: Feature::Edge(i),
        }
    }
}
