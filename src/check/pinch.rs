//! Pinch: the free width between two parts that the branch passes between, or two faces of one part, over all
//! poses, against its diameter.
//!
//! Two parts stand on opposite sides of the branch where the directions from its centreline to their nearest
//! points open by more than 120° and the line between those points runs through the branch. The free width is
//! then walked to the locally closest pair of points by alternating projection, as long as the line between
//! them still runs through the branch at this place.
//!
//! The opposite face of one part cannot be seen from the centreline, whose nearest point lies on the near face. There
//! the free width is the diameter of the largest ball that touches the part where the branch is nearest to it: a ball on that
//! side, shrunk until nothing of the part is inside (the shrinking ball of J. Ma, S. W. Bae and S. Choi, "3D medial
//! axis point approximation using nearest neighbors and the normal field", The Visual Computer 28, 2012, section 3;
//! from memory). It needs nothing but nearest points, whatever the part's shape is made of.

use nalgebra::Point3;
use rayon::prelude::*;

use crate::geometry::Slope;
use crate::harness::BranchId;
use crate::machine::{PartId, Stance};
use crate::quantity::Kind;

use super::asked::Asked;
use super::job::{Job, Measured, Outcome, below};
use super::wording::{fixing_stations, trimmed};
use super::{Finding, LimitKey};

const CHECK: &str = "pinch";

/// Parts further from the centreline than so many diameters do not pinch.
pub(super) const REACH: f64 = 2.5;
/// Cosine of the angle by which two parts must open around the branch (120°).
const OPPOSITE: f64 = -0.5;
/// Alternating projection halves the error at least this often where the faces are not parallel.
const PROJECTIONS: usize = 40;
/// Further in than this \[m\] the walk to the closest pair is not followed.
const SETTLED: f64 = 1e-7;

/// The narrowest place between two parts.
#[derive(Debug, Clone, Copy)]
struct Narrowest {
    parts: (PartId, PartId),
    width: f64,
    /// Diameter of the branch there \[m\], a splice's lump included.
    diameter: f64,
    at: f64,
    pose: usize,
}

impl Narrowest {
    fn free(&self) -> f64 {
        self.width - self.diameter
    }
}

pub(super) fn pinch(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    for &branch in job.branches {
        let findings = narrowest(job, branch)
            .into_iter()
            .map(|place| finding(job, branch, place));
        outcome.findings.extend(findings);
    }
    outcome
}

fn narrowest(job: &Job<'_>, branch: BranchId) -> Vec<Narrowest> {
    let reach = REACH * job.branch(branch).diameter;
    // Only parts that come near in some pose can pinch.
    if !job.nearest[branch.0].iter().any(|gap| gap.gap <= reach) {
        return Vec::new();
    }
    let exempt = exempt_places(job, branch);
    let by_pose: Vec<Vec<Narrowest>> = job
        .poses_for(CHECK, branch)
        .into_par_iter()
        .map(|pose| narrowest_in_pose(job, branch, pose, &exempt))
        .collect();
    let mut least: Vec<Narrowest> = Vec::new();
    for place in by_pose.into_iter().flatten() {
        keep_narrower(&mut least, place);
    }
    least.sort_by_key(|place| place.parts);
    least
}

fn keep_narrower(least: &mut Vec<Narrowest>, place: Narrowest) {
    match least.iter_mut().find(|known| known.parts == place.parts) {
        Some(known) if below(place.free(), known.free()) => *known = place,
        Some(_) => {}
        None => least.push(place),
    }
}

/// For each fixing its station and the parts that its own place lies on: within one diameter of it they hold
/// the branch rather than pinch it.
fn exempt_places(job: &Job<'_>, branch: BranchId) -> Vec<(f64, Vec<PartId>)> {
    let bundle = job.branch(branch);
    let rest = &job.solution.stances[job.rest()];
    let stations = fixing_stations(&job.solved(branch).spans);
    let mut near = Vec::new();
    stations
        .into_iter()
        .enumerate()
        .map(|(lay, station)| {
            let place = job.route.fixing_position(bundle, lay, rest);
            near.clear();
            job.surroundings
                .near(rest, &place, bundle.diameter, &mut near);
            let parts = near
                .iter()
                .copied()
                .filter(|&part| job.surroundings.distance(rest, part, &place) <= bundle.diameter)
                .collect();
            (station, parts)
        })
        .collect()
}

fn narrowest_in_pose(
    job: &Job<'_>,
    branch: BranchId,
    pose: usize,
    exempt: &[(f64, Vec<PartId>)],
) -> Vec<Narrowest> {
    let diameter = job.branch(branch).diameter;
    let stance = &job.solution.stances[pose];
    let mut least = Vec::new();
    let machine = (job.surroundings, stance);
    let all_parts = (0..job.route.machine.parts.len()).map(PartId);
    let mut asked = Asked::of_none(all_parts.len());
    let mut near = Vec::new();
    for station in &job.solved(branch).shapes[pose].stations {
        let here = job.route.diameter_at(branch, station.at);
        near.clear();
        near.extend(all_parts.clone().filter(|part| {
            let one = (part.0, *part);
            asked
                .within(machine, one, &station.position, REACH * diameter)
                .is_some()
        }));
        near.retain(|part| {
            !exempt
                .iter()
                .any(|(at, parts)| (at - station.at).abs() <= diameter && parts.contains(part))
        });
        // One part alone pinches only between faces of its own.
        if let [only] = near[..]
            && job.route.machine.parts[only.0].shape.is_convex()
        {
            continue;
        }
        let contacts: Vec<(PartId, Slope)> = near
            .iter()
            .map(|&part| {
                let contact = job.surroundings.slope(stance, part, &station.position);
                (part, contact)
            })
            .filter(|(_, contact)| contact.distance <= REACH * diameter)
            .collect();
        for (index, a) in contacts.iter().enumerate() {
            if let Some(width) = between_faces(job, stance, &station.position, diameter, a) {
                let place = Narrowest {
                    parts: (a.0, a.0),
                    width,
                    diameter: here,
                    at: station.at,
                    pose,
                };
                keep_narrower(&mut least, place);
            }
            for b in &contacts[index + 1..] {
                if a.1.normal.dot(&b.1.normal) >= OPPOSITE {
                    continue;
                }
                // Which of the two is told first is nothing to go by.
                let ways = [(a, b), (b, a)].into_iter().filter_map(|(a, b)| {
                    free_width(job, stance, &station.position, diameter, a, b)
                });
                if let Some(width) = ways.reduce(f64::min) {
                    let place = Narrowest {
                        parts: (a.0, b.0),
                        width,
                        diameter: here,
                        at: station.at,
                        pose,
                    };
                    keep_narrower(&mut least, place);
                }
            }
        }
    }
    least
}

/// The free width between two parts through the branch at `p`, negative where they overlap; `None` where the
/// line between their nearest points misses the branch.
fn free_width(
    job: &Job<'_>,
    stance: &Stance,
    p: &Point3<f64>,
    diameter: f64,
    a: &(PartId, Slope),
    b: &(PartId, Slope),
) -> Option<f64> {
    let radius = 0.5 * diameter;
    let mut on_a = p - a.1.normal.into_inner() * a.1.distance;
    let on_b = p - b.1.normal.into_inner() * b.1.distance;
    if distance_to_segment(p, &on_a, &on_b) > radius {
        return None;
    }
    let mut width = (on_b - on_a).norm() * (on_b - on_a).dot(&a.1.normal).signum();
    for _ in 0..PROJECTIONS {
        let to_b = job.surroundings.slope(stance, b.0, &on_a);
        let next_b = on_a - to_b.normal.into_inner() * to_b.distance;
        let to_a = job.surroundings.slope(stance, a.0, &next_b);
        let next_a = next_b - to_a.normal.into_inner() * to_a.distance;
        if distance_to_segment(p, &next_a, &next_b) > radius {
            break;
        }
        let gained = width - to_a.distance;
        width = width.min(to_a.distance);
        on_a = next_a;
        if gained < SETTLED {
            break;
        }
    }
    Some(width)
}

/// The free width between the nearest face of a part and one opposite it, through the branch at `p`; `None` where the
/// part has no such face within reach.
fn between_faces(
    job: &Job<'_>,
    stance: &Stance,
    p: &Point3<f64>,
    diameter: f64,
    (part, near): &(PartId, Slope),
) -> Option<f64> {
    let convex = job.route.machine.parts[part.0].shape.is_convex();
    if convex || near.distance <= 0.0 {
        return None;
    }
    let normal = near.normal.into_inner();
    let foot = p - normal * near.distance;
    let mut radius = 0.5 * REACH * diameter;
    let mut opposite = None;
    for _ in 0..PROJECTIONS {
        let centre = foot + normal * radius;
        let contact = job.surroundings.slope(stance, *part, &centre);
        if contact.distance >= radius - SETTLED {
            break;
        }
        let touched = centre - contact.normal.into_inner() * contact.distance;
        let across = touched - foot;
        let smaller = across.norm_squared() / (2.0 * normal.dot(&across));
        if !(smaller > 0.0 && smaller < radius) {
            break;
        }
        radius = smaller;
        opposite = Some(touched);
    }
    let touched = opposite?;
    let out = (foot + normal * radius - touched).try_normalize(0.0)?;
    let between = distance_to_segment(p, &foot, &touched) <= 0.5 * diameter;
    (between && normal.dot(&out) < OPPOSITE).then_some(2.0 * radius)
}

fn distance_to_segment(p: &Point3<f64>, a: &Point3<f64>, b: &Point3<f64>) -> f64 {
    let along = b - a;
    let length_squared = along.norm_squared();
    let share = if length_squared > 0.0 {
        ((p - a).dot(&along) / length_squared).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (p - (a + along * share)).norm()
}

fn finding(job: &Job<'_>, branch: BranchId, place: Narrowest) -> Finding {
    let diameter = place.diameter;
    let limit = job.limit(LimitKey::PinchSqueeze);
    let least = diameter * (1.0 - limit.value());
    let names = (
        &job.route.machine.parts[place.parts.0.0].name,
        &job.route.machine.parts[place.parts.1.0].name,
    );
    let squeeze = (diameter - place.width) / diameter * 100.0;
    let free = place.free();
    let width = job.show(place.width);
    let (subject, between) = if place.parts.0 == place.parts.1 {
        (names.0.clone(), format!("the faces of {}", names.0))
    } else {
        // Whichever of them the route tells first.
        let both = format!("{} and {}", names.0.min(names.1), names.0.max(names.1));
        (both.clone(), both)
    };
    Measured {
        check: CHECK,
        subject,
        branch,
        place: format!(
            "{}, between {between}",
            job.place_words(branch, place.at)
        ),
        at: place.at,
        pose: place.pose,
        value: place.width,
        limit: least,
        kind: Kind::Length,
        at_most: false,
        from: limit,
    }
    .judged(
        || {
            let squeezed = if place.width <= 0.0 {
                "They close on the branch completely".to_owned()
            } else {
                format!(
                    "The gap of {width} squeezes the branch by {} %",
                    trimmed(squeeze, 0)
                )
            };
            format!(
                "{squeezed}: open the gap by at least {}, or lead the branch where it is at least {} wide.",
                job.show_up(least - place.width),
                job.show(diameter)
            )
        },
        || {
            if free >= 0.0 {
                format!("The gap of {width} leaves {} free.", job.show(free))
            } else {
                format!(
                    "The gap of {width} squeezes the branch by {} %.",
                    trimmed(squeeze, 0)
                )
            }
        },
    )
}
