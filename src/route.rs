//! A route: machine + harness + limits + changes, checked, names resolved, in SI units.

mod corners;
mod string;

use nalgebra::{Point3, UnitVector3, Vector3};

use crate::geometry::{Curve, Waypoint, smooth_path};
use crate::harness::{Branch, LengthRule, Wire};
use crate::machine::{Machine, Stance};
use crate::quantity::Kind;

pub use corners::Corners;
pub use string::{StringFit, StringOff};

/// Everything that a route file says, resolved. Nothing in it is a name that could be missing or a number
/// without a meaning.
#[derive(Debug, Clone, PartialEq)]
pub struct Route {
    /// Title from the file.
    pub title: String,
    /// One standard deviation of every measured position, each axis \[m\].
    pub tolerance: f64,
    /// Every measured point that a fixing or waypoint stands on, with every joint at zero. A named point
    /// stands here once however often it is used, so that it moves as one.
    pub places: Vec<Place>,
    /// Bodies and parts.
    pub machine: Machine,
    /// Kinds of wire.
    pub wires: Vec<Wire>,
    /// The branches.
    pub branches: Vec<Branch>,
    /// Limits that the file overrides.
    pub limits: Vec<LimitOverride>,
    /// Named what-ifs.
    pub changes: Vec<Change>,
    /// What was filled in by default, each as a sentence.
    pub assumed: Vec<String>,
    /// What makes the result weaker, each as a sentence.
    pub warnings: Vec<String>,
}

/// A measured point.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// Its name in `points`, where it has one.
    pub name: Option<String>,
    /// Where it is with every joint at zero \[m\].
    pub at: Point3<f64>,
    /// Root mean square of the misfit of its taped distances \[m\]; `None` where it was not taped.
    pub misfit: Option<f64>,
}

/// A limit of the route file that replaces a default.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitOverride {
    /// Key of the limit, as in the table of limits.
    pub key: String,
    /// The value.
    pub value: LimitValue,
    /// Why it replaces the default.
    pub why: String,
}

/// The value of a limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LimitValue {
    /// So many diameters of the branch.
    Diameters(f64),
    /// A value in the SI unit of its kind.
    Value(f64, Kind),
}

/// A named what-if.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// Its name.
    pub name: String,
    /// What moves, each by a translation \[m\].
    pub moves: Vec<(String, Vector3<f64>)>,
}

/// A span of a branch, from one fixing to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Index in the branch's lay of the fixing where it starts; it ends at the next.
    pub from: usize,
    /// Distance along the branch from its first fixing to the span's start \[m\].
    pub start: f64,
    /// Unstretched length \[m\].
    pub length: f64,
    /// Whether its two fixings are on bodies that move against each other.
    pub moving: bool,
}

impl Span {
    /// Distance along the branch from its first fixing to the span's end \[m\].
    pub fn end(&self) -> f64 {
        self.start + self.length
    }
}

impl Route {
    /// Where the fixing `lay` of `branch` is in `stance` \[m\].
    pub fn fixing_position(&self, branch: &Branch, lay: usize, stance: &Stance) -> Point3<f64> {
        let fixing = &branch.lay[lay].fixing;
        stance.bodies[fixing.on.0] * self.places[fixing.place].at
    }

    /// The direction that the fixing `lay` of `branch` holds in `stance`, where it holds one.
    pub fn fixing_facing(
        &self,
        branch: &Branch,
        lay: usize,
        stance: &Stance,
    ) -> Option<UnitVector3<f64>> {
        let fixing = &branch.lay[lay].fixing;
        fixing
            .facing
            .map(|facing| stance.bodies[fixing.on.0] * facing)
    }

    /// The smooth path of a whole branch through its fixings and waypoints with the bodies at `rest`, and
    /// the index of the knot at each fixing.
    pub fn smooth_path(&self, branch: &Branch, rest: &Stance) -> (Curve, Vec<usize>) {
        let mut waypoints = Vec::new();
        let mut fixings = Vec::new();
        for (lay, entry) in branch.lay.iter().enumerate() {
            for via in &entry.vias {
                let position = rest.bodies[via.on.0] * self.places[via.place].at;
                waypoints.push(Waypoint {
                    position,
                    direction: None,
                });
            }
            fixings.push(waypoints.len());
            waypoints.push(Waypoint {
                position: self.fixing_position(branch, lay, rest),
                direction: self.fixing_facing(branch, lay, rest),
            });
        }
        (smooth_path(&waypoints), fixings)
    }

    /// The spans of a branch, their lengths worked out with the bodies at `rest`.
    pub fn spans(&self, branch: &Branch, rest: &Stance) -> Vec<Span> {
        let (path, knots) = self.smooth_path(branch, rest);
        let mut start = 0.0;
        let mut spans = Vec::new();
        for lay in 1..branch.lay.len() {
            let (a, b) = (
                self.fixing_position(branch, lay - 1, rest),
                self.fixing_position(branch, lay, rest),
            );
            let length = match branch.lay[lay].length {
                LengthRule::Measured(length) => length,
                LengthRule::Slack(slack) => (b - a).norm() + slack,
                LengthRule::Strung(readings) => {
                    self.string_fit(branch, lay, &readings).map_or_else(
                        || path.length_between(knots[lay - 1], knots[lay]),
                        |fit| fit.length,
                    )
                }
                LengthRule::SmoothPath => path.length_between(knots[lay - 1], knots[lay]),
            };
            let bodies = (branch.lay[lay - 1].fixing.on, branch.lay[lay].fixing.on);
            spans.push(Span {
                from: lay - 1,
                start,
                length,
                moving: self.machine.moves_against(bodies.0, bodies.1),
            });
            start += length;
        }
        spans
    }
}
