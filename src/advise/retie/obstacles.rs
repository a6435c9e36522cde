//! What no tie can cure: a fixing that stays where it is, and a part that comes too near to it there. What its own place
//! breaks, it breaks however the rest is tied.

use nalgebra::Vector3;

use crate::check::{LimitKey, Limits};
use crate::harness::FixingKind;
use crate::machine::{BodyId, PartId};

use super::moves::{Deed, Touch};
use super::places::Room;
use super::problem::Problem;

/// How far along the branch a connector's own direction leads it \[diameters\].
const AHEAD: f64 = 2.5;
/// A fixing is put elsewhere in whole millimetres, and by no more than \[m\].
const MOVED: (f64, f64) = (1e-3, 0.04);
/// Chance of 95 % that a limit holds \[standard deviations\].
const SURE: f64 = 1.645;

/// A fixing that stays, and a part that comes too near to it there.
#[derive(Debug, Clone, PartialEq)]
pub struct Obstacle {
    /// The fixing.
    pub fixing: String,
    /// The part.
    pub part: String,
    /// Whether it is what the part sweeps that is too near, or its heat.
    pub sweeps: bool,
    /// Least gap over the sweep \[m\].
    pub gap: f64,
    /// What is to be kept \[m\].
    pub limit: f64,
    /// How far the fixing itself would have to go, with every joint at zero \[m\]; `None` where it has no room for it, or
    /// the fixing is no connector.
    pub by: Option<Vector3<f64>>,
}

impl Problem<'_> {
    /// The fixings that stay and that a part comes too near to.
    pub(super) fn obstacles(&self, room: &Room<'_>) -> Vec<Obstacle> {
        let route = &self.own.route;
        let mut all: Vec<Obstacle> = Vec::new();
        for (b, branch) in route.branches.iter().enumerate() {
            for (lay, entry) in branch.lay.iter().enumerate() {
                let stays = matches!(
                    entry.fixing.kind,
                    FixingKind::Connector { .. } | FixingKind::Grommet
                );
                let told = all.iter().any(|one| one.fixing == entry.fixing.name);
                if !stays || told {
                    continue;
                }
                let parts = (0..route.machine.parts.len()).map(PartId);
                let worst = parts
                    .filter_map(|part| self.obstacle(room, (b, lay), part))
                    .max_by(|x, y| (x.limit - x.gap).total_cmp(&(y.limit - y.gap)));
                all.extend(worst);
            }
        }
        all
    }

    /// How near a part comes to a fixing, where that is too near.
    fn obstacle(
        &self,
        room: &Room<'_>,
        (b, lay): (usize, usize),
        part: PartId,
    ) -> Option<Obstacle> {
        let route = &self.own.route;
        let (branch, limits) = (&route.branches[b], Limits::new(&route.limits));
        let fixing = &branch.lay[lay].fixing;
        let other = &route.machine.parts[part.0];
        // As the check of what sweeps past asks it of a span: the part moves against both ends.
        let moves = |lay: usize| {
            let carriers = route.carriers(branch.lay[lay].fixing.on);
            carriers
                .iter()
                .all(|&on: &BodyId| route.machine.moves_against(other.on, on))
        };
        let beside = [lay.checked_sub(1), Some(lay + 1)];
        let mut beside = beside.into_iter().flatten();
        let sweeps = moves(lay) && beside.any(|lay| lay < branch.lay.len() && moves(lay));
        let (limit, sweeps) = match other.surface {
            Some(surface) if !sweeps => {
                (limits.get(LimitKey::HotDistance).distance(surface), false)
            }
            _ if sweeps => (limits.get(LimitKey::SnagDistance).value(), true),
            _ => return None,
        };
        let radius = 0.5 * branch.diameter;
        let at = route.places[fixing.place].at;
        let ahead = fixing.facing.map_or_else(Vector3::zeros, |facing| {
            let toward = if lay == 0 { 1.0 } else { -1.0 };
            facing.into_inner() * (toward * AHEAD * branch.diameter)
        });
        let around = &room.surroundings;
        let (gap, stance) = self
            .own
            .solution
            .stances
            .iter()
            .map(|stance| {
                let here = stance.bodies[fixing.on.0] * at;
                (around.distance(stance, part, &here) - radius, stance)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        if gap >= limit {
            return None;
        }
        let body = stance.bodies[fixing.on.0];
        let normal = *around.slope(stance, part, &(body * at)).normal;
        let there = around.distance(stance, part, &(body * (at + ahead))) - radius;
        let doubt = SURE * std::f64::consts::SQRT_2 * route.tolerance;
        let lack = limit + doubt - gap.min(there);
        let far = (lack / MOVED.0).ceil() * MOVED.0;
        let by = body.rotation.inverse() * normal * far;
        let is_connector = matches!(fixing.kind, FixingKind::Connector { .. });
        let has_room = is_connector
            && far <= MOVED.1
            && [at, at + ahead]
                .iter()
                .all(|p| room.holds(fixing.on, &(p + by), radius));
        Some(Obstacle {
            fixing: fixing.name.clone(),
            part: other.name.clone(),
            sweeps,
            gap,
            limit,
            by: has_room.then_some(by),
        })
    }
}

/// The fixings put where nothing comes too near, as what is done in any case.
pub(super) fn out_of_the_way(obstacles: &[Obstacle]) -> Vec<Touch> {
    let moved = obstacles.iter().filter_map(|one| {
        let by = one.by?;
        Some(Touch::new(&one.fixing, Deed::Move(by)))
    });
    moved.collect()
}
