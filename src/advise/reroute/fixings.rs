//! A way turned into fixings: clamps on what can hold them, close enough together, facing along the way.

use nalgebra::{Point3, UnitVector3, Vector3};

use crate::check::LimitKey;
use crate::harness::{Branch, BranchId, Fixing, FixingKind, Lay, LengthRule};
use crate::machine::BodyId;
use crate::route::{Place, Route};

use super::crossing::BRACKET;
use super::field::{Field, Seen, real, whole};
use super::paths::{length, point_at};

/// Share of the support limit that a span takes at most.
const SUPPORT_SHARE: f64 = 0.85;
/// Room between a bundle and the surface that it is clamped to \[m\]: the cushion.
const CUSHION: f64 = 0.003;
/// Width of a clamp \[m\].
const WIDTH: f64 = 0.012;
/// Length over the smooth path that a still span gets \[m\].
const EASE: f64 = 0.0008;

/// A clamp to be placed, at rest (machine frame).
#[derive(Debug, Clone)]
pub(super) struct Clamp {
    pub(super) at: Point3<f64>,
    pub(super) along: UnitVector3<f64>,
    pub(super) body: BodyId,
    /// The fixing of the old lay that is kept here as it is.
    pub(super) keeps: Option<usize>,
    /// Length of the span that leads here, where it is set \[m\].
    pub(super) length: Option<f64>,
}

/// Clamps along a way on one body, its two ends left out. `more` are clamps beyond the fewest.
///
/// # Errors
/// How far along the way nothing can hold a clamp \[m\].
pub(super) fn along(
    field: &Field<'_>,
    seen: &Seen<'_>,
    body: BodyId,
    way: &[Point3<f64>],
    more: usize,
) -> Result<Vec<Clamp>, f64> {
    let long = length(way);
    let limit = seen.limits.get(LimitKey::SupportDistance).value();
    let spans = whole(long / (SUPPORT_SHARE * limit)) + 1 + more;
    let each = long / real(spans);
    let mut clamps = Vec::new();
    for nth in 1..spans {
        let wanted = each * real(nth);
        let window = (0.30 * each).min(0.5 * (limit - each)).max(0.1 * each);
        let best = (0..=40)
            .filter_map(|i| {
                let at = wanted + window * (real(i) / 20.0 - 1.0);
                let clamp = place(field, seen, body, way, at)?;
                let off = field.support(&clamp.at).map_or(1.0, |s| s.0);
                Some((off + 0.15 * (at - wanted).abs(), clamp))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        clamps.push(best.ok_or(wanted)?.1);
    }
    Ok(clamps)
}

/// A clamp at a place along a way, drawn to the surface that holds it as far as there is room.
fn place(
    field: &Field<'_>,
    seen: &Seen<'_>,
    body: BodyId,
    way: &[Point3<f64>],
    at: f64,
) -> Option<Clamp> {
    let here = point_at(way, at);
    let (away, normal, _) = field.support(&here)?;
    let seat = seen.radius + seen.doubt + CUSHION;
    let mut p = here;
    for share in [1.0, 0.66, 0.33] {
        let moved = here - normal * (share * (away - seat).clamp(-0.01, 0.02));
        if field.room(&moved).0 >= 0.0 {
            p = moved;
            break;
        }
    }
    if field.room(&p).0 < -1e-4 || field.support(&p)?.0 > BRACKET {
        return None;
    }
    let run = point_at(way, at + 0.04) - point_at(way, at - 0.04);
    Some(Clamp {
        at: p,
        along: UnitVector3::try_new(run, 1e-9)?,
        body,
        keeps: None,
        length: None,
    })
}

/// Turns new clamps so that the branch runs smoothly through all of them: at each the direction of the parabola through it
/// and its neighbours, all at rest.
pub(super) fn smoothed(clamps: &mut [Clamp], ends: [Point3<f64>; 2]) {
    let mut at = vec![ends[0]];
    at.extend(clamps.iter().map(|clamp| clamp.at));
    at.push(ends[1]);
    for (clamp, around) in clamps.iter_mut().zip(at.windows(3)) {
        let (a, c) = (around[1] - around[0], around[2] - around[1]);
        let square = |v: &Vector3<f64>| v.norm_squared().max(1e-6);
        let run = a / square(&a) + c / square(&c);
        if clamp.keeps.is_none() {
            clamp.along = UnitVector3::try_new(run, 1e-9).unwrap_or(clamp.along);
        }
    }
}

/// The route with clamps in place of all fixings of `branch` between two of its lay. Lengths that are not set are those of
/// the smooth path.
pub(super) fn laid(
    route: &Route,
    branch: BranchId,
    (from, to): (usize, usize),
    clamps: &[Clamp],
) -> Route {
    let mut new = route.clone();
    let rest = route.machine.stance(&route.machine.rest());
    let old = &route.branches[branch.0];
    let mut lay: Vec<Lay> = old.lay[..=from].to_vec();
    let mut count = 0;
    for clamp in clamps {
        let length = clamp
            .length
            .map_or(LengthRule::SmoothPath, LengthRule::Measured);
        if let Some(kept) = clamp.keeps {
            lay.push(Lay {
                vias: Vec::new(),
                length,
                fixing: old.lay[kept].fixing.clone(),
            });
            continue;
        }
        let home = rest.bodies[clamp.body.0].inverse();
        new.places.push(Place {
            name: None,
            at: home * clamp.at,
            misfit: None,
        });
        lay.push(Lay {
            fixing: Fixing {
                name: free_name(route, &mut count),
                kind: FixingKind::Clamp,
                on: clamp.body,
                place: new.places.len() - 1,
                facing: Some(home * clamp.along),
                width: Some(WIDTH),
            },
            vias: Vec::new(),
            length,
        });
    }
    lay.push(Lay {
        vias: Vec::new(),
        length: LengthRule::SmoothPath,
        ..old.lay[to].clone()
    });
    let end = lay.len() - 1;
    lay.extend_from_slice(&old.lay[to + 1..]);
    for breakout in &mut new.breakouts {
        for meeting in breakout
            .meets
            .iter_mut()
            .filter(|m| m.branch == branch && m.lay >= to)
        {
            meeting.lay = meeting.lay - to + end;
        }
    }
    new.branches[branch.0] = Branch { lay, ..old.clone() };
    let spans = new.spans(&new.branches[branch.0], &rest);
    for span in &spans[from..end] {
        let rule = &mut new.branches[branch.0].lay[span.from + 1].length;
        if *rule == LengthRule::SmoothPath {
            // Written to a tenth of a millimetre, as it is cut.
            *rule = LengthRule::Measured(((span.length * 1.001 + EASE) * 1e4).ceil() * 1e-4);
        }
    }
    new.changes.clear();
    new.changes = route
        .changes
        .iter()
        .filter(|change| new.can_be_made(change))
        .cloned()
        .collect();
    new
}

/// A name that no fixing of the route has.
fn free_name(route: &Route, count: &mut usize) -> String {
    loop {
        *count += 1;
        let name = format!("R{count}");
        let mut fixings = route.branches.iter().flat_map(|b| &b.lay);
        if !fixings.any(|entry| entry.fixing.name == name) {
            return name;
        }
    }
}

/// On which side of a part a point is: "left of", "over" …
pub(super) fn side_of(from: &Vector3<f64>) -> &'static str {
    let axis = from.iamax();
    match (axis, from[axis] >= 0.0) {
        (0, true) => "in front of",
        (0, false) => "behind",
        (1, true) => "left of",
        (1, false) => "right of",
        (_, true) => "over",
        (_, false) => "under",
    }
}
