//! Heat: the steady temperature of a branch's outside and of its hottest conductor, riding, standing with the engine
//! idling, and just after it was stopped, against what its wires, cover, ties and connectors are rated for.
//!
//! Places near hot parts are looked at in the pose in which they are nearest; `warmth.rs` says how warm each gets.

use rayon::prelude::*;

use crate::conductor::class_limit;
use crate::conductor::heat::ageing;
use crate::harness::{BranchId, FixingKind};
use crate::machine::PartId;
use crate::quantity::Kind;

use super::current::AIR;
use super::job::{Job, Measured, Outcome};
use super::warmth::{Seen, Spot, joule, spot};
use super::wording::fixing_stations;
use super::{Finding, LimitKey};

const CHECK: &str = "heat";

/// Parts further away than this warm a bundle by little \[m\]: our own choice.
const FAR: f64 = 0.25;
/// A part counts as hot from here on \[°C\].
const HOT: f64 = 70.0;
/// Most between places that are looked at \[m\].
const PITCH: f64 = 0.040;
/// A branch that is warmed by less \[K\] is not worth a line.
const WORTH_A_LINE: f64 = 5.0;
/// Nylon 6.6 \[°C\] (makers; from memory).
const NYLON: f64 = 85.0;
/// Insulation ages twice as fast every so many kelvin where the route file does not say: a rule of thumb (Montsinger
/// 1930).
const HALVING: f64 = 10.0;

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
    worst(job, branch, &hot, joule).into_iter().collect()
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
    // The same places from either end.
    let count = (length / PITCH).ceil();
    let mut place = 0.5;
    while place < count {
        all.push(length * place / count);
        place += 1.0;
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

/// What is used up most: by which thing, at which place. Where even the most that a place can be warmed by would not use up
/// more than another place does, it is not looked at any closer.
fn worst(job: &Job<'_>, branch: BranchId, hot: &[PartId], joule: f64) -> Option<Finding> {
    let places = places(job, branch, hot);
    let mut bounds: Vec<(f64, usize)> = places
        .iter()
        .enumerate()
        .filter_map(|(index, &place)| {
            let spot = spot(job, branch, place, hot, joule, Seen::AtMost)?;
            let uses = uses(job, branch, &spot).into_iter();
            Some((
                uses.map(|used| used.share)
                    .fold(f64::NEG_INFINITY, f64::max),
                index,
            ))
        })
        .collect();
    bounds.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut looked_at: Vec<(usize, Spot, Vec<Used>)> = Vec::new();
    let mut most = f64::NEG_INFINITY;
    for (bound, index) in bounds {
        if bound < most - TIE {
            break;
        }
        let Some(spot) = spot(job, branch, places[index], hot, joule, Seen::Rays) else {
            continue;
        };
        let uses = uses(job, branch, &spot);
        most = uses.iter().map(|used| used.share).fold(most, f64::max);
        looked_at.push((index, spot, uses));
    }
    looked_at.sort_by_key(|(index, ..)| *index);
    let mut best: Option<(&Spot, &Used)> = None;
    for (_, spot, uses) in &looked_at {
        for used in uses {
            if best.is_none_or(|(_, best)| used.share > best.share + TIE) {
                best = Some((spot, used));
            }
        }
    }
    let (spot, used) = best?;
    (used.value - AIR > WORTH_A_LINE)
        .then(|| finding(job, branch, spot, used.value, used.allowed, &used.what))
}

/// What a place uses up of what one thing there is good for.
struct Used {
    /// Of the way from the air's temperature to what is allowed.
    share: f64,
    value: f64,
    allowed: f64,
    what: String,
}

/// Shares that differ by less are the same: the first place tells.
const TIE: f64 = 1e-6;

/// What a place uses up of all things there.
fn uses(job: &Job<'_>, branch: BranchId, spot: &Spot) -> Vec<Used> {
    let bundle = job.branch(branch);
    let limit = job.limit(LimitKey::HotTemperature);
    let mut uses: Vec<Used> = Vec::new();
    let mut use_up = |value: f64, allowed: f64, what: String| {
        uses.push(Used {
            share: (value - AIR) / (allowed - AIR).max(1.0),
            value,
            allowed,
            what,
        });
    };
    if limit.status == super::LimitStatus::Overridden {
        use_up(spot.outside, limit.value(), "the limit set".to_owned());
        return uses;
    }
    let weakest = bundle
        .wires
        .iter()
        .map(|id| &job.route.wires[id.0])
        .filter(|wire| wire.class.is_some())
        .min_by(|a, b| class_limit(a.class).total_cmp(&class_limit(b.class)));
    if let Some(wire) = weakest {
        let what = format!("wire \"{}\"", wire.name);
        use_up(spot.inside, class_limit(wire.class), what);
    }
    if let Some(rated) = bundle.cover.as_ref().and_then(|cover| cover.rated) {
        use_up(spot.outside, rated, "the cover".to_owned());
    }
    let stations = fixing_stations(&job.solved(branch).spans);
    for (entry, station) in bundle.lay.iter().zip(&stations) {
        if (station - spot.at).abs() > 1e-6 {
            continue;
        }
        let name = &entry.fixing.name;
        match entry.fixing.kind {
            FixingKind::Tie { rated, .. } => {
                let what = match rated {
                    Some(_) => format!("the tie {name}"),
                    None => format!("the tie {name} if it is of nylon"),
                };
                use_up(spot.outside, rated.unwrap_or(NYLON), what);
            }
            FixingKind::Connector {
                rated: Some(rated), ..
            } => use_up(spot.outside, rated, format!("the connector {name}")),
            _ => {}
        }
    }
    uses
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
