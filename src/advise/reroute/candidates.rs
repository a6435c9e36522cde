//! Whole ways before they are tried: through the room of one body, or of two with a crossing between.

use nalgebra::Point3;

use crate::machine::BodyId;
use crate::route::Route;

use super::crossing::{Crossing, Sides};
use super::field::{Field, Seen};
use super::fixings::{Clamp, along};
use super::paths::{Search, Way};
use super::words::{closed, in_words, unheld};
use super::{Hooks, Options, Rejected, Rerouted};

/// Crossings between bodies that are followed up.
const CROSSINGS: usize = 4;
/// Classes that are followed up on each side of the best crossing; fewer on the others.
const CLASSES: usize = 3;

/// A whole way before it is tried.
#[derive(Debug)]
pub(super) struct Candidate {
    pub(super) words: String,
    pub(super) clamps: Result<Vec<Clamp>, String>,
    pub(super) class: usize,
}

#[allow(
    clippy::too_many_arguments,
    reason = "one call, all of it given by the caller above"
)]
pub(super) fn one_body(
    route: &Route,
    options: &Options,
    seen: &Seen<'_>,
    field: &Field<'_>,
    ends: [Point3<f64>; 2],
    body: BodyId,
    hooks: &Hooks<'_>,
    rerouted: &mut Rerouted,
) -> Vec<Candidate> {
    let mut search = Search::new(field, ends);
    let classes = search.classes(2 * CLASSES, hooks.stop);
    if classes.is_empty() {
        rerouted
            .rejected
            .push(closed(route, field, &search, ends, options.units));
    }
    let mut candidates = Vec::new();
    for (class, way) in classes.iter().enumerate() {
        for more in 0..2 {
            candidates.push(Candidate {
                words: in_words(route, &[way]),
                clamps: along(field, seen, body, way, more).map_err(|at| unheld(at, options.units)),
                class,
            });
        }
    }
    candidates
}

#[allow(
    clippy::too_many_arguments,
    reason = "one call, all of it given by the caller above"
)]
pub(super) fn two_bodies(
    route: &Route,
    options: &Options,
    seen: &Seen<'_>,
    fields: [&Field<'_>; 2],
    ends: [Point3<f64>; 2],
    bodies: [BodyId; 2],
    hooks: &Hooks<'_>,
    rerouted: &mut Rerouted,
) -> Vec<Candidate> {
    (hooks.say)("searching where to pass from one body to the other");
    let [start, end] = ends;
    let searches = [
        Search::new(fields[0], [start, end]),
        Search::new(fields[1], [end, start]),
    ];
    let (before, after) = rayon::join(|| searches[0].run(false), || searches[1].run(false));
    let reached = [before, after];
    let sides = Sides {
        route,
        seen,
        bodies,
        fields,
        reached: [&reached[0], &reached[1]],
        branch: options.branch,
        between: (options.from, options.to),
    };
    let crossings = sides.best(seen.limits, CROSSINGS);
    if crossings.is_empty() {
        let why = closed(route, fields[0], &searches[0], ends, options.units);
        rerouted.rejected.push(Rejected {
            way: why.way,
            why: format!(
                "no two places on either side of the joint can be joined; {}",
                why.why
            ),
        });
    }
    let mut candidates = Vec::new();
    let mut class = 0;
    for (nth, crossing) in crossings.iter().enumerate() {
        if (hooks.stop)() {
            rerouted.stopped = true;
            break;
        }
        (hooks.say)("searching ways to each crossing");
        let most = if nth == 0 { [CLASSES, 2] } else { [2, 1] };
        let firsts =
            Search::new(fields[0], [start, crossing.before.at]).classes(most[0], hooks.stop);
        let seconds = Search::new(fields[1], [crossing.after.at, end]).classes(most[1], hooks.stop);
        for first in &firsts {
            for second in &seconds {
                class += 1;
                for more in 0..2 {
                    candidates.push(Candidate {
                        words: in_words(route, &[first, second]),
                        clamps: joined(seen, fields, bodies, crossing, [first, second], more)
                            .map_err(|at| unheld(at, options.units)),
                        class,
                    });
                }
            }
        }
    }
    candidates
}

/// Clamps along both ways and on either side of the crossing.
fn joined(
    seen: &Seen<'_>,
    fields: [&Field<'_>; 2],
    bodies: [BodyId; 2],
    crossing: &Crossing,
    ways: [&Way; 2],
    more: usize,
) -> Result<Vec<Clamp>, f64> {
    let mut clamps = along(fields[0], seen, bodies[0], ways[0], more)?;
    for (side, spot) in [&crossing.before, &crossing.after].into_iter().enumerate() {
        clamps.push(Clamp {
            at: spot.at,
            along: spot.along,
            body: bodies[side],
            // What stands on the near side was perhaps what failed: only its place is kept.
            keeps: spot.lay.filter(|_| side == 1),
            length: (side == 1).then_some(crossing.length),
        });
    }
    clamps.extend(along(fields[1], seen, bodies[1], ways[1], 0)?);
    Ok(clamps)
}
