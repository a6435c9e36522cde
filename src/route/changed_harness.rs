//! Fixings added, taken off, shifted, held otherwise; spans lengthened; covers and wires exchanged.

use nalgebra::{Point3, UnitVector3, Vector3};

use crate::harness::{
    Cover, Fixing, FixingKind, Lay, LengthRule, Stiffness, Via, Wire, bundle_diameter,
};
use crate::quantity::{Kind, Units};

use super::change::{Added, ChangeError, HeldAs};
use super::changed::{always_holds, between, unknown};
use super::{Place, Route};

/// Spans whose length a step has settled: branch, and the fixing that ends them.
type Settled = Vec<(usize, String)>;

/// A stiffness that differs from its estimate by less than this share is the estimate.
const ESTIMATED: f64 = 1e-9;

impl Route {
    /// The lengths of a branch's spans at rest.
    fn span_lengths(&self, b: usize) -> Vec<f64> {
        let rest = self.machine.stance(&self.machine.rest());
        let spans = self.spans(&self.branches[b], &rest);
        spans.iter().map(|span| span.length).collect()
    }

    /// Settles the span that leads to a fixing.
    fn settle(
        &mut self,
        b: usize,
        lay: usize,
        length: f64,
    ) -> Result<(usize, String), ChangeError> {
        let entry = &mut self.branches[b].lay[lay];
        let to = entry.fixing.name.clone();
        if length.is_nan() || length <= 0.0 {
            let length = Units::METRIC.show_to(length, Kind::Length, 1);
            return Err(ChangeError::NoLength { to, length });
        }
        entry.length = LengthRule::Measured(length);
        Ok((b, to))
    }

    pub(super) fn add(&mut self, added: &Added) -> Result<Settled, ChangeError> {
        let found = self.branches.iter().position(|b| b.name == added.branch);
        let b = found.ok_or_else(|| unknown("branch", &added.branch))?;
        if !self.mentions(&added.name).is_empty() {
            return Err(ChangeError::Taken(added.name.clone()));
        }
        let lay = self.branches[b].lay.iter();
        let after = lay.clone().position(|e| e.fixing.name == added.after);
        let after = after.ok_or_else(|| unknown("fixing", &added.after))?;
        if after + 1 == lay.len() {
            return Err(ChangeError::End(added.after.clone()));
        }
        let on = self.body(&added.on)?;
        let rest = self.machine.stance(&self.machine.rest());
        let branch = &self.branches[b];
        let whole = self.span_lengths(b)[after];
        let here = rest.bodies[on.0] * added.at;
        let before = (here - self.fixing_position(branch, after, &rest)).norm();
        let beyond = (self.fixing_position(branch, after + 1, &rest) - here).norm();
        let first = match added.length {
            Some(LengthRule::Measured(length)) => length,
            Some(LengthRule::Slack(slack)) => before + slack,
            Some(LengthRule::Strung(_) | LengthRule::SmoothPath) | None => {
                let first = whole * before / (before + beyond);
                self.assumed.push(format!(
                    "\"{}\" takes {} of the span from \"{}\", its share by the straight distances (no `length` given)",
                    added.name,
                    Units::METRIC.show_to(first, Kind::Length, 1),
                    added.after
                ));
                first
            }
        };
        let facing = match added.facing {
            None if always_holds(added.kind) => Some(self.smooth_direction(b, after, here)),
            given => given,
        };
        // A direction is held with every joint at zero.
        let facing = match added.facing {
            Some(_) => facing,
            None => facing.map(|facing| rest.bodies[on.0].rotation.inverse() * facing),
        };
        self.places.push(Place {
            name: None,
            at: added.at,
            misfit: None,
        });
        let place = self.places.len() - 1;
        // Waypoints before and behind the new fixing, by which of its sides they are nearer to.
        let next = &self.branches[b].lay[after + 1];
        let position = |via: &Via| rest.bodies[via.on.0] * self.places[via.place].at;
        let start = self.fixing_position(&self.branches[b], after, &rest);
        let cut = next
            .vias
            .iter()
            .position(|via| (position(via) - start).norm() > before)
            .unwrap_or(next.vias.len());
        let behind = next.vias[cut..].to_vec();
        let vias = next.vias[..cut].to_vec();
        let lay = &mut self.branches[b].lay;
        lay[after + 1].vias = behind;
        lay.insert(
            after + 1,
            Lay {
                fixing: Fixing {
                    name: added.name.clone(),
                    kind: added.kind,
                    on,
                    place,
                    facing,
                    width: added.width,
                },
                vias,
                length: LengthRule::Measured(first),
            },
        );
        self.renumber(b, after + 1, 1);
        Ok(vec![
            self.settle(b, after + 1, first)?,
            self.settle(b, after + 2, whole - first)?,
        ])
    }

    /// Keeps the breakouts' places in a branch's lay right when an entry came in or went.
    fn renumber(&mut self, b: usize, from: usize, by: isize) {
        let meets = self
            .breakouts
            .iter_mut()
            .flat_map(|breakout| &mut breakout.meets);
        for meeting in meets.filter(|m| m.branch.0 == b && m.lay >= from) {
            meeting.lay = meeting.lay.saturating_add_signed(by);
        }
    }

    /// The direction of the smooth path from one fixing to the next by way of a point.
    fn smooth_direction(&self, b: usize, after: usize, via: Point3<f64>) -> UnitVector3<f64> {
        let rest = self.machine.stance(&self.machine.rest());
        let branch = &self.branches[b];
        let ends = [after, after + 1].map(|lay| self.fixing_position(branch, lay, &rest));
        // Through three points a parabola runs at the middle one along the chords, each weighted by the other's length.
        let (a, c) = (via - ends[0], ends[1] - via);
        let along = a / a.norm().powi(2).max(f64::MIN_POSITIVE)
            + c / c.norm().powi(2).max(f64::MIN_POSITIVE);
        UnitVector3::try_new(along, 0.0).unwrap_or_else(Vector3::x_axis)
    }

    pub(super) fn remove(&mut self, what: &str) -> Result<Settled, ChangeError> {
        let (b, lay) = self.find(what)?;
        let branch = &self.branches[b];
        if branch.lay[lay].fixing.kind == FixingKind::Breakout {
            return Err(ChangeError::Breakout(what.to_owned()));
        }
        if lay == 0 || lay + 1 == branch.lay.len() {
            return Err(ChangeError::End(what.to_owned()));
        }
        let lengths = self.span_lengths(b);
        let gone = self.branches[b].lay.remove(lay);
        self.renumber(b, lay, -1);
        let next = &mut self.branches[b].lay[lay];
        // It still shows on which side of things the branch runs.
        let mut vias = gone.vias;
        vias.push(Via {
            on: gone.fixing.on,
            place: gone.fixing.place,
        });
        vias.append(&mut next.vias);
        next.vias = vias;
        Ok(vec![self.settle(
            b,
            lay,
            lengths[lay - 1] + lengths[lay],
        )?])
    }

    pub(super) fn shift(
        &mut self,
        what: &str,
        by: Option<Vector3<f64>>,
        along: Option<f64>,
    ) -> Result<Settled, ChangeError> {
        let (b, lay) = self.find(what)?;
        let kind = self.branches[b].lay[lay].fixing.kind;
        if kind == FixingKind::Breakout {
            return Err(ChangeError::Breakout(what.to_owned()));
        }
        let rest = self.machine.stance(&self.machine.rest());
        let lengths = self.span_lengths(b);
        let (path, knots) = self.smooth_path(&self.branches[b], &rest);
        let fixing = &self.branches[b].lay[lay].fixing;
        let body = rest.bodies[fixing.on.0];
        let here = body * self.places[fixing.place].at;
        let knot = path.knots()[knots[lay]].at;
        let direction = fixing.facing.map_or_else(
            || path.tangent(knot),
            |facing| body.rotation * facing.into_inner(),
        );
        let along =
            along.unwrap_or_else(|| by.map_or(0.0, |by| (body.rotation * by).dot(&direction)));
        let new = match by {
            Some(by) => self.places[fixing.place].at + by,
            None => {
                let at = (knot + along).clamp(path.start(), path.end());
                let moved = path.position(at) - path.position(knot);
                let facing = UnitVector3::try_new(path.tangent(at), 0.0);
                let place = body.inverse() * (here + moved);
                if let (Some(facing), true) = (facing, fixing.facing.is_some()) {
                    let turned = body.rotation.inverse() * facing;
                    self.branches[b].lay[lay].fixing.facing = Some(turned);
                }
                place
            }
        };
        self.put_fixing(what, new)?;
        let mut settled = Vec::new();
        if along.abs() > 0.0 {
            if lay > 0 {
                settled.push(self.settle(b, lay, lengths[lay - 1] + along)?);
            }
            if lay < lengths.len() {
                settled.push(self.settle(b, lay + 1, lengths[lay] - along)?);
            }
        }
        Ok(settled)
    }

    pub(super) fn hold(
        &mut self,
        what: &str,
        hold: &HeldAs,
        share: f64,
    ) -> Result<(), ChangeError> {
        let (b, lay) = self.find(what)?;
        let rest = self.machine.stance(&self.machine.rest());
        let fixing = &mut self.branches[b].lay[lay].fixing;
        let cannot = |does: &'static str| ChangeError::Kind {
            name: what.to_owned(),
            what: does,
        };
        match (hold.cushioned, fixing.kind) {
            (Some(true), FixingKind::Tie { .. }) => fixing.kind = FixingKind::Clamp,
            (Some(false), FixingKind::Clamp) => {
                fixing.kind = FixingKind::Tie {
                    pull: None,
                    loose: false,
                    rated: None,
                };
            }
            (Some(true), FixingKind::Clamp) | (Some(false), FixingKind::Tie { .. }) | (None, _) => {
            }
            (Some(_), _) => return Err(cannot("become a clamp or a strap")),
        }
        if hold.loose.is_some() || hold.pull.is_some() {
            let FixingKind::Tie { pull, loose, .. } = &mut fixing.kind else {
                return Err(cannot("be pulled or loosened: it is no strap"));
            };
            *loose = hold.loose.unwrap_or(*loose);
            *pull = match (hold.pull, *pull) {
                (Some(new), Some(old)) => Some((old + share * (new - old)).max(f64::MIN_POSITIVE)),
                (new, old) => new.or(old),
            };
        }
        if let Some(new) = hold.width {
            let old = fixing.width.unwrap_or(new);
            let width = old + share * (new - old);
            if width <= 0.0 {
                return Err(cannot("have a width below zero"));
            }
            fixing.width = Some(width);
        }
        let always = always_holds(fixing.kind);
        match hold.facing {
            Some(Some(new)) => {
                fixing.facing = Some(fixing.facing.map_or(new, |old| between(old, new, share)));
            }
            Some(None) if always => return Err(cannot("let the direction go: it is no tie")),
            Some(None) => fixing.facing = None,
            None if always && fixing.facing.is_none() => {
                // A clamp holds direction: that in which the branch lies.
                let on = fixing.on;
                let (path, knots) = self.smooth_path(&self.branches[b], &rest);
                let along = path.tangent(path.knots()[knots[lay]].at);
                let along = UnitVector3::try_new(along, 0.0).unwrap_or_else(Vector3::x_axis);
                let turned = rest.bodies[on.0].rotation.inverse() * along;
                self.branches[b].lay[lay].fixing.facing = Some(turned);
            }
            None => {}
        }
        Ok(())
    }

    pub(super) fn lengthen(
        &mut self,
        branch: Option<&str>,
        to: &str,
        by: f64,
    ) -> Result<Settled, ChangeError> {
        let mentions = self.mentions(to);
        let wanted =
            |&(b, _): &(usize, usize)| branch.is_none_or(|branch| self.branches[b].name == branch);
        let mut found = mentions.iter().copied().filter(wanted);
        let (b, lay) = found.next().ok_or_else(|| unknown("fixing", to))?;
        if found.next().is_some() {
            return Err(ChangeError::Which(to.to_owned()));
        }
        if lay == 0 {
            return Err(ChangeError::First(to.to_owned()));
        }
        let length = self.span_lengths(b)[lay - 1] + by;
        if let LengthRule::Slack(slack) = &mut self.branches[b].lay[lay].length
            && *slack + by >= 0.0
        {
            *slack += by;
            return Ok(vec![(b, to.to_owned())]);
        }
        Ok(vec![self.settle(b, lay, length)?])
    }

    pub(super) fn cover(&mut self, branch: &str, cover: Option<Cover>) -> Result<(), ChangeError> {
        let found = self.branches.iter().position(|b| b.name == branch);
        let b = found.ok_or_else(|| unknown("branch", branch))?;
        let wires = self.wires.clone();
        self.rebundle(b, &wires, cover)
    }

    pub(super) fn rewire(&mut self, wire: &Wire) -> Result<(), ChangeError> {
        let found = self.wires.iter().position(|old| old.name == wire.name);
        let index = found.ok_or_else(|| unknown("wire", &wire.name))?;
        let old = self.wires.clone();
        self.wires[index] = wire.clone();
        for b in 0..self.branches.len() {
            if self.branches[b].wires.iter().any(|id| id.0 == index) {
                let cover = self.branches[b].cover.clone();
                self.rebundle(b, &old, cover)?;
            }
        }
        Ok(())
    }

    /// Gives a branch another cover, or the wires of the route instead of `old`. A diameter or a stiffness that was worked
    /// out is worked out anew; one that was measured changes as the one worked out does.
    fn rebundle(
        &mut self,
        b: usize,
        old: &[Wire],
        cover: Option<Cover>,
    ) -> Result<(), ChangeError> {
        let branch = &self.branches[b];
        let before = branch.clone();
        let core =
            |wires: &[Wire]| bundle_diameter(branch.wires.iter().map(|id| &wires[id.0]), None);
        let walls = |cover: &Option<Cover>| cover.as_ref().map_or(0.0, |cover| 2.0 * cover.wall);
        let bare = branch.diameter - walls(&branch.cover);
        let (was, is) = (core(old), core(&self.wires));
        let grown = if was > 0.0 { is / was } else { 1.0 };
        let diameter = bare * grown + walls(&cover);
        if diameter.is_nan() || diameter <= 0.0 || bare <= 0.0 {
            return Err(ChangeError::Thin(branch.name.clone()));
        }
        let estimate = |wires: &[Wire], cover: Option<&Cover>, diameter: f64| {
            if branch.wires.is_empty() {
                Stiffness::of_diameter(diameter)
            } else {
                Stiffness::of_bundle(branch.wires.iter().map(|id| &wires[id.0]), cover, diameter)
            }
        };
        let from = estimate(old, before.cover.as_ref(), before.diameter);
        let to = estimate(&self.wires, cover.as_ref(), diameter);
        let scaled = |own: f64, from: f64, to: f64| {
            if (own - from).abs() <= ESTIMATED * from {
                to
            } else if from > 0.0 {
                own * to / from
            } else {
                own
            }
        };
        let own = before.stiffness;
        let stiffness = Stiffness {
            bend: scaled(own.bend, from.bend, to.bend),
            twist: scaled(own.twist, from.twist, to.twist),
            stretch: scaled(own.stretch, from.stretch, to.stretch),
            mass: scaled(own.mass, from.mass, to.mass),
            range: own.range,
        };
        let branch = &mut self.branches[b];
        (branch.diameter, branch.stiffness, branch.cover) = (diameter, stiffness, cover);
        self.assumed.push(format!(
            "branch \"{}\": diameter {} after the change, before it {}",
            before.name,
            Units::METRIC.show_to(diameter, Kind::Length, 1),
            Units::METRIC.show_to(before.diameter, Kind::Length, 1)
        ));
        Ok(())
    }
}
