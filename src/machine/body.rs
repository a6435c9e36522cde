//! Bodies in a tree, each on a joint.

use nalgebra::{Isometry3, Point3, UnitVector3};

use super::Part;

/// Index of a body in [`Machine::bodies`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BodyId(pub usize);

/// A rigid body and how it moves.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// Name from the route file.
    pub name: String,
    /// The body that this one moves on; `None` for a fixed one. Always earlier in [`Machine::bodies`].
    pub on: Option<BodyId>,
    /// How it moves.
    pub joint: Joint,
}

/// How a body moves on its parent. Axes and points are those at joint value zero everywhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Joint {
    /// It does not.
    Fixed,
    /// Turns about an axis, right-handed.
    Turns {
        /// A point on the axis \[m\].
        through: Point3<f64>,
        /// Direction of the axis.
        axis: UnitVector3<f64>,
        /// Least angle \[rad\].
        from: f64,
        /// Greatest angle \[rad\].
        to: f64,
    },
    /// Slides along a direction.
    Slides {
        /// Direction of travel.
        along: UnitVector3<f64>,
        /// Least travel \[m\].
        from: f64,
        /// Greatest travel \[m\].
        to: f64,
    },
}

/// All bodies and parts. Parents stand before their children.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Machine {
    /// The bodies, parents first.
    pub bodies: Vec<Body>,
    /// The parts, in the order of the route file.
    pub parts: Vec<Part>,
}

/// Where every body is in one pose: for each body, the motion from where it was drawn (every joint at zero).
#[derive(Debug, Clone, PartialEq)]
pub struct Stance {
    /// One motion per body, in the order of [`Machine::bodies`].
    pub bodies: Vec<Isometry3<f64>>,
}

impl Machine {
    /// Where every body is when the joints have these values (one a body).
    pub fn stance(&self, _joints: &[f64]) -> Stance {
        todo!()
    }

    /// Whether two bodies can move against each other.
    pub fn moves_against(&self, _a: BodyId, _b: BodyId) -> bool {
        todo!()
    }
}
