//! Other ways for a branch through the room that the machine leaves it in every pose.
//!
//! The room about the bundle is put on a grid, once for each body that carries it (`field.rs`). Ways through it that are of
//! different classes are searched (`paths.rs`); where the branch passes to a body that moves, pairs of places on either side
//! are weighed (`crossing.rs`). Each way becomes clamps on what can hold them (`fixings.rs`), is solved, checked, and mended
//! a little where it just misses (`trial.rs`). What is proposed was read again from its own text, solved and checked with
//! its spread; what falls through is told with the finding that decides.
//!
//! The branch stays one bundle: all its wires go the same way. Ways farther out than a margin about the branch are not
//! searched, nor passages narrower than a cell of the grid.

mod crossing;
mod field;
mod fixings;
mod paths;
#[cfg(test)]
mod paths_test;
mod trial;

use nalgebra::{Point3, Vector3};

use crate::check::{Finding, Limits};
use crate::harness::{BranchId, FixingKind};
use crate::machine::{BodyId, PartId, Sweep};
use crate::quantity::{Kind, Units};
use crate::rod;
use crate::route::Route;

use crossing::{Crossing, Sides};
use field::{Field, Grid, Seen};
use fixings::{Clamp, along, side_of, smoothed};
use paths::{Search, Way};
use trial::{Trials, Tried};

/// How far beyond the branch's own fixings ways are searched \[m\].
const BEYOND: f64 = 0.15;
/// Cells are about this wide at least \[m\].
const LEAST_CELL: f64 = 0.006;
/// Crossings between bodies that are followed up.
const CROSSINGS: usize = 4;
/// Classes that are followed up on each side of the best crossing; fewer on the others.
const CLASSES: usize = 3;

/// What to lay anew.
#[derive(Debug, Clone, Copy)]
pub struct Options {
    /// The branch.
    pub branch: BranchId,
    /// Index in its lay of the fixing from which it is laid anew; that fixing stays.
    pub from: usize,
    /// Index in its lay of the fixing to which it is laid anew; that fixing stays.
    pub to: usize,
    /// Most proposals.
    pub most: usize,
    /// Units in texts.
    pub units: Units,
    /// Settings of the rod.
    pub settings: rod::Settings,
}

/// A way that holds every limit.
#[derive(Debug, Clone)]
pub struct Proposal {
    /// The way in words.
    pub way: String,
    /// The whole route file.
    pub text: String,
    /// The route as read from that text.
    pub route: Route,
    /// Least share of a limit that is left free among the findings of the branch, 0 to 1.
    pub margin: f64,
    /// The finding that leaves the least.
    pub decided_by: Option<Finding>,
    /// Length of the branch \[m\].
    pub length: f64,
    /// Fixings that are new or kept between the two that stay.
    pub ties: usize,
    /// Least gap to a hot part, of what is to be kept from it; `None` where none is near.
    pub heat: Option<f64>,
    /// What to do, in order, in words.
    pub changes: Vec<String>,
}

/// A way that falls through.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejected {
    /// The way in words.
    pub way: String,
    /// What decides against it.
    pub why: String,
}

/// What came of the search.
#[derive(Debug, Default)]
pub struct Rerouted {
    /// Best first.
    pub proposals: Vec<Proposal>,
    /// In the order in which they were tried.
    pub rejected: Vec<Rejected>,
    /// Whether it was stopped before all ways were tried.
    pub stopped: bool,
}

/// Why a branch cannot be laid anew at all.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RerouteError {
    /// The two fixings are the same, or in the wrong order.
    #[error("\"{0}\" does not come before \"{1}\" along the branch: give them the other way round")]
    Order(String, String),
    /// Other branches meet in between.
    #[error(
        "other branches meet at \"{0}\", between the two: lay the parts on either side of it anew, one after the other, with --from or --to \"{0}\""
    )]
    Breakout(String),
}

/// A whole way before it is tried.
#[derive(Debug)]
struct Candidate {
    words: String,
    clamps: Result<Vec<Clamp>, String>,
    class: usize,
}

/// How a route becomes the text of its own file, and the route that is read again from that.
pub type Written<'h> = dyn Fn(&Route) -> Result<(String, Route), String> + 'h;

/// What the search is given from outside: how a route becomes a text and is read again, whether to stop, and what to say
/// meanwhile.
pub struct Hooks<'h> {
    /// The text of the route's own file as it should be, and the route as read again from it.
    pub written: &'h Written<'h>,
    /// Whether to stop and give what was found so far.
    pub stop: &'h dyn Fn() -> bool,
    /// How far it has come.
    pub say: &'h dyn Fn(&str),
}

impl std::fmt::Debug for Hooks<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Hooks").finish_non_exhaustive()
    }
}

/// Finds other ways for a branch between two of its fixings.
///
/// # Errors
/// The fixings are in the wrong order, or other branches meet between them.
pub fn reroute(
    route: &Route,
    options: &Options,
    hooks: &Hooks<'_>,
) -> Result<Rerouted, RerouteError> {
    let branch = &route.branches[options.branch.0];
    let name = |lay: usize| branch.lay[lay].fixing.name.clone();
    if options.from >= options.to || options.to >= branch.lay.len() {
        return Err(RerouteError::Order(
            name(options.from),
            name(options.to.min(branch.lay.len() - 1)),
        ));
    }
    let inner = options.from + 1..options.to;
    if let Some(lay) = inner
        .clone()
        .find(|lay| branch.lay[*lay].fixing.kind == FixingKind::Breakout)
    {
        return Err(RerouteError::Breakout(name(lay)));
    }
    let limits = Limits::new(&route.limits);
    let machine = &route.machine;
    let rest = machine.stance(&machine.rest());
    let sweep = Sweep::with_corners(machine, &route.corner_groups());
    let stances: Vec<_> = sweep
        .poses
        .iter()
        .map(|pose| machine.stance(&pose.joints))
        .collect();
    let seen = Seen {
        machine,
        stances: &stances,
        rest: &rest,
        limits: &limits,
        radius: 0.5 * branch.diameter,
        doubt: route.tolerance,
    };
    let ends = [options.from, options.to].map(|lay| route.fixing_position(branch, lay, &rest));
    let bodies = [options.from, options.to].map(|lay| branch.lay[lay].fixing.on);
    let grid = grid_about(route, options, &rest);
    (hooks.say)("measuring the room that the machine leaves in every pose");
    let first = Field::new(&seen, bodies[0], grid.clone());
    let crossed = machine.moves_against(bodies[0], bodies[1]);
    let mut rerouted = Rerouted::default();
    let candidates = if crossed {
        let second = Field::new(&seen, bodies[1], grid);
        two_bodies(
            route,
            options,
            &seen,
            [&first, &second],
            ends,
            bodies,
            hooks,
            &mut rerouted,
        )
    } else {
        (hooks.say)("searching ways");
        one_body(
            route,
            options,
            &seen,
            &first,
            ends,
            bodies[0],
            hooks,
            &mut rerouted,
        )
    };
    try_all(route, options, candidates, hooks, &mut rerouted);
    Ok(rerouted)
}

/// A grid about the fixings between which the branch is laid anew.
fn grid_about(route: &Route, options: &Options, rest: &crate::machine::Stance) -> Grid {
    let branch = &route.branches[options.branch.0];
    let mut low = Point3::from(Vector3::repeat(f64::INFINITY));
    let mut high = Point3::from(Vector3::repeat(f64::NEG_INFINITY));
    for lay in options.from..=options.to {
        let at = route.fixing_position(branch, lay, rest);
        low = low.inf(&at);
        high = high.sup(&at);
    }
    let beyond = Vector3::repeat(BEYOND + 0.05 * (high - low).norm());
    Grid::over(
        low - beyond,
        high + beyond,
        (0.9 * branch.diameter).clamp(LEAST_CELL, 0.012),
    )
}

#[allow(
    clippy::too_many_arguments,
    reason = "one call, all of it given by the caller above"
)]
fn one_body(
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
fn two_bodies(
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
            part: fields[side].support(&spot.at).map(|support| support.2),
            // What stands on the near side was perhaps what failed: only its place is kept.
            keeps: spot.lay.filter(|_| side == 1),
            length: (side == 1).then_some(crossing.length),
        });
    }
    clamps.extend(along(fields[1], seen, bodies[1], ways[1], 0)?);
    Ok(clamps)
}

fn unheld(at: f64, units: Units) -> String {
    format!(
        "nothing cool and without an edge is near enough to hold a clamp about {} along it",
        units.show_to(at, Kind::Length, 0)
    )
}

/// That there is no way, and what closes it.
fn closed(
    route: &Route,
    field: &Field<'_>,
    search: &Search<'_, '_>,
    ends: [Point3<f64>; 2],
    units: Units,
) -> Rejected {
    let reached = search.run(false);
    let grid = &field.grid;
    let nearest = (0..grid.len())
        .filter(|index| reached.cost(*index).is_finite())
        .map(|index| grid.point(index))
        .min_by(|a, b| (a - ends[1]).norm().total_cmp(&(b - ends[1]).norm()))
        .unwrap_or(ends[0]);
    let run = ends[1] - nearest;
    let steps = 200;
    let wall = (0..=steps)
        .map(|i| nearest + run * (f64::from(i) / f64::from(steps)))
        .find_map(|p| {
            let (room, part) = field.room(&p);
            part.filter(|_| room < 0.0)
        });
    let why = match wall {
        Some(part) => format!(
            "no way was found: {} closes it, {} before the end; the bundle and what is to be kept do not fit past it",
            route.machine.parts[part.0].name,
            units.show_to(run.norm(), Kind::Length, 0)
        ),
        None => "no way was found within the space searched".to_owned(),
    };
    Rejected {
        way: "any way".to_owned(),
        why,
    }
}

/// A way in words: the sides on which it passes the parts nearest to it, in order.
fn in_words(route: &Route, ways: &[&Way]) -> String {
    let points: Vec<Point3<f64>> = ways.iter().flat_map(|way| way.iter().copied()).collect();
    let mut passed: Vec<(usize, f64, String)> = Vec::new();
    for part in &route.machine.parts {
        if route.machine.moves_against(part.on, BodyId(0)) && ways.len() == 1 {
            continue;
        }
        let nearest = points
            .iter()
            .enumerate()
            .map(|(i, p)| (i, part.shape.distance(p)))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        let Some((i, distance)) =
            nearest.filter(|(i, d)| *d < 0.06 && *i > 0 && i + 1 < points.len())
        else {
            continue;
        };
        let normal = part.shape.contact(&points[i]).normal;
        passed.push((
            i,
            distance,
            format!("{} the {}", side_of(&normal), part.name),
        ));
    }
    passed.sort_by(|a, b| a.1.total_cmp(&b.1));
    passed.truncate(4);
    passed.sort_by_key(|(i, ..)| *i);
    if passed.is_empty() {
        return "through the open".to_owned();
    }
    let words: Vec<String> = passed.into_iter().map(|(.., words)| words).collect();
    words.join(", ")
}

/// The part that a clamp stands on, in words.
fn on_part(route: &Route, part: Option<PartId>) -> String {
    part.map_or_else(String::new, |part| {
        format!(", on {}", route.machine.parts[part.0].name)
    })
}

/// A way that was looked at once.
#[derive(Debug)]
struct Looked {
    words: String,
    class: usize,
    clamps: Vec<Clamp>,
    found: Vec<Finding>,
}

/// Looks at every way once, then mends and confirms them, those first that miss least.
fn try_all(
    route: &Route,
    options: &Options,
    candidates: Vec<Candidate>,
    hooks: &Hooks<'_>,
    rerouted: &mut Rerouted,
) {
    let trials = Trials::new(route, options);
    let rest = route.machine.stance(&route.machine.rest());
    let branch = &route.branches[options.branch.0];
    let ends = [options.from, options.to].map(|lay| route.fixing_position(branch, lay, &rest));
    let count = candidates.len();
    let mut looked: Vec<Looked> = Vec::new();
    let mut fallen: Vec<(usize, Rejected)> = Vec::new();
    for (
        nth,
        Candidate {
            words,
            clamps,
            class,
            ..
        },
    ) in candidates.into_iter().enumerate()
    {
        if (hooks.stop)() {
            rerouted.stopped = true;
            break;
        }
        (hooks.say)(&format!("looking at way {} of {count}: {words}", nth + 1));
        match clamps {
            Err(why) => fallen.push((class, Rejected { way: words, why })),
            Ok(clamps) => {
                // The clamps beside the joint as the closed forms have them, or turned into the run like all others.
                let mut smooth = clamps.clone();
                smoothed(&mut smooth, ends);
                let mut eased = smooth.clone();
                for (i, clamp) in clamps.iter().enumerate() {
                    let beside = clamp.length.is_some()
                        || clamps.get(i + 1).is_some_and(|next| next.length.is_some());
                    if beside {
                        eased[i] = clamp.clone();
                    }
                }
                let looks = [smooth, eased].map(|clamps| (trials.look(&clamps), clamps));
                let [first, second] = looks;
                let better = trial::missing(&second.0) < trial::missing(&first.0);
                let (found, clamps) = if better { second } else { first };
                looked.push(Looked {
                    found,
                    words,
                    class,
                    clamps,
                });
            }
        }
    }
    looked.sort_by(|a, b| trial::missing(&a.found).total_cmp(&trial::missing(&b.found)));
    let mut held: Vec<usize> = Vec::new();
    for Looked {
        words,
        class,
        clamps,
        found,
    } in looked
    {
        if held.contains(&class) || rerouted.proposals.len() >= options.most {
            continue;
        }
        if (hooks.stop)() {
            rerouted.stopped = true;
            if let Some(why) = trials.first_why(&found) {
                fallen.push((class, Rejected { way: words, why }));
            }
            continue;
        }
        (hooks.say)(&format!(
            "{} found; mending: {words}",
            rerouted.proposals.len()
        ));
        match trials.try_out(&words, clamps, found, hooks) {
            Tried::Holds(proposal) => {
                held.push(class);
                rerouted.proposals.push(*proposal);
            }
            Tried::Fails(why) => fallen.push((class, Rejected { way: words, why })),
        }
    }
    // A class that came through with other clamps did not fall; of one that did, what was tried first is told.
    let mut told: Vec<usize> = Vec::new();
    for (class, rejected) in fallen {
        if !held.contains(&class) && !told.contains(&class) {
            told.push(class);
            rerouted.rejected.push(rejected);
        }
    }
    rerouted
        .proposals
        .sort_by(|a, b| rank(b).total_cmp(&rank(a)));
}

/// What ranks a proposal: margin first, then length, fixings and heat; all as shares of a limit.
fn rank(proposal: &Proposal) -> f64 {
    let heat = proposal.heat.map_or(0.0, |share| 0.1 / share.max(0.1));
    proposal.margin.min(0.5) - 0.15 * proposal.length - 0.01 * trial::number(proposal.ties) - heat
}
