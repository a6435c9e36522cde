//! How warm a place of a branch gets: riding, standing with the engine idling, and just after it was stopped.
//!
//! View factors by rays, other parts standing in the way; air that blows, stands or rises; current in the bundle; clamps on
//! hot parts. Nothing is carried along the branch but from a clamp, so a hot place is told a little too hot.

use std::sync::LazyLock;

use crate::conductor::greatest_resistance;
use crate::conductor::heat::{
    Around, Hot, Rays, Viewer, clamped, core, plume, seen, seen_at_most, steady,
};
use crate::geometry::Shape;
use crate::harness::{BranchId, CoverKind, FixingKind};
use crate::machine::PartId;

use super::current::{AIR, current_of};
use super::job::Job;
use super::wording::fixing_stations;

/// Rays from a place.
static RAYS: LazyLock<Rays> = LazyLock::new(|| Rays::new(8192));
/// Emissivity of braid, plastic and tape (0.90 to 0.95; from memory), and of a reflecting sleeve (our own choice).
const EMISSIVITY: (f64, f64) = (0.92, 0.6);
/// Emissivity of a hot part where none is given: oxidised steel (0.78 to 0.82; read in instrument makers' tables).
const OXIDISED: f64 = 0.80;
/// Air across the harness while riding \[m/s\]: what is left of the wind behind tank and engine. Our own choice.
const RIDING: f64 = 3.0;
/// By how much air that is trapped after a stop is warmer than the day \[K\]: our own choice.
const TRAPPED: f64 = 15.0;
/// A scenario counts where it is warmer by so much \[K\].
const CLEARLY: f64 = 0.1;

/// How the machine is used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Scenario {
    Riding,
    Idling,
    Stopped,
}

impl Scenario {
    const ALL: [Self; 3] = [Self::Riding, Self::Idling, Self::Stopped];

    pub(super) fn in_words(self) -> &'static str {
        match self {
            Self::Riding => "riding",
            Self::Idling => "standing with the engine idling",
            Self::Stopped => "just after the hot engine was stopped",
        }
    }
}

/// A place that is looked at.
pub(super) struct Spot {
    pub(super) at: f64,
    pub(super) pose: usize,
    pub(super) outside: f64,
    pub(super) inside: f64,
    pub(super) scenario: Scenario,
    /// The hot part that gives most, where one does.
    pub(super) from: Option<PartId>,
}

/// Heat by current per length of a branch at 80 °C \[W/m\].
pub(super) fn joule(job: &Job<'_>, branch: BranchId) -> f64 {
    let wires = job.branch(branch).wires.iter();
    wires
        .map(|&id| current_of(job, id).powi(2) * greatest_resistance(&job.route.wires[id.0], 80.0))
        .sum()
}

/// How hot parts are looked at from a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Seen {
    /// By rays, other parts standing in the way.
    Rays,
    /// No less than that: all that the balls around them fill.
    AtMost,
}

/// The hottest of the three scenarios at one place.
pub(super) fn spot(
    job: &Job<'_>,
    branch: BranchId,
    (at, pose): (f64, usize),
    hot: &[PartId],
    joule: f64,
    by: Seen,
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
    let views = match by {
        Seen::Rays => seen(job.surroundings, stance, &viewer, hot, &RAYS),
        Seen::AtMost => seen_at_most(job.surroundings, stance, &viewer, hot),
    };
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
            let gap = job.surroundings.slope(stance, part, &here);
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
        if outside > best + CLEARLY {
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
    // The scenario that counts may be another where less is seen.
    let more = match by {
        Seen::Rays => 0.0,
        Seen::AtMost => core(joule) + 2.0 * CLEARLY,
    };
    Some(Spot {
        at,
        pose,
        outside: outside + more,
        inside: inside + more,
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
