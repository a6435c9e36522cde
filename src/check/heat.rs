//! Heat: the steady temperature of a branch's outside and of its hottest conductor, riding, standing with the engine
//! idling, and just after it was stopped, against what its wires, cover, ties and connectors are rated for.
//!
//! Places near hot parts are looked at in the pose in which they are nearest: view factors by rays, other parts
//! standing in the way; air that blows, stands or rises; current in the bundle; clamps on hot parts. Nothing is carried
//! along the branch but from a clamp, so a hot place is told a little too hot.

use std::sync::LazyLock;

use rayon::prelude::*;

use crate::conductor::heat::{
    Around, Hot, Rays, Viewer, ageing, clamped, core, plume, seen, steady,
};
use crate::conductor::{class_limit, greatest_resistance};
use crate::geometry::Shape;
use crate::harness::{BranchId, CoverKind, FixingKind};
use crate::machine::PartId;
use crate::quantity::Kind;

use super::current::{AIR, current_of};
use super::job::{Job, Measured, Outcome};
use super::wording::fixing_stations;
use super::{Finding, LimitKey};

const CHECK: &str = "heat";

/// Parts further away than this warm a bundle by little \[m\]: our own choice.
const FAR: f64 = 0.25;
/// A part counts as hot from here on \[°C\].
const HOT: f64 = 70.0;
/// Rays from a place.
static RAYS: LazyLock<Rays> = LazyLock::new(|| Rays::new(8192));
/// Between places that are looked at \[m\].
const PITCH: f64 = 0.040;
/// A branch that is warmed by less \[K\] is not worth a line.
const WORTH_A_LINE: f64 = 5.0;
/// Emissivity of braid, plastic and tape (0.90 to 0.95; from memory), and of a reflecting sleeve (our own choice).
const EMISSIVITY: (f64, f64) = (0.92, 0.6);
/// Emissivity of a hot part where none is given: oxidised steel (0.78 to 0.82; read in instrument makers' tables).
const OXIDISED: f64 = 0.80;
/// Air across the harness while riding \[m/s\]: what is left of the wind behind tank and engine. Our own choice.
const RIDING: f64 = 3.0;
/// By how much air that is trapped after a stop is warmer than the day \[K\]: our own choice.
const TRAPPED: f64 = 15.0;
/// Nylon 6.6 \[°C\] (makers; from memory).
const NYLON: f64 = 85.0;
/// Insulation ages twice as fast every so many kelvin where the route file does not say: a rule of thumb (Montsinger
/// 1930).
const HALVING: f64 = 10.0;

/// How the machine is used.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Scenario {
    Riding,
    Idling,
    Stopped,
}

impl Scenario {
    const ALL: [Self; 3] = [Self::Riding, Self::Idling, Self::Stopped];

    fn in_words(self) -> &'static str {
        match self {
            Self::Riding => "riding",
            Self::Idling => "standing with the engine idling",
            Self::Stopped => "just after the hot engine was stopped",
        }
    }
}

/// A place that is looked at.
struct Spot {
    at: f64,
    pose: usize,
    outside: f64,
    inside: f64,
    scenario: Scenario,
    /// The hot part that gives most, where one does.
    from: Option<PartId>,
}

pub(super) fn heat(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    if !job.is_whole() {
        return outcome;
    }
    let found: Vec<Vec<Finding>> = job
        .branches
        .par_iter()
        .map(|&branch| of_branch(job, branch))
        .collect();
    outcome.findings.extend(found.into_iter().flatten());
    outcome
}

fn of_branch(job: &Job<'_>, branch: BranchId) -> Vec<Finding> {
    let bundle = job.branch(branch);
    let rated = bundle
        .wires
        .iter()
        .any(|id| job.route.wires[id.0].class.is_some())
        || bundle
            .cover
            .as_ref()
            .is_some_and(|cover| cover.rated.is_some())
        || job.limit(LimitKey::HotTemperature).status == super::LimitStatus::Overridden;
    let hot: Vec<PartId> = job.nearest[branch.0]
        .iter()
        .filter(|gap| gap.gap < FAR)
        .map(|gap| gap.part)
        .filter(|part| {
            job.route.machine.parts[part.0]
                .surface
                .is_some_and(|t| t >= HOT)
        })
        .collect();
    let joule = joule(job, branch);
    if !rated || (hot.is_empty() && joule <= 0.0) {
        return Vec::new();
    }
    let spots: Vec<Spot> = places(job, branch, &hot)
        .into_iter()
        .filter_map(|(at, pose)| spot(job, branch, at, pose, &hot, joule))
        .collect();
    worst(job, branch, &spots).into_iter().collect()
}

/// Heat by current per length of a branch at 80 °C \[W/m\].
fn joule(job: &Job<'_>, branch: BranchId) -> f64 {
    let wires = job.branch(branch).wires.iter();
    wires
        .map(|&id| current_of(job, id).powi(2) * greatest_resistance(&job.route.wires[id.0], 80.0))
        .sum()
}

/// Where to look, each with the pose: nearest to each hot part, every few centimetres near one, and at fixings near
/// one.
fn places(job: &Job<'_>, branch: BranchId, hot: &[PartId]) -> Vec<(f64, usize)> {
    let nearest = job.nearest[branch.0]
        .iter()
        .filter(|gap| hot.contains(&gap.part));
    let mut places: Vec<(f64, usize)> = nearest.map(|gap| (gap.at, gap.pose)).collect();
    let spans = &job.solved(branch).spans;
    let length = spans.last().map_or(0.0, |span| span.end());
    let mut all = fixing_stations(spans);
    let mut at = 0.5 * PITCH;
    while at < length {
        all.push(at);
        at += PITCH;
    }
    let rest = job.rest();
    let (shape, stance) = (
        &job.solved(branch).shapes[rest],
        &job.solution.stances[rest],
    );
    let close = |at: f64| {
        let here = shape.curve.position(at);
        hot.is_empty()
            || hot
                .iter()
                .any(|&part| job.surroundings.distance(stance, part, &here) < FAR)
    };
    places.extend(all.into_iter().filter(|&at| close(at)).map(|at| (at, rest)));
    if hot.is_empty() {
        places.truncate(1);
    }
    places
}

/// The hottest of the three scenarios at one place.
fn spot(
    job: &Job<'_>,
    branch: BranchId,
    at: f64,
    pose: usize,
    hot: &[PartId],
    joule: f64,
) -> Option<Spot> {
    let bundle = job.branch(branch);
    let (shape, stance) = (
        &job.solved(branch).shapes[pose],
        &job.solution.stances[pose],
    );
    let (here, along, _) = shape.curve.sample(at);
    let radius = 0.5 * bundle.diameter;
    let viewer = Viewer {
        at: here,
        along: along.try_normalize(1e-9)?,
        radius,
    };
    let views = seen(job.surroundings, stance, &viewer, hot, &RAYS);
    let parts = hot.iter().map(|part| &job.route.machine.parts[part.0]);
    let emissivity = match bundle.cover.as_ref().map(|cover| cover.kind) {
        Some(CoverKind::HeatSleeve) => EMISSIVITY.1,
        _ => EMISSIVITY.0,
    };
    let radiators: Vec<Hot> = parts
        .zip(&views)
        .map(|(part, &view)| Hot {
            view,
            surface: part.surface.unwrap_or(AIR),
            emissivity: part.emissivity.unwrap_or(OXIDISED),
        })
        .collect();
    let rises: Vec<f64> = hot
        .iter()
        .map(|&part| {
            let gap = job.surroundings.contact(stance, part, &here);
            let away = *gap.normal * gap.distance.max(0.0);
            let surface = job.route.machine.parts[part.0].surface.unwrap_or(AIR);
            let aside = away.x.hypot(away.y);
            plume(
                away.z,
                aside,
                thickness(&job.route.machine.parts[part.0].shape),
                surface,
                AIR,
            )
        })
        .collect();
    let rise = rises.iter().copied().fold(0.0, f64::max);
    let (mut best, mut scenario) = (f64::NEG_INFINITY, Scenario::Riding);
    for candidate in Scenario::ALL {
        let (air, speed, joule) = match candidate {
            Scenario::Riding => (AIR, RIDING, joule),
            Scenario::Idling => (AIR + rise, 0.0, joule),
            // The ignition is off.
            Scenario::Stopped => (
                AIR + rise.max(if hot.is_empty() { 0.0 } else { TRAPPED }),
                0.0,
                0.0,
            ),
        };
        let outside = steady(&Around {
            diameter: bundle.diameter,
            emissivity,
            air,
            surroundings: AIR,
            speed,
            joule,
            hot: radiators.clone(),
            film: None,
        });
        if outside > best + 0.1 {
            (best, scenario) = (outside, candidate);
        }
    }
    let clamp = clamp(job, branch, at, pose, hot);
    let outside = clamp.map_or(best, |(clamp, _)| clamp.max(best));
    let from = views
        .iter()
        .zip(&rises)
        .enumerate()
        .map(|(index, (view, rise))| {
            (
                index,
                view * radiators[index].surface.max(0.0).powi(2) * 1e-3 + rise,
            )
        })
        .filter(|(_, gives)| *gives > 0.5)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(index, _)| hot[index]);
    let inside = if scenario == Scenario::Stopped {
        outside
    } else {
        outside + core(joule)
    };
    Some(Spot {
        at,
        pose,
        outside,
        inside,
        scenario,
        from: clamp.map(|(_, part)| part).or(from),
    })
}

/// The thickness of a part as air meets it \[m\].
fn thickness(shape: &Shape) -> f64 {
    match shape {
        Shape::Tube { diameter, .. }
        | Shape::Cylinder { diameter, .. }
        | Shape::Ball { diameter, .. } => *diameter,
        Shape::Block { .. } | Shape::Scan(_) => 0.05,
    }
}

/// The temperature under a clamp that stands on a hot part, and that part.
fn clamp(
    job: &Job<'_>,
    branch: BranchId,
    at: f64,
    pose: usize,
    hot: &[PartId],
) -> Option<(f64, PartId)> {
    let bundle = job.branch(branch);
    let stations = fixing_stations(&job.solved(branch).spans);
    let lay = stations
        .iter()
        .position(|station| (station - at).abs() < 1e-6)?;
    let fixing = &bundle.lay[lay].fixing;
    let width = match fixing.kind {
        FixingKind::Clamp => fixing.width.unwrap_or(12e-3),
        _ => return None,
    };
    let stance = &job.solution.stances[pose];
    let here = job.solved(branch).shapes[pose].curve.position(at);
    let on = hot.iter().copied().find(|&part| {
        let part_of = job.route.machine.parts[part.0].on;
        part_of == fixing.on
            && job.surroundings.distance(stance, part, &here) < 0.5 * bundle.diameter + 4e-3
    })?;
    let copper: f64 = bundle
        .wires
        .iter()
        .map(|id| job.route.wires[id.0].area)
        .sum();
    let surface = job.route.machine.parts[on.0].surface?;
    Some((
        clamped(surface, AIR, bundle.diameter, width, copper.max(1e-7)),
        on,
    ))
}

/// What is used up most: by which thing, at which place.
fn worst(job: &Job<'_>, branch: BranchId, spots: &[Spot]) -> Option<Finding> {
    let bundle = job.branch(branch);
    let limit = job.limit(LimitKey::HotTemperature);
    let own = (limit.status == super::LimitStatus::Overridden).then(|| limit.value());
    let weakest = bundle
        .wires
        .iter()
        .map(|id| &job.route.wires[id.0])
        .filter(|wire| wire.class.is_some())
        .min_by(|a, b| class_limit(a.class).total_cmp(&class_limit(b.class)));
    let stations = fixing_stations(&job.solved(branch).spans);
    let mut best: Option<(f64, usize, f64, f64, String)> = None;
    for (index, spot) in spots.iter().enumerate() {
        let mut things: Vec<(f64, f64, String)> = Vec::new();
        if let Some(own) = own {
            things.push((spot.outside, own, "the limit set".to_owned()));
        } else {
            if let Some(wire) = weakest {
                things.push((
                    spot.inside,
                    class_limit(wire.class),
                    format!("wire \"{}\"", wire.name),
                ));
            }
            if let Some(rated) = bundle.cover.as_ref().and_then(|cover| cover.rated) {
                things.push((spot.outside, rated, "the cover".to_owned()));
            }
            for (entry, station) in bundle.lay.iter().zip(&stations) {
                if (station - spot.at).abs() > 1e-6 {
                    continue;
                }
                match entry.fixing.kind {
                    FixingKind::Tie { rated, .. } => {
                        let name = &entry.fixing.name;
                        let said = match rated {
                            Some(_) => format!("the tie {name}"),
                            None => format!("the tie {name} if it is of nylon"),
                        };
                        things.push((spot.outside, rated.unwrap_or(NYLON), said));
                    }
                    FixingKind::Connector {
                        rated: Some(rated), ..
                    } => {
                        things.push((
                            spot.outside,
                            rated,
                            format!("the connector {}", entry.fixing.name),
                        ));
                    }
                    _ => {}
                }
            }
        }
        for (value, allowed, what) in things {
            let used = (value - AIR) / (allowed - AIR).max(1.0);
            if best.as_ref().is_none_or(|b| used > b.0 + 1e-6) {
                best = Some((used, index, value, allowed, what));
            }
        }
    }
    let (_, index, value, allowed, what) = best?;
    let spot = &spots[index];
    (value - AIR > WORTH_A_LINE).then(|| finding(job, branch, spot, value, allowed, &what))
}

fn finding(
    job: &Job<'_>,
    branch: BranchId,
    spot: &Spot,
    value: f64,
    allowed: f64,
    what: &str,
) -> Finding {
    let limit = job.limit(LimitKey::HotTemperature);
    let shown = |value: f64| job.units.show(value, Kind::Temperature);
    let part = spot
        .from
        .map(|part| job.route.machine.parts[part.0].name.as_str());
    let beside = part.map_or_else(String::new, |part| format!(", beside {part}"));
    let warmed = format!(
        "Hottest {}, on a day of {}: about {} outside, for {what} good for {}",
        spot.scenario.in_words(),
        shown(AIR),
        shown(spot.outside),
        shown(allowed)
    );
    Measured {
        check: CHECK,
        subject: "hottest".to_owned(),
        branch,
        place: format!("{}{beside}", job.place_words(branch, spot.at)),
        at: spot.at,
        pose: spot.pose,
        value,
        limit: allowed,
        kind: Kind::Temperature,
        at_most: true,
        from: limit,
    }
    .judged(
        || {
            let source = part.map_or_else(
                || "take current out of the bundle, or use thicker wire".to_owned(),
                |part| format!("move it away from {part}, shield it, or sleeve it with what is rated for it"),
            );
            let (halving, whose) = match job.route.duty.halving {
                Some(own) => (own, "set in the route file"),
                None => (HALVING, "a rule of thumb"),
            };
            format!(
                "{warmed}. Insulation ages some {:.0} times as fast as at what it is rated for (twice every {halving} K, {whose}): {source}.",
                ageing(value, allowed, halving).clamp(1.0, 1000.0)
            )
        },
        || format!("{warmed}."),
    )
}
