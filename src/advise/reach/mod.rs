//! How far a change can go: the first limit that it breaks, and the next one that would decide if that were cured.
//!
//! Every finding keeps its identity from one share of the change to the next, so the share at which it reaches its limit
//! is the root of a smooth function: looked for by the secant through both ends of a bracket, with the end that stays
//! too long weighted down (the Illinois variant of regula falsi; Dowell & Jarratt, BIT 11, 1971). A finding that is
//! there on one side alone is bracketed by halving. `search.rs` does that; `spread.rs` says how far hand measuring may put
//! the answer off.
//!
//! Whoever asks the solves to leave off (`Settings::halt`) is given what is known by then: up to which share every limit
//! holds, and where the next share that was looked at breaks one.

mod search;
mod spread;

use crate::check::{Finding, Options};
use crate::quantity::Kind;
use crate::route::{Change, ChangeError};

use super::Solved;
use super::margin::{Amount, Identity, amount};

pub(super) use search::Search;

/// How to look.
#[derive(Debug, Clone, Copy)]
pub struct ReachOptions {
    /// How to check; `spread` says whether the spread of the reach is worked out.
    pub check: Options,
    /// The greatest share of the change that is looked at.
    pub most: f64,
    /// A share is found to this, or to a thousandth of the deciding limit, whichever comes first.
    pub accuracy: f64,
}

impl Default for ReachOptions {
    fn default() -> Self {
        Self {
            check: Options::default(),
            most: 3.0,
            accuracy: 1e-3,
        }
    }
}

/// A limit that a change reaches.
#[derive(Debug, Clone, PartialEq)]
pub struct Limiting {
    /// The share of the change at which it is reached.
    pub share: f64,
    /// The finding there.
    pub finding: Finding,
    /// Name of its branch.
    pub branch: String,
    /// Its pose in words.
    pub pose: String,
}

/// How far a change can go.
#[derive(Debug, Clone, PartialEq)]
pub struct Reach {
    /// Name of the change.
    pub change: String,
    /// How large the whole change is.
    pub of: Amount,
    /// The share at which the first limit is reached; where none is, the greatest that was looked at. Where the search was
    /// stopped before it was found: the greatest that was looked at and holds.
    pub share: f64,
    /// The limit that decides; `None` where none is broken up to that share. Where the search was stopped before the share
    /// was found: the limit that is broken at the next share that was looked at.
    pub decided_by: Option<Limiting>,
    /// Whether that limit is broken before anything is changed.
    pub already: bool,
    /// The limit that would decide if the first were cured.
    pub next: Option<Limiting>,
    /// One standard deviation of the share, where it was asked for and can be told.
    pub spread: Option<f64>,
    /// The share up to which the deciding limit holds at 95 %, solved and checked there.
    pub sure: Option<f64>,
    /// Shares between which some limit is broken, as far as looked at, where it holds again beyond.
    pub over_between: Vec<(f64, f64)>,
    /// Where the change can no longer be made: the share, and why.
    pub ends: Option<(f64, String)>,
    /// How many routes were solved and checked.
    pub solved: usize,
    /// Whether it was stopped before all of this was found.
    pub stopped: bool,
}

/// Shares that are looked at in any case: a limit may be broken in between only.
const SCAN: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];
/// And beyond, as long as something is still looked for.
const BEYOND: [f64; 3] = [1.5, 2.0, 3.0];
/// How far a change of a solved route can go.
///
/// # Errors
/// The change cannot be made at all.
pub fn reach(base: &Solved, change: &Change, options: &ReachOptions) -> Result<Reach, ChangeError> {
    reach_with(base, change, options, &|_| {})
}

/// As [`reach`], telling meanwhile how far it has come.
///
/// # Errors
/// As [`reach`].
pub fn reach_with(
    base: &Solved,
    change: &Change,
    options: &ReachOptions,
    say: &(dyn Fn(&str) + Sync),
) -> Result<Reach, ChangeError> {
    let mut search = Search::new(base, change, options, say);
    // A change that cannot be made at any share is an error; one that can be made in part ends there.
    base.route.changed(change, 1e-3)?;
    search.scan(&SCAN);
    let ignored: Vec<Identity> = Vec::new();
    let mut first = search.first(&ignored);
    search.go_on(&mut first, &ignored);
    let mut share = first.as_ref().map_or(search.most(), |found| found.share);
    if search.stopped() {
        (share, first) = search.so_far();
    }
    let already = first.as_ref().is_some_and(|found| found.share <= 0.0);
    let (mut next, mut spread, mut sure) = (None, None, None);
    if let (Some(found), false) = (&first, search.stopped()) {
        // What is cured with the first: itself, all that is broken already, and what follows from either.
        let mut ignored = vec![search.identity_of(found)];
        if already {
            ignored.extend(search.over_at_start());
        }
        next = search.first(&ignored);
        search.go_on(&mut next, &ignored);
        if options.check.spread && !already && !search.stopped() {
            say("working out how far hand measuring may put it off");
            (spread, sure) = search.spread(found);
        }
        // What was left off in the middle is not known.
        if search.stopped() {
            (next, spread, sure) = (None, None, None);
        }
    }
    Ok(Reach {
        change: change.name.clone(),
        of: amount(change),
        share,
        already,
        next,
        spread,
        sure,
        over_between: search.over_between(share),
        ends: search.ends.clone(),
        solved: search.trials.len() - 1,
        stopped: search.stopped(),
        decided_by: first,
    })
}

impl Reach {
    /// A share of the change as an amount of its own motion, in the SI unit of the amount's kind.
    pub fn along(&self, share: f64) -> f64 {
        share * self.of.value
    }

    /// Where the search was stopped before the share was found: the share at which a limit is broken, with what lies
    /// between that and [`Reach::share`] not looked at.
    pub fn broken_at(&self) -> Option<f64> {
        let limit = self.decided_by.as_ref().map(|limit| limit.share);
        limit.filter(|share| self.stopped && *share > self.share)
    }

    /// Unit of the amounts in reports, and the factor from SI.
    pub fn unit(&self) -> (f64, &'static str) {
        match self.of.kind {
            Kind::Length => (1e3, "mm"),
            Kind::Angle => (1.0_f64.to_degrees(), "deg"),
            _ => (100.0, "%"),
        }
    }
}
