//! A route: machine + harness + limits + changes, checked, names resolved, in SI units.

mod axes;
mod change;
mod changed;
mod changed_harness;
mod corners;
mod counted;
mod girth;
mod sits_on;
mod string;

use nalgebra::{Point3, UnitVector3};

use crate::geometry::{Curve, Waypoint, smooth_path};
use crate::harness::{
    Branch, BranchId, Breakout, Circuit, Duty, Fixing, Held, LengthRule, Meeting, Splice, Wire,
};
use crate::machine::{BodyId, Machine, Stance};
use crate::quantity::Kind;

pub use change::{Added, Change, ChangeError, HeldAs, Step, What};
pub use corners::Corners;
pub use girth::Girth;
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
    /// Where branches meet.
    pub breakouts: Vec<Breakout>,
    /// Circuits.
    pub circuits: Vec<Circuit>,
    /// Splices.
    pub splices: Vec<Splice>,
    /// How the machine is used.
    pub duty: Duty,
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

/// A span of a branch, from one fixing to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Index in the branch's lay of the fixing where it starts; it ends at the next.
    pub from: usize,
    /// Distance along the branch from its first fixing to the span's start \[m\].
    pub start: f64,
    /// Unstretched length \[m\]; beside a fixing that the branch slides through, that with which it was laid.
    pub length: f64,
    /// Whether its two fixings are on bodies that move against each other. A breakout that floats counts as being on
    /// all the bodies that its branches are fixed to.
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
            let ends = (branch.lay[lay - 1].fixing.on, branch.lay[lay].fixing.on);
            let behind = (self.carriers(ends.0), self.carriers(ends.1));
            spans.push(Span {
                from: lay - 1,
                start,
                length,
                moving: any_pair(&behind, |a, b| self.machine.moves_against(a, b)),
            });
            start += length;
        }
        spans
    }

    /// The bodies that say where `body` is: itself, or, if it is a breakout that floats, those that the harness about
    /// it is fixed to.
    pub fn carriers(&self, body: BodyId) -> Vec<BodyId> {
        let floating = |body: BodyId| {
            self.breakouts
                .iter()
                .find(|breakout| breakout.body == body && breakout.held == Held::Floats)
        };
        let (mut found, mut open, mut seen) = (Vec::new(), vec![body], vec![body]);
        while let Some(body) = open.pop() {
            let Some(breakout) = floating(body) else {
                found.push(body);
                continue;
            };
            for meeting in &breakout.meets {
                let lay = &self.branches[meeting.branch.0].lay;
                let before = lay[..meeting.lay].iter().rev();
                let after = lay[meeting.lay + 1..].iter();
                // What lies behind a fixing that holds direction does not reach through it.
                for way in [before.collect::<Vec<_>>(), after.collect::<Vec<_>>()] {
                    for entry in way {
                        let on = entry.fixing.on;
                        if !seen.contains(&on) {
                            seen.push(on);
                            open.push(on);
                        }
                        if entry.fixing.holds_direction() && !entry.fixing.slides() {
                            break;
                        }
                    }
                }
            }
        }
        found.sort_unstable();
        found
    }
}

impl Route {
    /// The branches that hang together with `branch` through breakouts that float, itself among them, in order.
    pub fn together(&self, branch: BranchId) -> Vec<BranchId> {
        let mut found = vec![branch];
        let mut next = 0;
        while let Some(&here) = found.get(next) {
            next += 1;
            for breakout in self.breakouts.iter().filter(|b| b.floats()) {
                if breakout.meets.iter().any(|m| m.branch == here) {
                    let meets = breakout.meets.iter().map(|m| m.branch);
                    let new: Vec<BranchId> = meets.filter(|b| !found.contains(b)).collect();
                    found.extend(new);
                }
            }
        }
        found.sort_unstable();
        found.dedup();
        found
    }

    /// Whether a fixing is a breakout that floats: its place is only where it is looked for first.
    pub fn is_drawn_only(&self, fixing: &Fixing) -> bool {
        let mut floating = self.breakouts.iter().filter(|b| b.held == Held::Floats);
        floating.any(|breakout| breakout.body == fixing.on)
    }

    /// The route with these of its branches alone, in the order given, and the breakouts as far as they meet there. All
    /// branches that hang together are to be among them.
    pub fn only(&self, branches: &[BranchId]) -> Self {
        let new = |old: BranchId| branches.iter().position(|b| *b == old).map(BranchId);
        let breakouts = self.breakouts.iter().map(|breakout| Breakout {
            meets: breakout
                .meets
                .iter()
                .filter_map(|meeting| {
                    Some(Meeting {
                        branch: new(meeting.branch)?,
                        ..*meeting
                    })
                })
                .collect(),
            ..breakout.clone()
        });
        Self {
            branches: branches
                .iter()
                .map(|branch| self.branches[branch.0].clone())
                .collect(),
            breakouts: breakouts.filter(|b| !b.meets.is_empty()).collect(),
            ..self.clone()
        }
    }
}

fn any_pair(of: &(Vec<BodyId>, Vec<BodyId>), is: impl Fn(BodyId, BodyId) -> bool) -> bool {
    of.0.iter().any(|&a| of.1.iter().any(|&b| is(a, b)))
}
