//! Other ways for a branch through the room that the machine leaves it in every pose.
//!
//! The room about the bundle is put on a grid, once for each body that carries it (`field.rs`). Ways through it that are of
//! different classes are searched (`paths.rs`); where the branch passes to a body that moves, pairs of places on either side
//! are weighed (`crossing.rs`). Each way becomes clamps on what can hold them (`fixings.rs`), is solved, checked, and mended
//! a little where it just misses (`trial.rs`, `mending.rs`). What is proposed was read again from its own text, solved and checked with
//! its spread; what falls through is told with the finding that decides.
//!
//! The branch stays one bundle: all its wires go the same way. Ways farther out than a margin about the branch are not
//! searched, nor passages narrower than a cell of the grid.

mod candidates;
mod crossing;
mod field;
mod fixings;
mod mending;
mod paths;
#[cfg(test)]
mod paths_test;
mod taut;
mod told;
mod trial;
mod trying;
mod words;

use nalgebra::{Point3, Vector3};

use crate::check::{Finding, Limits};
use crate::harness::{BranchId, FixingKind};
use crate::machine::Sweep;
use crate::quantity::Units;
use crate::rod;
use crate::route::Route;

use candidates::{one_body, two_bodies};
use field::{Field, Grid, Seen};
use trying::try_all;

/// How far beyond the branch's own fixings ways are searched \[m\].
const BEYOND: f64 = 0.15;
/// Cells are about this wide at least \[m\].
const LEAST_CELL: f64 = 0.006;
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

/// A way on which the branch holds every limit, and no other branch breaks one that held before.
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
    /// What other branches break with it as they did before.
    pub elsewhere: Vec<Finding>,
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

/// How a route becomes the text of its own file, and the route that is read again from that.
pub type Written<'h> = dyn Fn(&Route) -> Result<(String, Route), String> + Sync + 'h;

/// What the search is given from outside: how a route becomes a text and is read again, whether to stop, and what to say
/// meanwhile.
pub struct Hooks<'h> {
    /// The text of the route's own file as it should be, and the route as read again from it.
    pub written: &'h Written<'h>,
    /// Whether to stop and give what was found so far.
    pub stop: &'h (dyn Fn() -> bool + Sync),
    /// How far it has come.
    pub say: &'h (dyn Fn(&str) + Sync),
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
