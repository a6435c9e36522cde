//! Shapes with an exact signed distance.

use nalgebra::{Matrix3, Point3, UnitVector3, Vector3};

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
        turned: nalgebra::Rotation3<f64>,
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

impl Shape {
    /// The nearest place on the surface, seen from `p`, both in the shape's own frame.
    pub fn contact(&self, _p: &Point3<f64>) -> Contact {
        todo!()
    }

    /// Signed distance from `p` \[m\], negative inside.
    pub fn distance(&self, p: &Point3<f64>) -> f64 {
        self.contact(p).distance
    }
}
