//! A route with a change made to it, or a share of the change.
//!
//! A harness that is finished keeps its lengths: where a change would make a span's rule (slack over the straight
//! distance, the smooth path, string and gathered slack) say another length, the span keeps the length that it had, and
//! the route says so under `assumed`. Directions that were filled in stay those that they were.

use nalgebra::{Isometry3, Point3, UnitQuaternion, UnitVector3, Vector3};

use crate::harness::{FixingKind, LengthRule};
use crate::machine::{BodyId, Joint};
use crate::quantity::{Kind, Units};

use super::change::{Change, ChangeError, Step, What};
use super::{Place, Route};

/// A length that a change alters by less than this is the same \[m\].
pub(super) const SAME_LENGTH: f64 = 1e-9;
/// Fixings closer than this stand at the same place \[m\]: as in reading a file.
const SAME_PLACE: f64 = 1e-5;

impl Route {
    /// The route with a `share` of a change made to it: 0 is the route itself, 1 the change as it stands, 2 twice that.
    /// Steps without an amount are made in full at any share above 0. Named changes of the route that can no longer be
    /// made (they name a fixing that was taken off) are left out.
    ///
    /// # Errors
    /// What the change names is not there, or the change would leave no harness: a branch without an end, a span without
    /// length, a joint without travel.
    pub fn changed(&self, change: &Change, share: f64) -> Result<Self, ChangeError> {
        if !(share.is_finite() && share >= 0.0) {
            return Err(ChangeError::Share);
        }
        let mut route = self.clone();
        if share > 0.0 {
            for step in &change.steps {
                let lengths = route.lengths();
                let mut changed = route.clone();
                let settled = changed.make(step, share)?;
                changed.keep_lengths(&route, &lengths, &settled);
                route = changed;
            }
            route.stands_apart()?;
            route.changes = self
                .changes
                .iter()
                .filter(|other| route.can_be_made(other))
                .cloned()
                .collect();
        }
        Ok(route)
    }

    /// Whether every step of a change finds what it names.
    pub fn can_be_made(&self, change: &Change) -> bool {
        let mut route = self.clone();
        change
            .steps
            .iter()
            .all(|step| route.make(step, 1.0).is_ok())
    }

    /// Makes one step. Gives the spans whose length the step itself has settled, by branch and fixing that ends them.
    fn make(&mut self, step: &Step, share: f64) -> Result<Vec<(usize, String)>, ChangeError> {
        match step {
            Step::Move { what, by } => {
                let motion = Isometry3::translation(by.x * share, by.y * share, by.z * share);
                self.displace(what, &motion)?;
            }
            Step::Turn {
                what,
                about,
                axis,
                by,
            } => {
                let about = match about {
                    Some(about) => *about,
                    None => self.own_place(what)?,
                };
                let turn = UnitQuaternion::from_axis_angle(axis, by * share);
                self.displace(what, &Isometry3::rotation_wrt_point(turn, about))?;
            }
            Step::Add(added) => return self.add(added),
            Step::Remove { what } => return self.remove(what),
            Step::Shift { what, by, along } => {
                let (by, along) = (by.map(|by| by * share), along.map(|along| along * share));
                return self.shift(what, by, along);
            }
            Step::Hold { what, hold } => self.hold(what, hold, share)?,
            Step::Lengthen { branch, to, by } => {
                return self.lengthen(branch.as_deref(), to, by * share);
            }
            Step::Travel { what, from, to } => self.travel(what, (*from, *to), share)?,
            Step::Cover { branch, cover } => self.cover(branch, cover.clone())?,
            Step::Wire { wire } => self.rewire(wire)?,
        }
        Ok(Vec::new())
    }

    /// Index of a fixing's branch and of the fixing in its lay: the first that has the name.
    pub(super) fn find(&self, name: &str) -> Result<(usize, usize), ChangeError> {
        self.mentions(name)
            .first()
            .copied()
            .ok_or_else(|| unknown("fixing", name))
    }

    /// Everywhere that a fixing stands: once, or a breakout in every branch that meets there.
    pub(super) fn mentions(&self, name: &str) -> Vec<(usize, usize)> {
        let mut found = Vec::new();
        for (b, branch) in self.branches.iter().enumerate() {
            for (lay, entry) in branch.lay.iter().enumerate() {
                if entry.fixing.name == name {
                    found.push((b, lay));
                }
            }
        }
        found
    }

    pub(super) fn body(&self, name: &str) -> Result<BodyId, ChangeError> {
        let found = self.machine.bodies.iter().position(|b| b.name == name);
        found.map(BodyId).ok_or_else(|| unknown("body", name))
    }

    /// Where a fixing, a point or a part's middle is: what it turns about where nothing else is said.
    fn own_place(&self, what: &What) -> Result<Point3<f64>, ChangeError> {
        match what {
            What::Fixing(name) => {
                let (b, lay) = self.find(name)?;
                Ok(self.places[self.branches[b].lay[lay].fixing.place].at)
            }
            What::Point(name) => {
                let place = self.places.iter().find(|p| p.name.as_ref() == Some(name));
                // A point that nothing stands on moves nothing.
                Ok(place.map_or_else(Point3::origin, |place| place.at))
            }
            What::Part(name) | What::Body(name) => Err(ChangeError::Kind {
                name: name.clone(),
                what: "be turned without `about`, a point on the axis",
            }),
        }
    }

    fn displace(&mut self, what: &What, motion: &Isometry3<f64>) -> Result<(), ChangeError> {
        match what {
            What::Part(name) => {
                let part = self.machine.parts.iter_mut().find(|p| p.name == *name);
                let part = part.ok_or_else(|| unknown("part", name))?;
                part.shape.displace(motion);
            }
            What::Point(name) => {
                for index in 0..self.places.len() {
                    if self.places[index].name.as_ref() == Some(name) {
                        self.places[index].at = motion * self.places[index].at;
                        self.places[index].misfit = None;
                        self.turn_facings(motion, &|fixing, _| fixing == index);
                    }
                }
            }
            What::Fixing(name) => {
                let (b, lay) = self.find(name)?;
                let old = self.branches[b].lay[lay].fixing.place;
                let at = motion * self.places[old].at;
                self.put_fixing(name, at)?;
                let new = self.branches[b].lay[lay].fixing.place;
                self.turn_facings(motion, &|place, of| place == new && of == name);
            }
            What::Body(name) => {
                let body = self.body(name)?;
                self.displace_riders(body, motion);
            }
        }
        Ok(())
    }

    /// Turns the direction that fixings hold, by the index of their place and their name.
    fn turn_facings(&mut self, motion: &Isometry3<f64>, whose: &dyn Fn(usize, &str) -> bool) {
        let entries = self.branches.iter_mut().flat_map(|b| &mut b.lay);
        for fixing in entries.map(|entry| &mut entry.fixing) {
            if whose(fixing.place, &fixing.name) {
                fixing.facing = fixing.facing.map(|facing| turned(motion, facing));
            }
        }
    }

    /// Puts a fixing elsewhere. Others that stand on the same point stay.
    pub(super) fn put_fixing(&mut self, name: &str, at: Point3<f64>) -> Result<(), ChangeError> {
        let mentions = self.mentions(name);
        let &(b, lay) = mentions.first().ok_or_else(|| unknown("fixing", name))?;
        let old = self.branches[b].lay[lay].fixing.place;
        let place = Place {
            name: None,
            at,
            misfit: None,
        };
        if self.users(old) == mentions.len() {
            self.places[old] = place;
            return Ok(());
        }
        self.places.push(place);
        let new = self.places.len() - 1;
        for (b, lay) in mentions {
            self.branches[b].lay[lay].fixing.place = new;
        }
        for breakout in self.breakouts.iter_mut().filter(|b| b.name == name) {
            breakout.place = new;
        }
        Ok(())
    }

    /// How many fixings and waypoints stand on a place.
    fn users(&self, place: usize) -> usize {
        let entries = self.branches.iter().flat_map(|branch| &branch.lay);
        entries
            .map(|entry| {
                let vias = entry.vias.iter().filter(|via| via.place == place);
                usize::from(entry.fixing.place == place) + vias.count()
            })
            .sum()
    }

    /// Moves all that rides on a body.
    fn displace_riders(&mut self, body: BodyId, motion: &Isometry3<f64>) {
        let mut rides: Vec<bool> = vec![false; self.machine.bodies.len()];
        rides[body.0] = true;
        for index in 0..self.machine.bodies.len() {
            let own = &mut self.machine.bodies[index];
            // Parents stand before their children.
            if own.on.is_none_or(|on| !rides[on.0]) {
                continue;
            }
            rides[index] = true;
            match &mut own.joint {
                Joint::Fixed => {}
                Joint::Turns { through, axis, .. } => {
                    *through = motion * *through;
                    *axis = turned(motion, *axis);
                }
                Joint::Slides { along, .. } => *along = turned(motion, *along),
            }
        }
        for part in self.machine.parts.iter_mut().filter(|p| rides[p.on.0]) {
            part.shape.displace(motion);
        }
        // A point shared with something that does not ride becomes two.
        let mut moved: Vec<Option<usize>> = vec![None; self.places.len()];
        let stays = |place: usize, route: &Self| {
            let entries = route.branches.iter().flat_map(|branch| &branch.lay);
            entries.into_iter().any(|entry| {
                let fixing = entry.fixing.place == place && !rides[entry.fixing.on.0];
                let mut vias = entry.vias.iter();
                fixing || vias.any(|via| via.place == place && !rides[via.on.0])
            })
        };
        for (old, new) in moved.iter_mut().enumerate() {
            let rider = self.branches.iter().flat_map(|b| &b.lay).any(|entry| {
                let mut vias = entry.vias.iter();
                (entry.fixing.place == old && rides[entry.fixing.on.0])
                    || vias.any(|via| via.place == old && rides[via.on.0])
            });
            if !rider {
                continue;
            }
            let shared = stays(old, self);
            let at = motion * self.places[old].at;
            *new = Some(if shared {
                self.places.push(Place {
                    name: None,
                    at,
                    misfit: None,
                });
                self.places.len() - 1
            } else {
                self.places[old].at = at;
                self.places[old].misfit = None;
                old
            });
        }
        for entry in self.branches.iter_mut().flat_map(|branch| &mut branch.lay) {
            let fixing = &mut entry.fixing;
            if rides[fixing.on.0] {
                fixing.place = moved[fixing.place].unwrap_or(fixing.place);
                fixing.facing = fixing.facing.map(|facing| turned(motion, facing));
            }
            for via in entry.vias.iter_mut().filter(|via| rides[via.on.0]) {
                via.place = moved[via.place].unwrap_or(via.place);
            }
        }
        for breakout in self.breakouts.iter_mut().filter(|b| rides[b.body.0]) {
            breakout.place = moved
                .get(breakout.place)
                .copied()
                .flatten()
                .unwrap_or(breakout.place);
        }
    }

    fn travel(
        &mut self,
        name: &str,
        (new_from, new_to): (Option<f64>, Option<f64>),
        share: f64,
    ) -> Result<(), ChangeError> {
        let body = self.body(name)?;
        let none = || ChangeError::Travel(name.to_owned());
        match &mut self.machine.bodies[body.0].joint {
            Joint::Fixed => return Err(none()),
            Joint::Turns { from, to, .. } | Joint::Slides { from, to, .. } => {
                *from += share * new_from.map_or(0.0, |new| new - *from);
                *to += share * new_to.map_or(0.0, |new| new - *to);
                if *from > *to {
                    return Err(none());
                }
            }
        }
        Ok(())
    }

    /// The length of every span, by branch.
    fn lengths(&self) -> Vec<Vec<f64>> {
        let rest = self.machine.stance(&self.machine.rest());
        self.branches
            .iter()
            .map(|b| self.spans(b, &rest).iter().map(|s| s.length).collect())
            .collect()
    }

    /// Freezes the spans whose rule would say another length than they had before a step.
    fn keep_lengths(&mut self, before: &Self, lengths: &[Vec<f64>], settled: &[(usize, String)]) {
        let now = self.lengths();
        let mut frozen = Vec::new();
        for (b, branch) in self.branches.iter_mut().enumerate() {
            for lay in 1..branch.lay.len() {
                let name = branch.lay[lay].fixing.name.clone();
                let by_step = settled.iter().any(|(of, to)| *of == b && *to == name);
                let old = before.branches[b]
                    .lay
                    .iter()
                    .position(|e| e.fixing.name == name);
                let Some(old) = old.and_then(|old| lengths[b].get(old.wrapping_sub(1))) else {
                    continue;
                };
                if by_step || (now[b][lay - 1] - old).abs() <= SAME_LENGTH {
                    continue;
                }
                branch.lay[lay].length = LengthRule::Measured(*old);
                frozen.push((branch.lay[lay - 1].fixing.name.clone(), name, *old));
            }
        }
        for (from, to, length) in frozen {
            let shown = Units::METRIC.show_to(length, Kind::Length, 1);
            let sentence = format!(
                "\"{from}\" to \"{to}\" keeps the {shown} that it had before the change: the harness is finished"
            );
            if !self.assumed.contains(&sentence) {
                self.assumed.push(sentence);
            }
        }
    }

    /// Neighbouring fixings may not stand at the same place at rest.
    fn stands_apart(&self) -> Result<(), ChangeError> {
        let rest = self.machine.stance(&self.machine.rest());
        for branch in &self.branches {
            for lay in 1..branch.lay.len() {
                let (a, b) = (
                    self.fixing_position(branch, lay - 1, &rest),
                    self.fixing_position(branch, lay, &rest),
                );
                if (b - a).norm() < SAME_PLACE {
                    let name = |lay: usize| branch.lay[lay].fixing.name.clone();
                    return Err(ChangeError::SamePlace(name(lay - 1), name(lay)));
                }
            }
        }
        Ok(())
    }
}

pub(super) fn unknown(what: &'static str, name: &str) -> ChangeError {
    ChangeError::Unknown {
        what,
        name: name.to_owned(),
    }
}

/// Whether a fixing of this kind always holds the branch's direction.
pub(super) fn always_holds(kind: FixingKind) -> bool {
    !matches!(kind, FixingKind::Tie { .. })
}

fn turned(motion: &Isometry3<f64>, direction: UnitVector3<f64>) -> UnitVector3<f64> {
    motion.rotation * direction
}

/// A direction part of the way from one to another.
pub(super) fn between(
    from: UnitVector3<f64>,
    to: UnitVector3<f64>,
    share: f64,
) -> UnitVector3<f64> {
    let turn = UnitQuaternion::rotation_between(&from, &to).unwrap_or_else(|| {
        // Straight back: about any axis square to both.
        let across = Vector3::ith(from.iamin(), 1.0);
        let axis = UnitVector3::new_normalize(from.cross(&across));
        UnitQuaternion::from_axis_angle(&axis, std::f64::consts::PI)
    });
    turn.powf(share) * from
}
