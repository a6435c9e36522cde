//! All checks on a solved route, and their findings worst first.

use rayon::prelude::*;

use crate::harness::BranchId;
use crate::machine::Surroundings;
use crate::quantity::Units;
use crate::rod::{self, Solution};
use crate::route::Route;

use super::job::Job;
use super::{AgainstJoint, AlongBranch, Findings, Limits, cause, charts, gaps, spread};

/// How to check.
#[derive(Debug, Clone, Copy)]
pub struct Options {
    /// Work out the spread of every finding. Without it only what a rule calls so is [`super::Verdict::Close`].
    pub spread: bool,
    /// Units in the findings' texts.
    pub units: Units,
    /// Settings of the rod, those that the route was solved with.
    pub settings: rod::Settings,
    /// Work out the strip charts; a search that shows none is quicker without.
    pub charts: bool,
    /// Names of checks that are left out.
    pub without: &'static [&'static str],
}

impl Default for Options {
    fn default() -> Self {
        Self {
            spread: true,
            charts: true,
            units: Units::METRIC,
            settings: rod::Settings::default(),
            without: &[],
        }
    }
}

/// Solves a slightly changed route in the rod's stead: the changed route, and the solution to start from.
pub(super) type SolveNear<'f> = dyn Fn(&Route, &Solution) -> Solution + Sync + 'f;

/// Runs all checks on a solved route.
pub fn check(route: &Route, solution: &Solution, options: &Options) -> Findings {
    run(route, solution, options, None)
}

/// Runs all checks on a route that differs from another one in some branches alone: those are checked anew, and of the
/// others what was found `before` with the same options stands, but for what is summed over branches. No spread.
pub(crate) fn check_anew(
    route: &Route,
    solution: &Solution,
    options: &Options,
    before: &Findings,
    anew: &[BranchId],
) -> Findings {
    let limits = Limits::new(&route.limits);
    let surroundings = Surroundings::new(&route.machine);
    let branches: Vec<BranchId> = (0..route.branches.len()).map(BranchId).collect();
    let mut nearest = before.nearest.clone();
    for &branch in anew {
        nearest[branch.0] = gaps::least(route, solution, &surroundings, branch);
    }
    let job = |branches| {
        let nearest = nearest.clone();
        Job::new(
            route,
            solution,
            &surroundings,
            &limits,
            branches,
            nearest,
            options.units,
        )
    };
    let whole = job(&branches);
    let outcome = super::some_checks(&job(anew), &whole, before, options.without);
    let (along, against) = charts_of(&whole, options);
    let mut findings = Findings {
        findings: outcome.findings,
        blanks: outcome.blanks,
        along,
        against,
        limits: Limits::new(&route.limits),
        nearest,
    };
    cause::rank(route, solution, &mut findings.findings);
    findings
}

/// Runs all checks on a solved route. `solve_near` finds the solution of a slightly changed route, starting from
/// the one given.
pub fn check_with(
    route: &Route,
    solution: &Solution,
    options: &Options,
    solve_near: &(dyn Fn(&Route, &Solution) -> Solution + Sync),
) -> Findings {
    run(route, solution, options, Some(solve_near))
}

fn run(
    route: &Route,
    solution: &Solution,
    options: &Options,
    solve_near: Option<&SolveNear<'_>>,
) -> Findings {
    if options.settings.halt.asked() {
        return left_off(route);
    }
    let limits = Limits::new(&route.limits);
    let surroundings = Surroundings::new(&route.machine);
    let branches: Vec<BranchId> = (0..route.branches.len()).map(BranchId).collect();
    let nearest = branches
        .par_iter()
        .map(|&branch| gaps::least(route, solution, &surroundings, branch))
        .collect();
    let units = options.units;
    let job = Job::new(
        route,
        solution,
        &surroundings,
        &limits,
        &branches,
        nearest,
        units,
    );
    let outcome = super::all_checks(&job, options.without);
    let (along, against) = charts_of(&job, options);
    let Job { nearest, .. } = job;
    let mut findings = Findings {
        findings: outcome.findings,
        blanks: outcome.blanks,
        limits,
        nearest,
        along,
        against,
    };
    if options.spread && !options.settings.halt.asked() {
        spread::add_spread(
            route,
            solution,
            &surroundings,
            &mut findings,
            options,
            solve_near,
        );
    }
    cause::rank(route, solution, &mut findings.findings);
    findings
}

fn charts_of(job: &Job<'_>, options: &Options) -> (Vec<AlongBranch>, Vec<AgainstJoint>) {
    if options.charts {
        (charts::along(job), charts::against(job))
    } else {
        (Vec::new(), Vec::new())
    }
}

/// Nothing: nobody wants an answer any more.
fn left_off(route: &Route) -> Findings {
    Findings {
        findings: Vec::new(),
        blanks: Vec::new(),
        limits: Limits::new(&route.limits),
        nearest: vec![Vec::new(); route.branches.len()],
        along: Vec::new(),
        against: Vec::new(),
    }
}
