//! Where a branch passes from one body to another that moves against it: a fixing on either side, and the span between.
//!
//! Every pair of places is judged in every pose by closed forms: the straight way, and from it the length that slack and
//! twist ask for; the bend that the held directions and the slack make. What remains is sampled against the parts in the
//! poses that stretch and slacken it most. This only sorts the pairs: the rod and the checks have the last word.

use nalgebra::{Point3, UnitVector3, Vector3};

use crate::check::{LimitKey, Limits};
use crate::harness::{Branch, BranchId};
use crate::machine::{BodyId, Joint, Stance, Surroundings};
use crate::route::Route;

use super::field::{Field, Seen, real};
use super::paths::Reached;

/// Places looked at on each side.
const PLACES: usize = 260;
/// A fixing's centreline is no farther than this from what holds it \[m\].
pub(super) const BRACKET: f64 = 0.045;
/// Share of a twist limit that is used.
const TWIST_SHARE: f64 = 0.85;

/// A place for a fixing, with every joint at rest (machine frame).
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    pub(super) at: Point3<f64>,
    pub(super) along: UnitVector3<f64>,
    /// The fixing of the branch that stands here already, by its index in the lay.
    pub(super) lay: Option<usize>,
    /// What it costs to get here or on from here \[m\].
    cost: f64,
}

/// A pair of places.
#[derive(Debug, Clone, Copy)]
pub(super) struct Crossing {
    pub(super) before: Spot,
    pub(super) after: Spot,
    pub(super) length: f64,
    cost: f64,
}

/// What a crossing is looked for in.
#[derive(Debug)]
pub(super) struct Sides<'a, 'm> {
    pub(super) route: &'a Route,
    pub(super) seen: &'a Seen<'a>,
    pub(super) bodies: [BodyId; 2],
    pub(super) fields: [&'a Field<'m>; 2],
    /// Reached from the beginning in the first field, and from the end in the second.
    pub(super) reached: [&'a Reached; 2],
    pub(super) branch: BranchId,
    /// The lay between which the branch is laid anew.
    pub(super) between: (usize, usize),
}

impl Sides<'_, '_> {
    fn branch(&self) -> &Branch {
        &self.route.branches[self.branch.0]
    }

    /// Places on one side: cells with room, near what can hold a fixing and near the other body; and the fixings that are
    /// there.
    fn spots(&self, side: usize, axis: Option<(Point3<f64>, UnitVector3<f64>)>) -> Vec<Spot> {
        let field = self.fields[side];
        let grid = &field.grid;
        let mut cells: Vec<(f64, usize)> = (0..grid.len())
            .filter(|&index| {
                let [x, y, z] = grid.at(index);
                (x + y + z) % 2 == 0
                    && field.room_in(index) >= 0.0
                    && field.support_in(index) <= BRACKET
                    && self.reached[side].cost(index).is_finite()
            })
            .map(|index| {
                let p = grid.point(index);
                let off = axis.map_or(0.0, |(through, along)| (p - through).cross(&along).norm());
                (off, index)
            })
            .filter(|(off, _)| *off < 0.16)
            .collect();
        cells.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        // As many as can be looked at, evenly over what is near.
        let near = cells.len().min(12 * PLACES);
        let every = near.div_ceil(PLACES).max(1);
        let toward = if side == 0 { 1.0 } else { -1.0 };
        let spot = |at: Point3<f64>, lay: Option<usize>| {
            let index = grid.index(grid.cell_of(&at));
            let cost = self.reached[side].cost(index);
            let way = self.reached[side].way_to(field, &at)?;
            let back = way[way.len().saturating_sub(6).min(way.len() - 1)];
            let along =
                UnitVector3::try_new((at - back) * toward, 1e-6).unwrap_or_else(Vector3::x_axis);
            cost.is_finite().then_some(Spot {
                at,
                along,
                lay,
                cost,
            })
        };
        let mut spots: Vec<Spot> = cells[..near]
            .iter()
            .step_by(every)
            .filter_map(|(_, index)| spot(grid.point(*index), None))
            .collect();
        let branch = self.branch();
        for lay in self.between.0 + 1..self.between.1 {
            let fixing = &branch.lay[lay].fixing;
            if self
                .route
                .machine
                .moves_against(fixing.on, self.bodies[side])
            {
                continue;
            }
            let at = self.route.fixing_position(branch, lay, self.seen.rest);
            if let Some(mut spot) = spot(at, Some(lay)) {
                if let Some(facing) = self.route.fixing_facing(branch, lay, self.seen.rest) {
                    spot.along = facing;
                }
                spots.push(spot);
            }
        }
        spots
    }

    /// The most promising crossings that are well apart.
    pub(super) fn best(&self, limits: &Limits, most: usize) -> Vec<Crossing> {
        let joint = self
            .route
            .machine
            .joints_between(self.bodies[0], self.bodies[1]);
        let axis = joint
            .iter()
            .find_map(|joint| match self.route.machine.bodies[joint.0].joint {
                Joint::Turns { through, axis, .. } => {
                    let on = self.route.machine.bodies[joint.0].on;
                    let motion = on.map(|on| self.seen.rest.bodies[on.0]);
                    Some(motion.map_or((through, axis), |motion| (motion * through, motion * axis)))
                }
                _ => None,
            });
        let swing = joint
            .iter()
            .filter_map(|joint| match self.route.machine.bodies[joint.0].joint {
                Joint::Turns { from, to, .. } => Some(from.abs().max(to.abs())),
                _ => None,
            })
            .sum::<f64>();
        // Where the second body is, seen from the first, in each pose that differs.
        let [a, b] = self.bodies;
        let rest = self.seen.rest;
        let mut motions: Vec<_> = self
            .seen
            .stances
            .iter()
            .map(|stance| {
                rest.bodies[a.0]
                    * stance.bodies[a.0].inverse()
                    * stance.bodies[b.0]
                    * rest.bodies[b.0].inverse()
            })
            .collect();
        motions.dedup_by(|a, b| (a.to_matrix() - b.to_matrix()).amax() < 1e-12);
        let spots = [self.spots(0, axis), self.spots(1, axis)];
        let branch = self.branch();
        let radius = limits
            .get(LimitKey::BendRadiusMoving)
            .radius(self.route, branch)
            + 0.5 * branch.diameter;
        let twist = limits.get(LimitKey::Twist).value();
        let longest = limits.get(LimitKey::SupportDistance).value();
        let slack = limits.get(LimitKey::SlackLeast).value() + 3.0 * self.seen.doubt;
        let mut pairs: Vec<Crossing> = Vec::new();
        for before in &spots[0] {
            for after in &spots[1] {
                let chord = after.at - before.at;
                let straight = chord.norm();
                if !(0.06..longest).contains(&straight) {
                    continue;
                }
                let mut ways = (f64::INFINITY, 0.0_f64);
                for motion in motions.iter().step_by(3).chain(motions.last()) {
                    let way = (motion * after.at - before.at).norm();
                    ways = (ways.0.min(way), ways.1.max(way));
                }
                let length = (ways.1 + slack).max(swing / (TWIST_SHARE * twist));
                if length > 0.95 * longest {
                    continue;
                }
                let toward = chord / straight;
                // What is placed anew may face along the span; what stands keeps its direction.
                let faced = |spot: &Spot| {
                    if spot.lay.is_some() {
                        spot.along
                    } else {
                        UnitVector3::try_new(spot.along.into_inner() + 1.5 * toward, 1e-6)
                            .unwrap_or(spot.along)
                    }
                };
                let facing = [faced(before), faced(after)];
                let mut tightest: f64 = 0.0;
                for motion in motions.iter().step_by(5).chain(motions.last()) {
                    let chord = motion * after.at - before.at;
                    let way = chord.norm().max(1e-6);
                    let off = |d: Vector3<f64>| (d.dot(&chord) / way).clamp(-1.0, 1.0).acos();
                    let (p, q) = (off(*facing[0]), off(motion.rotation * *facing[1]));
                    let bulge = (24.0 * (length - way).max(0.0) / length).sqrt();
                    let turn = (1.5 * (p.max(q) + 0.5 * p.min(q))).max(2.0 * bulge);
                    tightest = tightest.max(turn * radius / length);
                }
                let turned = |spot: &Spot, facing: &UnitVector3<f64>| {
                    spot.along.dot(facing).clamp(-1.0, 1.0).acos()
                };
                let moved = ways.1 - ways.0;
                let cost = before.cost
                    + after.cost
                    + length
                    + 0.25 * (tightest - 0.7).max(0.0)
                    + 1.0 * (tightest - 1.0).max(0.0)
                    + 1.5 * moved
                    + 0.05 * (turned(before, &facing[0]) + turned(after, &facing[1]));
                let at = |spot: &Spot, along| Spot { along, ..*spot };
                pairs.push(Crossing {
                    before: at(before, facing[0]),
                    after: at(after, facing[1]),
                    length,
                    cost,
                });
            }
        }
        pairs.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        let surroundings = Surroundings::new(&self.route.machine);
        let mut chosen: Vec<Crossing> = Vec::new();
        for pair in pairs.iter().take(6000) {
            let far = |old: &Crossing| {
                (old.before.at - pair.before.at)
                    .norm()
                    .max((old.after.at - pair.after.at).norm())
                    > 0.035
            };
            if chosen.len() >= most {
                break;
            }
            if chosen.iter().all(far) && self.is_clear(pair, &surroundings) {
                chosen.push(*pair);
            }
        }
        chosen
    }

    /// Whether a curve between the two stays clear of every part in some poses over the sweep.
    fn is_clear(&self, pair: &Crossing, surroundings: &Surroundings<'_>) -> bool {
        let every = self.seen.stances.len().div_ceil(9).max(1);
        let stances: Vec<&Stance> = self.seen.stances.iter().step_by(every).collect();
        let hot = self.seen.limits.get(LimitKey::HotDistance);
        stances.iter().all(|stance| {
            let place = |side: usize, spot: &Spot| {
                let body = self.bodies[side].0;
                let motion = stance.bodies[body] * self.seen.rest.bodies[body].inverse();
                (motion * spot.at, motion.rotation * spot.along.into_inner())
            };
            let (p, d) = place(0, &pair.before);
            let (q, e) = place(1, &pair.after);
            (1..12).all(|i| {
                let u = real(i) / 12.0;
                let at = hermite(p, d * pair.length, q, e * pair.length, u);
                self.route
                    .machine
                    .parts
                    .iter()
                    .enumerate()
                    .all(|(id, part)| {
                        let away = surroundings.distance(stance, crate::machine::PartId(id), &at);
                        let keep = part.surface.map_or(0.002, |surface| hot.distance(surface));
                        away >= keep + self.seen.radius
                    })
            })
        })
    }
}

fn hermite(
    p: Point3<f64>,
    d: Vector3<f64>,
    q: Point3<f64>,
    e: Vector3<f64>,
    u: f64,
) -> Point3<f64> {
    let (v, w) = (u * u, u * u * u);
    Point3::from(
        p.coords * (2.0 * w - 3.0 * v + 1.0)
            + d * (w - 2.0 * v + u)
            + q.coords * (3.0 * v - 2.0 * w)
            + e * (w - v),
    )
}
