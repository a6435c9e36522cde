//! What may be done to one fixing, as steps of a change.

use nalgebra::{Unit, UnitQuaternion, UnitVector3, Vector3};

use crate::route::{Added, HeldAs, Step, What};

/// Length to which a person can work \[m\].
const LENGTH: f64 = 5e-4;

/// Where a fixing goes.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Deed {
    /// It stays.
    Stay,
    /// It moves, and the branch is drawn through it.
    Shift {
        /// How far, with every joint at zero \[m\].
        by: Vector3<f64>,
        /// How much of the branch slides through \[m\].
        through: f64,
        /// Direction in which it may go on.
        along: UnitVector3<f64>,
    },
    /// It is put elsewhere, though it is none that is tied: a connector \[m\].
    Move(Vector3<f64>),
    /// It is taken off.
    Remove,
    /// It is new.
    Add(Box<Added>),
}

/// What is done to one fixing.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Touch {
    /// The fixing.
    pub(super) fixing: String,
    /// What it becomes, its direction left out.
    pub(super) exchange: Option<HeldAs>,
    pub(super) deed: Deed,
    /// Its direction; `Some(None)` lets it go.
    pub(super) facing: Option<Option<UnitVector3<f64>>>,
    /// Whether it gets the direction in which the branch lies of itself, in the middle of the sweep.
    pub(super) settles: bool,
    /// By how much the span that leads to it grows \[m\].
    pub(super) longer: f64,
}

impl Touch {
    pub(super) fn new(fixing: &str, deed: Deed) -> Self {
        Self {
            fixing: fixing.to_owned(),
            exchange: None,
            deed,
            facing: None,
            settles: false,
            longer: 0.0,
        }
    }

    /// Whether the branch is only drawn through it, and nothing else is done to it.
    pub(super) fn only_draws(&self) -> bool {
        let stays = matches!(&self.deed, Deed::Shift { by, .. } if by.norm() <= 0.0);
        stays && self.facing.is_none() && self.exchange.is_none() && !self.settles
    }

    /// How many sizes may be varied: along, drawn through, two angles.
    pub(super) fn sizes(&self) -> usize {
        let moves = matches!(self.deed, Deed::Shift { .. });
        let turns = matches!(self.facing, Some(Some(_)));
        2 * usize::from(moves) + 2 * usize::from(turns)
    }

    /// The same with other sizes, each counted from where it is: along \[m\], drawn through \[m\], two angles \[rad\].
    pub(super) fn varied(&self, x: &[f64]) -> Self {
        let mut new = self.clone();
        let mut rest = x;
        if let Deed::Shift { by, through, along } = &mut new.deed {
            *by += along.into_inner() * rest[0];
            *through += rest[1];
            rest = &rest[2..];
        }
        if let Some(Some(facing)) = &mut new.facing {
            let across = Vector3::ith(facing.iamin(), 1.0);
            let u = Unit::new_normalize(facing.cross(&across));
            let v = Unit::new_normalize(facing.cross(&u));
            let turn = UnitQuaternion::from_axis_angle(&u, rest[0])
                * UnitQuaternion::from_axis_angle(&v, rest[1]);
            *facing = turn * *facing;
        }
        new
    }

    /// The steps, to half a millimetre and half a degree or so, as a person can carry them out.
    pub(super) fn steps(&self) -> Vec<Step> {
        let to = |value: f64| (value / LENGTH).round() * LENGTH;
        let rounded = |facing: UnitVector3<f64>| {
            Unit::new_normalize((facing.into_inner() / facing.amax()).map(|c| (c * 100.0).round()))
        };
        let facing = self.facing.map(|facing| facing.map(rounded));
        let mut steps = Vec::new();
        let longer = (self.longer > 0.0).then(|| Step::Lengthen {
            branch: None,
            to: self.fixing.clone(),
            by: to(self.longer),
        });
        if !matches!(self.deed, Deed::Add(_) | Deed::Remove) {
            steps.extend(longer.clone());
        }
        match &self.deed {
            Deed::Stay => {}
            Deed::Move(by) => steps.push(Step::Move {
                what: What::Fixing(self.fixing.clone()),
                by: by.map(to),
            }),
            Deed::Shift { by, through, .. } => {
                let (by, through) = (by.map(to), to(*through));
                if by.norm() > 0.0 || through.abs() > 0.0 {
                    steps.push(Step::Shift {
                        what: self.fixing.clone(),
                        by: Some(by),
                        along: Some(through),
                    });
                }
            }
            Deed::Remove => {
                steps.push(Step::Remove {
                    what: self.fixing.clone(),
                });
                return steps;
            }
            Deed::Add(added) => {
                let mut added = added.clone();
                added.at = added.at.map(to);
                if let Some(Some(facing)) = facing {
                    added.facing = Some(facing);
                }
                steps.push(Step::Add(added));
                steps.extend(longer);
                return steps;
            }
        }
        if self.exchange.is_some() || facing.is_some() {
            steps.push(Step::Hold {
                what: self.fixing.clone(),
                hold: HeldAs {
                    facing,
                    ..self.exchange.unwrap_or_default()
                },
            });
        }
        steps
    }
}

/// All steps of some touches.
pub(super) fn steps(touches: &[Touch]) -> Vec<Step> {
    touches.iter().flat_map(Touch::steps).collect()
}
