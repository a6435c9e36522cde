//! Parallel projection of the machine onto paper.

use nalgebra::{Point3, UnitVector3, Vector3};

use super::display::{Frame, Spot};

/// From where the machine is seen: three unit vectors at right angles, right-handed, machine frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Viewpoint {
    /// To the right on paper.
    pub(crate) right: Vector3<f64>,
    /// Up on paper.
    pub(crate) up: Vector3<f64>,
    /// Out of the paper, towards the eye.
    pub(crate) toward: Vector3<f64>,
}

impl Viewpoint {
    /// From the rider's left: the front of the machine is on the left of the paper.
    pub(crate) fn side() -> Self {
        Self {
            right: -Vector3::x(),
            up: Vector3::z(),
            toward: Vector3::y(),
        }
    }

    /// From above, turned so that it stands straight below the side view.
    pub(crate) fn top() -> Self {
        Self {
            right: -Vector3::x(),
            up: -Vector3::y(),
            toward: Vector3::z(),
        }
    }

    /// From the front: the rider's left is on the right of the paper.
    pub(crate) fn front() -> Self {
        Self {
            right: Vector3::y(),
            up: Vector3::z(),
            toward: Vector3::x(),
        }
    }

    /// Along an axis, from the end that is higher (or further forward): forward is up on paper.
    pub(crate) fn along(axis: &UnitVector3<f64>) -> Self {
        let down = axis.z < -1e-9 || (axis.z.abs() <= 1e-9 && axis.x < 0.0);
        let toward = if down {
            -axis.into_inner()
        } else {
            axis.into_inner()
        };
        let ahead = [Vector3::x(), Vector3::z()]
            .into_iter()
            .find_map(|v| (v - toward * v.dot(&toward)).try_normalize(1e-3));
        let up = ahead.unwrap_or_else(Vector3::z);
        Self {
            right: up.cross(&toward),
            up,
            toward,
        }
    }

    /// How far right and up a point is \[m\].
    pub(crate) fn flat(&self, p: &Point3<f64>) -> [f64; 2] {
        [p.coords.dot(&self.right), p.coords.dot(&self.up)]
    }
}

/// A projection onto a frame of the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Projection {
    /// From where it is seen.
    pub(crate) viewpoint: Viewpoint,
    /// Millimetres of paper per metre of machine.
    pub(crate) scale: f64,
    /// How far right and up \[m\] the point is that lands in the middle of the frame.
    pub(crate) middle: [f64; 2],
    /// The frame.
    pub(crate) frame: Frame,
}

impl Projection {
    /// Where a point of the machine lands.
    pub(crate) fn spot(&self, p: &Point3<f64>) -> Spot {
        let [right, up] = self.viewpoint.flat(p);
        [
            self.frame.x + 0.5 * self.frame.w + (right - self.middle[0]) * self.scale,
            self.frame.y + 0.5 * self.frame.h - (up - self.middle[1]) * self.scale,
        ]
    }

    /// How near to the eye a point is \[m\]; greater is nearer.
    pub(crate) fn nearness(&self, p: &Point3<f64>) -> f64 {
        p.coords.dot(&self.viewpoint.toward)
    }

    /// The point that lands on `spot` and is `nearness` \[m\] near.
    pub(crate) fn point(&self, spot: Spot, nearness: f64) -> Point3<f64> {
        let right = (spot[0] - self.frame.x - 0.5 * self.frame.w) / self.scale + self.middle[0];
        let up = -(spot[1] - self.frame.y - 0.5 * self.frame.h) / self.scale + self.middle[1];
        let v = &self.viewpoint;
        Point3::from(v.right * right + v.up * up + v.toward * nearness)
    }
}
