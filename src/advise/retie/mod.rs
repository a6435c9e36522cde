//! Which fixings to move, turn, loosen, exchange, add or take off so that every limit holds.
//!
//! What a mechanic would try first comes first: one fixing shifted along the tube that it sits on, put on another side of a
//! tube near by, turned as the branch lies of itself, its strap exchanged, taken off; a clamp added where a span hangs too
//! far; then two of them. `places.rs` says where a fixing may sit, `candidates.rs` what may be done, `lengths.rs` how the branch
//! is drawn through so that both sides have what they need and turns away by the straight ways alone what cannot hold
//! (`drawn.rs` makes that of each candidate); `problem.rs` solves and checks what is left, `search.rs` says in which order, `refine.rs` goes the last few millimetres.
//! What holds is written, read again, solved from nothing and checked with its spread (`confirm.rs`) before it counts.
//!
//! Branches that hang together are one problem, the others are problems of their own. Connectors, breakouts and holes stay
//! where they are: where one of them is in the way itself (`obstacles.rs`), no tie cures that. It is told, and a connector is
//! put where it is out of the way, as far as it must. Where nothing holds, it is tried whether more length would help.

mod candidates;
mod confirm;
mod drawn;
mod lengths;
mod moves;
mod obstacles;
mod places;
mod problem;
mod refine;
mod search;

use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use crate::check::{Options, Verdict};
use crate::harness::BranchId;
use crate::route::{Change, Route, Step};

use super::Solved;
use confirm::{confirm, different, key, ranked};
use problem::{Problem, Reached};

pub use obstacles::Obstacle;

/// How to look.
#[derive(Debug, Clone, Copy)]
pub struct RetieOptions {
    /// How to check what is proposed.
    pub check: Options,
    /// How far a fixing may be shifted along what it sits on \[m\].
    pub farthest: f64,
    /// How far its direction may be turned from where the branch lies of itself \[rad\].
    pub turned: f64,
    /// By how much the spans of a branch may be made longer, together \[m\].
    pub longer: f64,
    /// When to stop and give the best so far, whatever is left to be tried. Until then how long anything takes does not matter to
    /// what is found.
    pub patience: Duration,
    /// How many proposals to give.
    pub proposals: usize,
    /// How many routes to solve and check while searching, about: what has begun is ended.
    pub tries: usize,
}

impl Default for RetieOptions {
    fn default() -> Self {
        Self {
            check: Options::default(),
            farthest: 0.06,
            turned: 40.0_f64.to_radians(),
            longer: 0.0,
            patience: Duration::from_secs(60),
            proposals: 3,
            tries: 600,
        }
    }
}

/// Writes a change into the route's text and reads it again: the text, and the route that it says.
pub type Rewrite<'f> = dyn Fn(&Change) -> Result<(String, Route), String> + Sync + 'f;

/// What the search is given from outside: whether to stop and give the best so far, and what to say meanwhile.
pub struct RetieHooks<'h> {
    /// Whether to stop.
    pub stop: &'h (dyn Fn() -> bool + Sync),
    /// How far it has come.
    pub say: &'h (dyn Fn(&str) + Sync),
}

impl std::fmt::Debug for RetieHooks<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("RetieHooks").finish_non_exhaustive()
    }
}

/// A way to tie the harness so that every limit holds.
#[derive(Debug, Clone)]
pub struct Proposal {
    /// The whole route file.
    pub text: String,
    /// The route that it says, solved and checked.
    pub solved: Solved,
    /// What is done to the route, step by step.
    pub change: Change,
    /// The same in words.
    pub words: Vec<String>,
    /// Least room to a limit, as a share of the limit.
    pub margin: f64,
    /// Length of all branches together \[m\].
    pub length: f64,
}

/// What was found, and what was tried.
#[derive(Debug, Clone)]
pub struct Retied {
    /// The best first: fewest changes, then most room.
    pub proposals: Vec<Proposal>,
    /// What came nearest where nothing is proposed: in words, with the limit that stands in the way, and by how much of that
    /// it fails.
    pub nearest: Vec<(String, f64)>,
    /// What no tie can cure: fixings that stay, and what comes too near to them there.
    pub obstacles: Vec<Obstacle>,
    /// Where nothing is proposed: a way that holds every limit if spans are made longer beside.
    pub longer: Option<Proposal>,
    /// How many routes were solved and checked.
    pub solved: usize,
    /// Whether the time ran out, or it was stopped, before everything was tried.
    pub ran_out: bool,
    /// Whether it was stopped from outside.
    pub stopped: bool,
}

/// Share of the time that is kept for solving and checking again what was found.
const TO_CONFIRM: f64 = 0.25;
/// Share of what is left of the time that is kept for what more length would do, where no length may be added.
const TO_LENGTHEN: f64 = 0.4;
/// Where no length may be added: what more of it is looked at, to say whether it would help \[m\].
const ASKED_LONGER: f64 = 0.03;

/// Once a way holds, others are looked for until so many times the tries that it took, and this share of all, are used.
const MORE: (f64, f64) = (1.5, 0.04);

/// The time and the tries that are left, and what is counted and said meanwhile.
struct Watch<'h> {
    hooks: &'h RetieHooks<'h>,
    until: Instant,
    tries: usize,
    solved: AtomicUsize,
    /// Share of the tries that was used when the first way held.
    first: OnceLock<f64>,
}

impl Watch<'_> {
    /// Whether it has to stop at once: what is found then depends on how fast the machine is.
    fn is_over(&self) -> bool {
        Instant::now() >= self.until || (self.hooks.stop)()
    }

    /// Share of the tries that is used. Asked for only where nothing runs beside, so that it does not depend on the cores.
    fn used(&self) -> f64 {
        let real = |count: usize| u32::try_from(count).map_or(f64::INFINITY, f64::from);
        real(self.count()) / real(self.tries).max(1.0)
    }

    /// Whether others have been looked for long enough since a first way held.
    fn is_late(&self) -> bool {
        self.first
            .get()
            .is_some_and(|first| self.used() > MORE.0 * first + MORE.1)
    }

    fn count(&self) -> usize {
        self.solved.load(Ordering::Relaxed)
    }
}

/// Finds ways to tie a route that holds every limit.
pub fn retie(base: &Solved, rewrite: &Rewrite<'_>, options: &RetieOptions) -> Retied {
    let hooks = RetieHooks {
        stop: &|| false,
        say: &|_| {},
    };
    retie_with(base, rewrite, options, &hooks)
}

/// As [`retie`], to be stopped and listened to.
pub fn retie_with(
    base: &Solved,
    rewrite: &Rewrite<'_>,
    options: &RetieOptions,
    hooks: &RetieHooks<'_>,
) -> Retied {
    let until = Instant::now() + options.patience;
    let mut result = Retied {
        proposals: Vec::new(),
        nearest: Vec::new(),
        obstacles: Vec::new(),
        longer: None,
        solved: 0,
        ran_out: false,
        stopped: false,
    };
    let watch_for = |share: f64| {
        let now = Instant::now();
        Watch {
            hooks,
            until: now + until.saturating_duration_since(now).mul_f64(share),
            tries: options.tries,
            solved: AtomicUsize::new(0),
            first: OnceLock::new(),
        }
    };
    let clusters = broken(base);
    let mut found: Vec<Vec<Vec<Step>>> = Vec::new();
    let mut lengthened = false;
    for (nth, together) in clusters.iter().enumerate() {
        let share =
            (1.0 - TO_CONFIRM) / f64::from(u32::try_from(clusters.len() - nth).unwrap_or(1));
        let may_lengthen = options.longer > 0.0;
        let watch = watch_for(share * if may_lengthen { 1.0 } else { 1.0 - TO_LENGTHEN });
        let problem = Problem::new(base, together[0], options, &watch);
        let obstacles = problem.obstacles(&problem.room());
        // What cannot be put elsewhere breaks its limit whatever is tied.
        let hopeless = obstacles.iter().any(|one| one.by.is_none());
        result.obstacles.extend(obstacles.iter().cloned());
        let mut done: Vec<Reached> = Vec::new();
        if !hopeless {
            problem.try_ways(&obstacles, &mut done);
        }
        let (mut ways, nearest) = problem.told(done.clone());
        result.solved += watch.count();
        result.ran_out |= watch.is_over();
        if ways.is_empty() {
            result.nearest.extend(nearest);
            let watch = watch_for(share);
            if !hopeless && !may_lengthen && !watch.is_over() {
                (hooks.say)("none so far; looking whether more length would help");
                let longer = problem.with_longer(ASKED_LONGER, &watch);
                longer.try_ways(&obstacles, &mut done);
                (ways, _) = longer.told(done);
                lengthened = true;
                result.solved += watch.count();
                result.ran_out |= watch.is_over();
            }
        }
        found.push(ways);
    }
    if found.iter().all(|ways| !ways.is_empty()) && !found.is_empty() {
        let watch = watch_for(1.0);
        let wanted = RetieOptions {
            proposals: if lengthened { 1 } else { options.proposals },
            ..*options
        };
        confirm(base, &found, rewrite, (&wanted, &watch), &mut result);
        result.solved += watch.count();
    }
    ranked(&mut result.proposals);
    different(&mut result.proposals, |proposal| {
        key(&proposal.change.steps)
    });
    result.proposals.truncate(options.proposals);
    if lengthened {
        result.longer = result.proposals.drain(..).next();
    }
    if !result.proposals.is_empty() {
        result.nearest.clear();
    }
    result.stopped = (hooks.stop)();
    result
}

/// The first way that is found to tie branches that hang together so that every limit holds in the wide steps of the
/// search; it is to be looked at again with narrow ones.
pub(in crate::advise) fn mended(
    base: &Solved,
    branch: BranchId,
    options: &RetieOptions,
    stop: &(dyn Fn() -> bool + Sync),
) -> Option<Vec<Step>> {
    let hooks = RetieHooks { stop, say: &|_| {} };
    let watch = Watch {
        hooks: &hooks,
        until: Instant::now() + options.patience,
        tries: options.tries,
        solved: AtomicUsize::new(0),
        first: OnceLock::new(),
    };
    let problem = Problem::new(base, branch, options, &watch);
    if !problem.obstacles(&problem.room()).is_empty() {
        return None;
    }
    let mut done = Vec::new();
    problem.try_ways(&[], &mut done);
    let (ways, _) = problem.told(done);
    ways.into_iter().next()
}

/// The branches that hang together and break a limit.
fn broken(base: &Solved) -> Vec<Vec<BranchId>> {
    let mut clusters: Vec<Vec<BranchId>> = Vec::new();
    for finding in &base.findings.findings {
        let together = base.route.together(finding.branch);
        if finding.verdict == Verdict::Over && !clusters.contains(&together) {
            clusters.push(together);
        }
    }
    clusters
}
