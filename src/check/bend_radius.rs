//! Bend radius: the least inside radius of every span over all poses.
//!
//! The inside radius is that of the centreline less half the diameter. A span that moves and one that is held
//! still have different limits; within one diameter of a connector the limit of a supported bend holds.

use crate::harness::{BranchId, FixingKind};
use crate::quantity::Kind;
use crate::route::Span;

use super::curvature::{crests, curvature_at, is_straight, turning};
use super::job::{Job, Measured, Outcome, below, stations_of};
use super::wording::{degrees, fixing_stations, too_tight};
use super::{LimitKey, LimitRule};

const CHECK: &str = "bend radius";

/// The tightest place of one zone of a span.
#[derive(Debug, Clone, Copy)]
struct Tightest {
    radius: f64,
    at: f64,
    pose: usize,
}

pub(super) fn bend_radius(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    for (branch, index, span) in job.spans() {
        for at_connector in [false, true] {
            if let Some(tightest) = tightest_in(job, branch, index, span, at_connector) {
                let key = zone_key(span, at_connector);
                outcome
                    .findings
                    .push(finding(job, branch, span, tightest, key));
            }
        }
    }
    outcome
}

/// The limit that holds in a span, within one diameter of a connector or not.
fn zone_key(span: &Span, at_connector: bool) -> LimitKey {
    match (at_connector, span.moving) {
        (true, _) => LimitKey::BendRadiusConnector,
        (false, true) => LimitKey::BendRadiusMoving,
        (false, false) => LimitKey::BendRadiusStill,
    }
}

/// The limit of the inside radius at a place of a branch \[m\].
pub(super) fn limit_at(job: &Job<'_>, branch: BranchId, span: &Span, at: f64) -> f64 {
    let bundle = job.branch(branch);
    let key = zone_key(
        span,
        near_any(&connectors(job, branch), at, bundle.diameter),
    );
    job.limit(key).radius(job.route, bundle)
}

/// Where a branch's connectors are along it.
fn connectors(job: &Job<'_>, branch: BranchId) -> Vec<f64> {
    fixing_stations(&job.solved(branch).spans)
        .into_iter()
        .zip(&job.branch(branch).lay)
        .filter(|(_, entry)| matches!(entry.fixing.kind, FixingKind::Connector { .. }))
        .map(|(station, _)| station)
        .collect()
}

/// Whether a place is within one diameter of a connector.
fn near_any(connectors: &[f64], at: f64, diameter: f64) -> bool {
    connectors
        .iter()
        .any(|station| (station - at).abs() <= diameter)
}

/// Places inside a span where the limit changes: one diameter from a connector. Either limit holds there.
fn zone_edges(connectors: &[f64], diameter: f64, span: &Span) -> Vec<f64> {
    let edges = connectors.iter().flat_map(|c| [c - diameter, c + diameter]);
    edges
        .filter(|&edge| span.start < edge && edge < span.end())
        .collect()
}

fn tightest_in(
    job: &Job<'_>,
    branch: BranchId,
    index: usize,
    span: &Span,
    at_connector: bool,
) -> Option<Tightest> {
    let diameter = job.branch(branch).diameter;
    let connectors = connectors(job, branch);
    let edges = zone_edges(&connectors, diameter, span);
    let mut tightest: Option<Tightest> = None;
    for (pose, shape) in job.solved(branch).shapes.iter().enumerate() {
        let state = &shape.spans[index];
        let worst = (state.curvature, state.curvature_at);
        let stations = stations_of(shape, span);
        // The tightest place of all is known well; a crest beside it matters where that lies in the other zone.
        let crests = (!edges.is_empty()).then(|| crests(stations, worst.1));
        let places = stations
            .iter()
            .map(|s| (s.curvature, s.at))
            .chain(crests.into_iter().flatten())
            .chain([worst])
            .filter(|&(_, at)| near_any(&connectors, at, diameter) == at_connector);
        let at_edges = edges.iter().map(|&at| (curvature_at(shape, at), at));
        for (curvature, at) in places.chain(at_edges) {
            if is_straight(curvature, span.length) {
                continue;
            }
            let radius = 1.0 / curvature;
            if tightest.is_none_or(|best| below(radius, best.radius)) {
                tightest = Some(Tightest { radius, at, pose });
            }
        }
    }
    tightest
}

fn finding(
    job: &Job<'_>,
    branch: BranchId,
    span: &Span,
    tightest: Tightest,
    key: LimitKey,
) -> super::Finding {
    let bundle = job.branch(branch);
    let limit = job.limit(key);
    let inside = tightest.radius - 0.5 * bundle.diameter;
    let least = limit.radius(job.route, bundle);
    let words = job.span_words(branch, span);
    let subject = match key {
        LimitKey::BendRadiusConnector => format!("{words} at the connector"),
        _ => words.clone(),
    };
    Measured {
        check: CHECK,
        subject,
        branch,
        place: job.place_in_span(branch, span, tightest.at),
        at: tightest.at,
        pose: tightest.pose,
        value: inside,
        limit: least,
        kind: Kind::Length,
        at_most: false,
        from: limit,
    }
    .judged(
        || {
            format!(
                "{}, at least {} is needed: {}.",
                too_tight(job.units, inside),
                in_diameters(job, &limit.rule, least),
                cure(job, branch, span, tightest, least)
            )
        },
        || {
            format!(
                "Inside radius {}, {} more than needed.",
                job.show(inside),
                job.show(inside - least)
            )
        },
    )
}

fn in_diameters(job: &Job<'_>, rule: &LimitRule, least: f64) -> String {
    match rule {
        LimitRule::Diameters(factor) => format!("{} ({factor} × OD)", job.show(least)),
        _ => job.show(least),
    }
}

/// A first estimate of what would open the bend. A span that turns by θ cannot have a radius above L/θ
/// everywhere, so one shorter than θ·R must grow. Otherwise the length suffices and the bend is crowded: at a
/// fixing that holds direction, turning it by φ changes the curvature there by 4φ/L (slope-deflection of a
/// beam whose far end is held); elsewhere, a span of the same shape has its radius in proportion to its size.
fn cure(job: &Job<'_>, branch: BranchId, span: &Span, tightest: Tightest, least: f64) -> String {
    let bundle = job.branch(branch);
    let solved = job.solved(branch);
    let centreline = least + 0.5 * bundle.diameter;
    let turn = turning(&solved.shapes[tightest.pose], span);
    let missing = turn * centreline - span.length;
    let words = job.span_words(branch, span);
    if missing > 0.0 {
        return format!(
            "it turns by {} in all, so lengthen {words} by at least {} and spread the bend over it (first \
             estimate)",
            degrees(turn),
            job.show_up(missing)
        );
    }
    let to_start = tightest.at - span.start;
    let to_end = span.end() - tightest.at;
    let (fixing, distance) = if to_start <= to_end {
        (span.from, to_start)
    } else {
        (span.from + 1, to_end)
    };
    let fixing = &bundle.lay[fixing].fixing;
    let scale = span.length * (centreline / tightest.radius - 1.0);
    if job.route.is_drawn_only(fixing) {
        return format!(
            "lengthen {words} by about {} (first estimate), or let the branches leave the breakout {} more in the \
             direction in which they run on",
            job.show_up(scale),
            fixing.name
        );
    }
    if distance <= bundle.diameter && fixing.holds_direction() {
        // A taut span straightens within √(EI/T) of its fixing, so little turning makes a tight bend there.
        let tension = solved.shapes[tightest.pose].spans[span.from].tension;
        let layer = if tension > 0.0 {
            (bundle.stiffness.bend / tension).sqrt()
        } else {
            f64::INFINITY
        };
        let taut = layer < 0.25 * span.length;
        let angle = (1.0 / tightest.radius - 1.0 / centreline) * layer.min(0.25 * span.length);
        if taut {
            return format!(
                "it is pulled taut there, so lengthen {words} first, then see whether {} must be turned by about {} \
                 toward the run of the branch (first estimate)",
                fixing.name,
                degrees(angle)
            );
        }
        let room = if scale < span.length {
            format!(", or give the bend about {} more room", job.show_up(scale))
        } else {
            String::new()
        };
        format!(
            "turn {} by about {} toward the run of the branch{room} (first estimate)",
            fixing.name,
            degrees(angle)
        )
    } else {
        format!(
            "move {} about {} further from the bend and lengthen {words} with it (first estimate)",
            fixing.name,
            job.show_up(scale)
        )
    }
}
