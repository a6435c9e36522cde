//! Strain of the strands over one sweep of a joint, between free and bonded.
//!
//! The strain of a strand changes by ε = h·κ with the curvature κ at the lever h: half the strand's own diameter where
//! it slips, the distance to the far side of what it is bonded to where it does not. Over a sweep the range is h times
//! the greatest distance between two curvature vectors of the section's frame; to that come what the pull changes, and
//! the twist as shear by γ/√3 (von Mises).

use crate::harness::{BranchId, PlacedWire, Section, Wire};
use crate::machine::BodyId;
use crate::rod::Solution;
use crate::route::Route;

use super::bond::{Bond, bond_at};
use super::flexing::{Flexed, Flexing};

/// Lever of the strain in a wire \[m\], least and most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lever {
    /// Strands that slip freely.
    pub least: f64,
    /// Bonded as far as the place allows.
    pub most: f64,
}

/// The lever of a wire at a place that is bonded so.
pub fn lever(wire: &Wire, placed: &PlacedWire, section: &Section, bond: Bond) -> Lever {
    let strand = (wire.area / f64::from(wire.strands.max(1)) * 4.0 / std::f64::consts::PI).sqrt();
    let least = 0.5 * strand;
    let ratio = section.bonded.bend / section.slipping.bend;
    let share = if ratio > 1.0 {
        ((bond.stiffer() - 1.0) / (ratio - 1.0)).min(1.0)
    } else {
        1.0
    };
    let far = placed.out() + placed.conductor;
    let most = least + share * (far - least).max(0.0);
    let own = if bond == Bond::Solid {
        placed.conductor
    } else {
        0.0
    };
    Lever {
        least,
        most: most.max(own).max(least),
    }
}

/// One joint swept from end to end with all others at rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    /// The body whose joint it is.
    pub joint: BodyId,
    /// Pose ids, joint value rising.
    pub poses: Vec<usize>,
}

/// What one place of a branch goes through in one sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct Swept {
    /// Index of the place in [`Flexed::at`].
    pub place: usize,
    /// Greatest change of the curvature vector \[1/m\].
    pub bend: f64,
    /// Greatest change of the twist per length \[rad/m\].
    pub twist: f64,
    /// Greatest change of the pull \[N\]; compression counts as none.
    pub pull: f64,
    /// The two poses between which the bend changes most.
    pub between: [usize; 2],
    /// The bend along the line between those two, pose by pose \[1/m\].
    pub course: Vec<f64>,
    /// How the place is bonded at most.
    pub bond: Bond,
}

impl Swept {
    /// Range of the strain in strands at this lever \[m\], with the bundle's stretching stiffness \[N\].
    pub fn strain(&self, lever: f64, stretch: f64) -> f64 {
        self.strain_for(self.bend, lever, stretch)
    }

    /// The same for part of the bend: twist and pull go with it in proportion.
    pub fn strain_for(&self, bend: f64, lever: f64, stretch: f64) -> f64 {
        let share = if self.bend > 0.0 {
            bend / self.bend
        } else {
            1.0
        };
        let along = lever * bend + share * self.pull / stretch;
        let shear = lever * share * self.twist;
        (along * along + shear * shear / 3.0).sqrt()
    }
}

/// The sweeps of all joints that have more than one pose.
pub fn sweeps(route: &Route, solution: &Solution) -> Vec<Sweep> {
    let (sweep, bodies) = (&solution.sweep, route.machine.bodies.len());
    let rest = &sweep.poses[sweep.rest].joints;
    (0..bodies)
        .filter_map(|body| {
            let mut poses: Vec<usize> = (0..sweep.poses.len())
                .filter(|&id| {
                    let joints = &sweep.poses[id].joints;
                    (0..bodies).all(|b| b == body || (joints[b] - rest[b]).abs() <= 1e-12)
                })
                .collect();
            poses.sort_by(|&a, &b| {
                let value = |id: usize| sweep.poses[id].joints[body];
                value(a).total_cmp(&value(b)).then(a.cmp(&b))
            });
            (poses.len() > 1).then_some(Sweep {
                joint: BodyId(body),
                poses,
            })
        })
        .collect()
}

impl Sweep {
    /// What every place of a branch goes through, in the order of the places.
    pub fn of(
        &self,
        route: &Route,
        solution: &Solution,
        branch: BranchId,
        flexed: &Flexed,
    ) -> Vec<Swept> {
        let bundle = &route.branches[branch.0];
        let spans = &solution.branches[branch.0].spans;
        (0..flexed.at.len())
            .map(|place| {
                let states: Vec<&Flexing> = self
                    .poses
                    .iter()
                    .map(|&pose| &flexed.poses[pose][place])
                    .collect();
                self.at(place, &states, bond_at(bundle, spans, flexed.at[place]))
            })
            .collect()
    }

    fn at(&self, place: usize, states: &[&Flexing], bond: Bond) -> Swept {
        let (mut most, mut pair) = (0.0, [0, 0]);
        for (i, a) in states.iter().enumerate() {
            for (j, b) in states.iter().enumerate().take(i) {
                let (dx, dy) = (a.bend[0] - b.bend[0], a.bend[1] - b.bend[1]);
                let apart = dx * dx + dy * dy;
                // Of several that tie the first is kept.
                if apart > most * (1.0 + 1e-9) {
                    (most, pair) = (apart, [j, i]);
                }
            }
        }
        let bend = most.sqrt();
        let (from, to) = (states[pair[0]].bend, states[pair[1]].bend);
        let way = if bend > 0.0 {
            [(to[0] - from[0]) / bend, (to[1] - from[1]) / bend]
        } else {
            [0.0, 0.0]
        };
        let range = |value: &dyn Fn(&Flexing) -> f64| {
            let (low, high) = states
                .iter()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |r, s| {
                    (r.0.min(value(s)), r.1.max(value(s)))
                });
            high - low
        };
        Swept {
            place,
            bend,
            twist: range(&|s| s.twist),
            pull: range(&|s| s.tension.max(0.0)),
            between: pair.map(|index| self.poses[index]),
            course: states
                .iter()
                .map(|s| (s.bend[0] - from[0]) * way[0] + (s.bend[1] - from[1]) * way[1])
                .collect(),
            bond,
        }
    }
}
