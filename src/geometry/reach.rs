//! Where a slack length between two held points can be.

use nalgebra::{Point3, Vector3};

/// Newton steps to the nearest point of an ellipse; far fewer are needed.
const STEPS: usize = 60;

/// All places that some point of a thread can be pulled to: the thread is held at both ends and does not
/// stretch, so the two straight ways from a place to the ends are together no longer than it. That is a prolate
/// ellipsoid with the ends as its foci. What is stiff, or held in its direction too, reaches less far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// One end \[m\].
    pub from: Point3<f64>,
    /// The other end \[m\].
    pub to: Point3<f64>,
    /// Length of the thread \[m\]. Where it is shorter than the straight way it counts as that long.
    pub length: f64,
}

impl Reach {
    /// The straight way between the ends \[m\].
    pub fn straight(&self) -> f64 {
        (self.to - self.from).norm()
    }

    /// How far the middle can be pulled aside from the straight way, ½√(L² − d²) \[m\]: the ellipsoid's minor
    /// half axis.
    pub fn aside(&self) -> f64 {
        let d = self.straight();
        0.5 * ((self.length - d).max(0.0) * (self.length + d)).sqrt()
    }

    /// The slack with which a thread over a straight way `straight` can be pulled `aside` \[m\].
    pub fn slack_for(straight: f64, aside: f64) -> f64 {
        (2.0 * aside).hypot(straight) - straight
    }

    /// The middle between the ends.
    pub fn middle(&self) -> Point3<f64> {
        nalgebra::center(&self.from, &self.to)
    }

    /// How far the farthest place is from the middle \[m\].
    pub fn farthest(&self) -> f64 {
        0.5 * self.length.max(self.straight())
    }

    /// The place within reach that is nearest to `p`; `p` itself where it is within reach.
    ///
    /// Outside, the foot on the ellipse of the plane through the axis and `p` is at (a²x/(t + a²), b²y/(t + b²))
    /// for the root t of (ax/(t + a²))² + (by/(t + b²))² = 1, a function that falls and is convex for t ≥ 0, so
    /// that Newton's method from zero rises to the root and never past it (D. Eberly, "Distance from a point to an
    /// ellipse, an ellipsoid, or a hyperellipsoid", 2013, section 2; from memory).
    pub fn nearest(&self, p: &Point3<f64>) -> Point3<f64> {
        let (a, b) = (self.farthest(), self.aside());
        let middle = self.middle();
        let axis = (self.to - self.from)
            .try_normalize(0.0)
            .unwrap_or_else(Vector3::x);
        let w = p - middle;
        let x = w.dot(&axis);
        let across = w - axis * x;
        let y = across.norm();
        if b <= 0.0 {
            return middle + axis * x.clamp(-a, a);
        }
        if (x / a).powi(2) + (y / b).powi(2) <= 1.0 {
            return *p;
        }
        let mut t = 0.0;
        for _ in 0..STEPS {
            let (u, v) = (a * x / (t + a * a), b * y / (t + b * b));
            let over = u * u + v * v - 1.0;
            let step = over / (2.0 * (u * u / (t + a * a) + v * v / (t + b * b)));
            t += step;
            if step <= 1e-14 * (t + b * b) {
                break;
            }
        }
        let out = across.try_normalize(0.0).unwrap_or_else(Vector3::zeros);
        middle + axis * (a * a * x / (t + a * a)) + out * (b * b * y / (t + b * b))
    }
}
