//! Where a fixing may sit: along the tube that it sits on, round a tube near by, on a named point near by.

use nalgebra::{Point3, Unit, UnitVector3, Vector3};

use crate::check::{LimitKey, Limits};
use crate::geometry::Shape;
use crate::machine::{BodyId, Part, Stance, Surroundings};
use crate::route::Route;

/// Distance from a tube within which a fixing sits on it, over the branch's own radius \[m\].
const ON_TUBE: f64 = 0.02;
/// Room between a bundle and the surface that it is fixed to: a cushion, or a layer of tape \[m\].
const CUSHION: f64 = 0.003;
/// Room that a new place keeps from all other parts \[m\].
const CLEAR: f64 = 0.002;
/// Places that are looked at on one tube.
const A_TUBE: usize = 5;
/// Sides of a tube that are looked at.
const SIDES: u32 = 8;

/// The nearest tube or cylinder that a fixing sits on, and the direction along it there.
pub(super) fn tube_under(
    route: &Route,
    on: BodyId,
    at: &Point3<f64>,
    radius: f64,
) -> Option<(String, UnitVector3<f64>)> {
    let parts = route.machine.parts.iter().filter(|part| part.on == on);
    parts
        .filter_map(|part| {
            let gap = part.shape.distance(at) - radius;
            let (.., run) = axis(&part.shape)?
                .windows(2)
                .map(|w| nearest_on(w, at))
                .min_by(|a, b| a.1.total_cmp(&b.1))?;
            let along = Unit::try_new(run, 0.0)?;
            (gap < ON_TUBE).then_some((gap, part.name.clone(), along))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name, along)| (name, along))
}

/// The line in the middle of a tube or cylinder.
fn axis(shape: &Shape) -> Option<Vec<Point3<f64>>> {
    match shape {
        Shape::Tube { along, .. } => Some(along.clone()),
        Shape::Cylinder { from, to, .. } => Some(vec![*from, *to]),
        _ => None,
    }
}

/// The nearest point of a piece of a line, how far it is, and the run of the piece.
fn nearest_on(piece: &[Point3<f64>], at: &Point3<f64>) -> (Point3<f64>, f64, Vector3<f64>) {
    let run = piece[1] - piece[0];
    let share = ((at - piece[0]).dot(&run) / run.norm_squared()).clamp(0.0, 1.0);
    let here = piece[0] + run * share;
    (here, (at - here).norm(), run)
}

/// A place where a fixing may sit.
#[derive(Debug)]
struct Seat {
    /// How far it is from where it is wanted \[m\].
    off: f64,
    at: Point3<f64>,
    /// The direction along what it sits on.
    along: UnitVector3<f64>,
    /// The tube that it sits on.
    part: Option<usize>,
}

/// What decides whether there is room at a place.
pub(super) struct Room<'a> {
    pub(super) route: &'a Route,
    pub(super) surroundings: Surroundings<'a>,
    /// Some poses over the sweep.
    pub(super) stances: Vec<&'a Stance>,
}

impl Room<'_> {
    /// Whether a bundle may be fixed at a place of a body: clear of all parts in all poses, and far enough from hot ones.
    pub(super) fn holds(&self, on: BodyId, at: &Point3<f64>, radius: f64) -> bool {
        let limits = Limits::new(&self.route.limits);
        let hot = limits.get(LimitKey::HotDistance);
        let parts = &self.route.machine.parts;
        let keep = |part: &Part| part.surface.map_or(CLEAR, |surface| hot.distance(surface));
        let most = parts.iter().map(keep).fold(CLEAR, f64::max);
        let mut near = Vec::new();
        self.stances.iter().all(|stance| {
            let p = stance.bodies[on.0] * at;
            self.surroundings.near(stance, &p, radius + most, &mut near);
            near.iter().all(|&id| {
                let away = self.surroundings.distance(stance, id, &p);
                away >= radius + keep(&parts[id.0])
            })
        })
    }

    /// How deep a bundle would run into parts at a place of a body, over the poses \[m\].
    pub(super) fn depth(&self, on: BodyId, at: &Point3<f64>, radius: f64) -> f64 {
        let mut near = Vec::new();
        let depths = self.stances.iter().map(|stance| {
            let p = stance.bodies[on.0] * at;
            self.surroundings.near(stance, &p, radius, &mut near);
            let away = near
                .iter()
                .map(|&id| self.surroundings.distance(stance, id, &p));
            radius - away.fold(f64::INFINITY, f64::min)
        });
        depths.fold(0.0, f64::max)
    }

    /// Places on tubes of the body and on its named points no farther than `far`, the nearest first, at most `most`; and
    /// the direction along each.
    pub(super) fn seats(
        &self,
        on: BodyId,
        near: &Point3<f64>,
        (radius, far, most): (f64, f64, usize),
    ) -> Vec<(Point3<f64>, UnitVector3<f64>)> {
        let mut found: Vec<Seat> = Vec::new();
        for (id, part) in self.route.machine.parts.iter().enumerate() {
            let thick = match &part.shape {
                Shape::Tube { diameter, .. } | Shape::Cylinder { diameter, .. } => 0.5 * diameter,
                _ => continue,
            };
            if part.on != on || part.surface.is_some() || part.edge.is_some() {
                continue;
            }
            for piece in axis(&part.shape).unwrap_or_default().windows(2) {
                let (middle, _, run) = nearest_on(piece, near);
                let Some(along) = Unit::try_new(run, 0.0) else {
                    continue;
                };
                let across = Unit::new_normalize(along.cross(&Vector3::ith(along.iamin(), 1.0)));
                let third = along.cross(&across);
                // Beside the nearest place along it; the search goes on along the tube from there by itself.
                for side in 0..SIDES {
                    let (sin, cos) =
                        (std::f64::consts::TAU * f64::from(side) / f64::from(SIDES)).sin_cos();
                    let out = across.into_inner() * cos + third * sin;
                    let at = middle + out * (thick + radius + CUSHION);
                    found.push(Seat {
                        off: (at - near).norm(),
                        at,
                        along,
                        part: Some(id),
                    });
                }
            }
        }
        for place in self
            .route
            .places
            .iter()
            .filter(|place| place.name.is_some())
        {
            found.push(Seat {
                off: (place.at - near).norm(),
                at: place.at,
                along: Vector3::x_axis(),
                part: None,
            });
        }
        found.retain(|seat| (5e-3..far).contains(&seat.off));
        found.sort_by(|a, b| a.off.total_cmp(&b.off));
        let mut kept: Vec<Seat> = Vec::new();
        for seat in found {
            let apart = kept.iter().all(|other| (other.at - seat.at).norm() > 0.012);
            // Not all on the nearest tube, so that its neighbours have their turn.
            let alike = kept
                .iter()
                .filter(|other| seat.part.is_some() && other.part == seat.part);
            if kept.len() < most
                && apart
                && alike.count() < A_TUBE
                && self.holds(on, &seat.at, radius)
            {
                kept.push(seat);
            }
        }
        kept.into_iter().map(|seat| (seat.at, seat.along)).collect()
    }
}
