//! Which fixings to move, turn, loosen, exchange, add or take off so that every limit holds.
//!
//! What a mechanic would try first comes first: one fixing shifted along the tube that it sits on, put on another side of a
//! tube near by, turned as the branch lies of itself, its strap exchanged, taken off; a clamp added where a span hangs too
//! far; then two of them. `places.rs` says where a fixing may sit, `candidates.rs` what may be done, `lengths.rs` how the branch
//! is drawn through so that both sides have what they need and turns away by the straight ways alone what cannot hold;
//! `problem.rs` solves and checks what is left, `search.rs` says in which order, `refine.rs` goes the last few millimetres.
//! What holds is written, read again, solved from nothing and checked with its spread (`confirm.rs`) before it counts.
//!
//! Branches that hang together are one problem, the others are problems of their own. Connectors, breakouts and holes stay
//! where they are.

mod candidates;
mod confirm;
mod lengths;
mod moves;
mod places;
mod problem;
mod refine;
mod search;

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use crate::check::{Options, Verdict};
use crate::harness::BranchId;
use crate::route::{Change, Route, Step};

use super::Solved;
use confirm::{confirm, different, key, ranked};
use problem::Problem;

/// How to look.
#[derive(Debug, Clone, Copy)]
pub struct RetieOptions {
    /// How to check what is proposed.
    pub check: Options,
    /// How far a fixing may be shifted along what it sits on \[m\].
    pub farthest: f64,
    /// How far its direction may be turned from where the branch lies of itself \[rad\].
    pub turned: f64,
    /// When to stop and give the best so far.
    pub patience: Duration,
    /// How many proposals to give.
    pub proposals: usize,
}

impl Default for RetieOptions {
    fn default() -> Self {
        Self {
            check: Options::default(),
            farthest: 0.06,
            turned: 40.0_f64.to_radians(),
            patience: Duration::from_secs(60),
            proposals: 3,
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
    /// How many routes were solved and checked.
    pub solved: usize,
    /// Whether the time ran out, or it was stopped, before everything was tried.
    pub ran_out: bool,
}

/// Share of the time that is kept for solving and checking again what was found.
const TO_CONFIRM: f64 = 0.25;

/// The time that is left, and what is counted and said meanwhile.
struct Watch<'h> {
    hooks: &'h RetieHooks<'h>,
    begun: Instant,
    until: Instant,
    solved: AtomicUsize,
}

impl Watch<'_> {
    fn is_over(&self) -> bool {
        Instant::now() >= self.until || (self.hooks.stop)()
    }

    /// Share of the time that is used.
    fn used(&self) -> f64 {
        let all = self
            .until
            .saturating_duration_since(self.begun)
            .as_secs_f64();
        self.begun.elapsed().as_secs_f64() / all.max(1e-9)
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
        solved: 0,
        ran_out: false,
    };
    let clusters = broken(base);
    let mut found: Vec<Vec<Vec<Step>>> = Vec::new();
    for (nth, together) in clusters.iter().enumerate() {
        let left = until.saturating_duration_since(Instant::now());
        let share =
            (1.0 - TO_CONFIRM) / f64::from(u32::try_from(clusters.len() - nth).unwrap_or(1));
        let watch = Watch {
            hooks,
            begun: Instant::now(),
            until: Instant::now() + left.mul_f64(share),
            solved: AtomicUsize::new(0),
        };
        let (ways, nearest) = Problem::new(base, together[0], options, &watch).ways();
        result.solved += watch.count();
        result.ran_out |= watch.is_over();
        if ways.is_empty() {
            result.nearest.extend(nearest);
        }
        found.push(ways);
    }
    if found.iter().all(|ways| !ways.is_empty()) && !found.is_empty() {
        let watch = Watch {
            hooks,
            begun: Instant::now(),
            until,
            solved: AtomicUsize::new(0),
        };
        confirm(base, &found, rewrite, (options, &watch), &mut result);
        result.solved += watch.count();
    }
    ranked(&mut result.proposals);
    different(&mut result.proposals, |proposal| {
        key(&proposal.change.steps)
    });
    result.proposals.truncate(options.proposals);
    if !result.proposals.is_empty() {
        result.nearest.clear();
    }
    result
}

/// The first way that is found to tie branches that hang together so that every limit holds in the wide steps of the
/// search; it is to be looked at again with narrow ones.
pub(in crate::advise) fn mended(
    base: &Solved,
    branch: BranchId,
    options: &RetieOptions,
) -> Option<Vec<Step>> {
    let hooks = RetieHooks {
        stop: &|| false,
        say: &|_| {},
    };
    let watch = Watch {
        hooks: &hooks,
        begun: Instant::now(),
        until: Instant::now() + options.patience,
        solved: AtomicUsize::new(0),
    };
    let (ways, _) = Problem::new(base, branch, options, &watch).ways();
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
