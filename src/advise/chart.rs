//! Two changes at once: how far the one can go for each share of the other, and which limit decides where.

use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use crate::route::{Change, ChangeError};

use super::Solved;
use super::margin::{Amount, amount};
use super::reach::{Limiting, ReachOptions, Search};

/// Allowed shares of one change against shares of another.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// Names of the two changes: the one whose reach is found, and the one that is given.
    pub changes: [String; 2],
    /// How large each is.
    pub of: [Amount; 2],
    /// The greatest share of the first that was looked at.
    pub most: f64,
    /// One row a share of the second, rising.
    pub rows: Vec<ChartRow>,
    /// How many routes were solved and checked.
    pub solved: usize,
    /// Whether it was stopped before all rows were found; those that are there are whole.
    pub stopped: bool,
}

/// The reach of the first change at one share of the second.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartRow {
    /// Share of the second change.
    pub share: f64,
    /// The greatest share of the first that holds every limit; `None` where even none of it does.
    pub allowed: Option<f64>,
    /// The limit that decides; `None` where none is broken as far as looked at.
    pub decided_by: Option<Limiting>,
}

/// Shares of the first change that are looked at in each row before the root is found.
const SCAN: [f64; 3] = [0.5, 1.0, 1.5];

/// Traces how far `first` can go with each of the `shares` of `second`, each made before `first`, and says meanwhile how
/// many of them are done.
///
/// # Errors
/// One of the changes cannot be made.
pub fn chart(
    base: &Solved,
    [first, second]: [&Change; 2],
    shares: &[f64],
    options: &ReachOptions,
    say: &(dyn Fn(&str) + Sync),
) -> Result<Chart, ChangeError> {
    let quick = crate::check::Options {
        spread: false,
        ..options.check
    };
    let done = AtomicUsize::new(0);
    let row = |share: f64| -> Result<Option<(ChartRow, usize)>, ChangeError> {
        let given = base.with(base.route.changed(second, share)?, &quick);
        let mut search = Search::new(&given, first, options, &|_| {});
        let mut found = search.first(&[]);
        for share in SCAN {
            if found.is_none() {
                search.scan(&[share]);
                found = search.first(&[]);
            }
        }
        // What was left off is no answer.
        if search.stopped() {
            return Ok(None);
        }
        let allowed = match &found {
            Some(limit) if limit.share <= 0.0 => None,
            Some(limit) => Some(limit.share),
            None => Some(search.most()),
        };
        let done = done.fetch_add(1, Ordering::Relaxed) + 1;
        say(&format!("{done} of {} rows of the chart", shares.len()));
        let row = ChartRow {
            share,
            allowed,
            decided_by: found,
        };
        Ok(Some((row, search.count() + 1)))
    };
    let found: Result<Vec<_>, ChangeError> = shares.par_iter().map(|share| row(*share)).collect();
    let (rows, counts): (Vec<ChartRow>, Vec<usize>) = found?.into_iter().flatten().unzip();
    Ok(Chart {
        changes: [first.name.clone(), second.name.clone()],
        of: [amount(first), amount(second)],
        most: SCAN[SCAN.len() - 1],
        solved: counts.iter().sum(),
        stopped: rows.len() < shares.len(),
        rows,
    })
}
