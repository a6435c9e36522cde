//! Tie pinch: what a strap does to the branch that it holds.
//!
//! - Pressure: a thin strap with tension T and width w on a cylinder of radius r presses with p = T/(w·r)
//!   (hoop formula, without friction). Hard wires touch along few lines, so the true local pressure is higher.
//! - Squeeze: p over the transverse modulus of the bundle.
//! - The inside bend radius at the strap's two edges.
//! - Told with it: the side load (the fixing's force across the branch), and how far from the strap's edge the
//!   bend starts (the first station where the curvature exceeds half of its span's greatest in that pose).

use crate::harness::{BranchId, FixingKind};
use crate::quantity::Kind;
use crate::rod::Shape;
use crate::route::{Route, Span};

use super::bend_radius::limit_at;
use super::curvature::{curvature_at, is_straight};
use super::job::{Job, Measured, Outcome, below, stations_of};
use super::wording::{beside, fixing_stations, too_tight, trimmed};
use super::{Blank, Finding, LimitKey};

const CHECK: &str = "tie pinch";

/// Width of a strap where none is given \[m\]: the common standard class (SAE AS33671, from memory).
const USUAL_WIDTH: f64 = 4.8e-3;
/// Modulus of a bundle squeezed across \[Pa\]: wires in soft vinyl, 5–30 `MPa`, from memory.
const TRANSVERSE_MODULUS: f64 = 10.0e6;

/// A tie of a branch.
#[derive(Debug, Clone, Copy)]
struct Strap<'a> {
    branch: BranchId,
    lay: usize,
    name: &'a str,
    station: f64,
    width: f64,
}

pub(super) fn tie_pinch(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    for &branch in job.branches {
        let stations = fixing_stations(&job.solved(branch).spans);
        let mut without_pull = Vec::new();
        for (lay, (entry, &station)) in job.branch(branch).lay.iter().zip(&stations).enumerate() {
            let FixingKind::Tie { pull, .. } = entry.fixing.kind else {
                continue;
            };
            let strap = Strap {
                branch,
                lay,
                name: &entry.fixing.name,
                station,
                width: entry.fixing.width.unwrap_or(USUAL_WIDTH),
            };
            match pull {
                Some(pull) => outcome.findings.extend(squeezes(job, &strap, pull)),
                None => without_pull.push(strap),
            }
            outcome.findings.extend(edge(job, &strap));
        }
        outcome.blanks.extend(blank(job, branch, &without_pull));
    }
    outcome
}

/// What this check fills in where the route file says nothing.
pub(super) fn assumptions(route: &Route) -> Vec<String> {
    let ties = route.branches.iter().flat_map(|branch| &branch.lay);
    let (mut no_width, mut pulled) = (Vec::new(), false);
    for entry in ties {
        if let FixingKind::Tie { pull, .. } = entry.fixing.kind {
            pulled |= pull.is_some();
            if entry.fixing.width.is_none() {
                no_width.push(entry.fixing.name.as_str());
            }
        }
    }
    let mut assumed = Vec::new();
    if !no_width.is_empty() {
        assumed.push(format!(
            "Strap width {} mm where none is given: {}.",
            trimmed(USUAL_WIDTH * 1e3, 1),
            no_width.join(", ")
        ));
    }
    if pulled {
        assumed.push(format!(
            "A bundle squeezed across has a modulus of {:.0} MPa (wires in soft vinyl, from memory).",
            TRANSVERSE_MODULUS / 1e6
        ));
    }
    assumed
}

/// Mean pressure under a strap \[Pa\]: tension \[N\] over width times radius of the bundle \[m\].
fn hoop_pressure(pull: f64, width: f64, radius: f64) -> f64 {
    pull / (width * radius)
}

fn force(job: &Job<'_>, value: f64, places: usize) -> String {
    job.units.show_to(value, Kind::Force, places)
}

fn squeezes(job: &Job<'_>, strap: &Strap<'_>, pull: f64) -> [Finding; 2] {
    let radius = 0.5 * job.branch(strap.branch).diameter;
    let pressure = hoop_pressure(pull, strap.width, radius);
    let side = side_load(job, strap);
    let cure = |allowed: f64| {
        format!(
            "{} on a strap {} wide: pull it with at most {}, or use a strap at least {} wide over a layer \
             of tape.",
            force(job, pull, 0),
            job.show(strap.width),
            force(job, (allowed * strap.width * radius).floor(), 0),
            job.show_up(pull / (allowed * radius))
        )
    };
    let finding = |subject: &str, key: LimitKey, value: f64, modulus: f64| {
        let limit = job.limit(key);
        Measured {
            check: CHECK,
            subject: format!("{} {subject}", strap.name),
            branch: strap.branch,
            place: format!("under {}", strap.name),
            at: strap.station,
            pose: side.pose,
            value,
            limit: limit.value(),
            kind: limit.kind,
            at_most: true,
            from: limit,
        }
        .judged(
            || cure(limit.value() * modulus),
            || format!("Side load up to {}.", force(job, side.force, 2)),
        )
    };
    [
        finding("pressure", LimitKey::StrapPressure, pressure, 1.0),
        finding(
            "squeeze",
            LimitKey::StrapSqueeze,
            pressure / TRANSVERSE_MODULUS,
            TRANSVERSE_MODULUS,
        ),
    ]
}

fn blank(job: &Job<'_>, branch: BranchId, straps: &[Strap<'_>]) -> Option<Blank> {
    if straps.is_empty() {
        return None;
    }
    let radius = 0.5 * job.branch(branch).diameter;
    let allowed = job
        .limit(LimitKey::StrapPressure)
        .value()
        .min(job.limit(LimitKey::StrapSqueeze).value() * TRANSVERSE_MODULUS);
    let each: Vec<String> = straps
        .iter()
        .map(|strap| {
            let most = (allowed * strap.width * radius).floor();
            format!("{} holds up to {}", strap.name, force(job, most, 0))
        })
        .collect();
    Some(Blank {
        check: CHECK,
        branch,
        why: format!(
            "No strap tension given, so pressure and squeeze are not judged. Give the tie its `pull`, for \
             example \"30 N\". By the limits {}.",
            each.join(", ")
        ),
    })
}

#[derive(Debug, Clone, Copy)]
struct SideLoad {
    force: f64,
    pose: usize,
}

/// The greatest force of the fixing across the branch, over all poses.
fn side_load(job: &Job<'_>, strap: &Strap<'_>) -> SideLoad {
    let mut most = SideLoad {
        force: 0.0,
        pose: 0,
    };
    for (pose, shape) in job.solved(strap.branch).shapes.iter().enumerate() {
        let tangent = shape.curve.tangent(strap.station);
        let force = shape.holds[strap.lay].force;
        let across = (force - tangent * force.dot(&tangent)).norm();
        if below(-across, -most.force) {
            most = SideLoad {
                force: across,
                pose,
            };
        }
    }
    most
}

/// The bend at one edge of a strap in one pose.
#[derive(Debug, Clone, Copy)]
struct Edge {
    at: f64,
    pose: usize,
    inside: f64,
    least: f64,
    span: usize,
}

fn edge(job: &Job<'_>, strap: &Strap<'_>) -> Option<Finding> {
    let solved = job.solved(strap.branch);
    let half_diameter = 0.5 * job.branch(strap.branch).diameter;
    let half_width = 0.5 * strap.width;
    let mut worst: Option<Edge> = None;
    // The span before the strap and the one after it, each with its edge.
    let sides = [
        (strap.lay.checked_sub(1), strap.station - half_width),
        (Some(strap.lay), strap.station + half_width),
    ];
    for (index, at) in sides {
        let Some((index, span)) = index.and_then(|i| Some((i, solved.spans.get(i)?))) else {
            continue;
        };
        if at < span.start || at > span.end() {
            continue;
        }
        let least = limit_at(job, strap.branch, span, at);
        for (pose, shape) in solved.shapes.iter().enumerate() {
            let curvature = curvature_at(shape, at);
            if is_straight(curvature, span.length) {
                continue;
            }
            let inside = 1.0 / curvature - half_diameter;
            if worst.is_none_or(|w| below(inside / least, w.inside / w.least)) {
                worst = Some(Edge {
                    at,
                    pose,
                    inside,
                    least,
                    span: index,
                });
            }
        }
    }
    worst.map(|edge| edge_finding(job, strap, edge))
}

fn edge_finding(job: &Job<'_>, strap: &Strap<'_>, edge: Edge) -> Finding {
    let solved = job.solved(strap.branch);
    let (span, shape) = (&solved.spans[edge.span], &solved.shapes[edge.pose]);
    let key = if span.moving {
        LimitKey::BendRadiusMoving
    } else {
        LimitKey::BendRadiusStill
    };
    let side = side_load(job, strap);
    let starts = bend_start(shape, span, edge.at);
    let starts = match starts {
        Some(distance) => format!(
            " The bend starts {} from the strap's edge; side load up to {}.",
            job.show(distance),
            force(job, side.force, 2)
        ),
        None => format!(" Side load up to {}.", force(job, side.force, 2)),
    };
    Measured {
        check: CHECK,
        subject: format!("{} edge", strap.name),
        branch: strap.branch,
        place: format!(
            "edge of the strap, {}",
            beside(
                job.branch(strap.branch),
                strap.lay,
                edge.at - strap.station,
                job.units
            )
        ),
        at: edge.at,
        pose: edge.pose,
        value: edge.inside,
        limit: edge.least,
        kind: Kind::Length,
        at_most: false,
        from: job.limit(key),
    }
    .judged(
        || {
            let back = eases_after(job, strap, span, shape, &edge);
            let turned = if job.branch(strap.branch).lay[strap.lay]
                .fixing
                .holds_direction()
            {
                ", or turn it toward the run of the branch"
            } else {
                ""
            };
            format!(
                "{} at the strap: move {} back from the bend by about {} (first estimate){turned}.{starts}",
                too_tight(job.units, edge.inside),
                strap.name,
                job.show_up(back)
            )
        },
        || {
            format!(
                "Inside radius {} at the strap.{starts}",
                job.show(edge.inside)
            )
        },
    )
}

/// Distance from `edge` into the span to the first station whose curvature exceeds half of the span's greatest.
fn bend_start(shape: &Shape, span: &Span, edge: f64) -> Option<f64> {
    let stations = stations_of(shape, span);
    let half = 0.5 * stations.iter().map(|s| s.curvature).fold(0.0, f64::max);
    stations
        .iter()
        .filter(|s| s.curvature > half && outward(span, edge, s.at) >= 0.0)
        .map(|s| outward(span, edge, s.at))
        .min_by(f64::total_cmp)
}

/// Distance from the strap's edge into the span; negative under the strap.
fn outward(span: &Span, edge: f64, at: f64) -> f64 {
    if edge - span.start <= span.end() - edge {
        at - edge
    } else {
        edge - at
    }
}

/// How far into the span the bend first eases to the limit; where it never does, by how much a span of the same
/// shape would have to grow.
fn eases_after(job: &Job<'_>, strap: &Strap<'_>, span: &Span, shape: &Shape, edge: &Edge) -> f64 {
    let half_diameter = 0.5 * job.branch(strap.branch).diameter;
    let allowed = 1.0 / (edge.least + half_diameter);
    stations_of(shape, span)
        .iter()
        .filter(|s| s.curvature <= allowed && outward(span, edge.at, s.at) > 0.0)
        .map(|s| outward(span, edge.at, s.at))
        .min_by(f64::total_cmp)
        .unwrap_or_else(|| {
            span.length * ((edge.least + half_diameter) / (edge.inside + half_diameter) - 1.0)
        })
}

#[cfg(test)]
mod tests {
    /// Hoop formula, thin strap on a cylinder: T = 50 N, w = 4.8 mm, r = 5 mm gives 2.0833 `MPa`.
    #[test]
    fn hoop_pressure_of_a_thin_strap() {
        let pressure = super::hoop_pressure(50.0, 4.8e-3, 5.0e-3);
        assert!((pressure - 50.0e6 / 24.0).abs() < 1e-3, "{pressure} Pa");
    }
}
