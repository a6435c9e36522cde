//! Bodies in a tree, each on a joint.

use nalgebra::{Isometry3, Point3, UnitQuaternion, UnitVector3, Vector3};

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
    /// What its motion is called, where the file says: "pressed", "compressed".
    pub said: Option<Said>,
}

/// What the motion of a body is called in each direction, so that a pose reads "seat pressed 12 mm".
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// Where the joint's value is below zero.
    pub below: String,
    /// Where it is above zero.
    pub above: String,
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

impl Joint {
    /// The steering: an axis through `through` that leans rearward at the top by `rake` \[rad\] from the
    /// vertical, axis = (−sin rake, 0, cos rake). A positive angle turns the front wheel to the left. `from`
    /// and `to` are the stops \[rad\].
    pub fn steering(through: Point3<f64>, rake: f64, from: f64, to: f64) -> Self {
        let (sin, cos) = rake.sin_cos();
        Self::Turns {
            through,
            axis: UnitVector3::new_normalize(Vector3::new(-sin, 0.0, cos)),
            from,
            to,
        }
    }

    /// Least and greatest value \[rad or m\]; both zero for a fixed one.
    pub fn stops(&self) -> (f64, f64) {
        match *self {
            Self::Fixed => (0.0, 0.0),
            Self::Turns { from, to, .. } | Self::Slides { from, to, .. } => (from, to),
        }
    }

    /// Whether it has any way to go.
    pub fn moves(&self) -> bool {
        let (from, to) = self.stops();
        from < to
    }

    /// Its value at rest: zero, or the nearer stop where zero does not lie between the stops.
    pub fn rest(&self) -> f64 {
        let (from, to) = self.stops();
        0f64.max(from).min(to)
    }

    /// The motion that it makes at `value` \[rad or m\], from where its body was drawn.
    pub fn motion(&self, value: f64) -> Isometry3<f64> {
        match self {
            Self::Fixed => Isometry3::identity(),
            Self::Turns { through, axis, .. } => Isometry3::rotation_wrt_point(
                UnitQuaternion::from_axis_angle(axis, value),
                *through,
            ),
            Self::Slides { along, .. } => {
                Isometry3::translation(along.x * value, along.y * value, along.z * value)
            }
        }
    }
}

impl Machine {
    /// Where every body is when the joints have these values (one a body; a missing one counts as zero).
    ///
    /// A body's own joint acts first, on the body as drawn, then everything that it rides on: axes are given
    /// at joint value zero and ride along.
    pub fn stance(&self, joints: &[f64]) -> Stance {
        let mut bodies: Vec<Isometry3<f64>> = Vec::with_capacity(self.bodies.len());
        for (i, body) in self.bodies.iter().enumerate() {
            let own = body.joint.motion(joints.get(i).copied().unwrap_or(0.0));
            let ridden = body.on.and_then(|on| bodies.get(on.0));
            bodies.push(ridden.map_or(own, |ridden| ridden * own));
        }
        Stance { bodies }
    }

    /// Joint values at rest, one a body: zero, or the nearer stop where zero does not lie between the stops.
    pub fn rest(&self) -> Vec<f64> {
        self.bodies.iter().map(|b| b.joint.rest()).collect()
    }

    /// The bodies whose joints have any way to go, in order.
    pub fn moving(&self) -> Vec<BodyId> {
        let bodies = self.bodies.iter().enumerate();
        bodies
            .filter_map(|(i, body)| body.joint.moves().then_some(BodyId(i)))
            .collect()
    }

    /// The bodies whose joints move `a` and `b` against each other and have any way to go, in order.
    pub fn joints_between(&self, a: BodyId, b: BodyId) -> Vec<BodyId> {
        let (a, b) = (self.ridden(a), self.ridden(b));
        let moves = |id: &BodyId| self.bodies.get(id.0).is_some_and(|body| body.joint.moves());
        (0..self.bodies.len())
            .map(BodyId)
            .filter(|id| a.contains(id) != b.contains(id))
            .filter(moves)
            .collect()
    }

    /// A body and all that it rides on.
    fn ridden(&self, body: BodyId) -> Vec<BodyId> {
        let mut way = Vec::new();
        let mut at = Some(body);
        while let Some(id) = at {
            way.push(id);
            let on = self.bodies.get(id.0).and_then(|body| body.on);
            at = on.filter(|on| *on < id);
        }
        way
    }

    /// Whether two bodies can move against each other: whether a joint on the way from one to the other
    /// through the tree has any way to go.
    pub fn moves_against(&self, a: BodyId, b: BodyId) -> bool {
        // Parents stand before their children, so the later of the two is never an ancestor of the other:
        // step down from it until both are the same body, or both have come to the ground.
        let (mut a, mut b) = (Some(a), Some(b));
        while a != b {
            let later = if a > b { &mut a } else { &mut b };
            let Some(body) = later.and_then(|id| self.bodies.get(id.0)) else {
                return false;
            };
            if body.joint.moves() {
                return true;
            }
            *later = body.on.filter(|on| Some(*on) < *later);
        }
        false
    }
}
