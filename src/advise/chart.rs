//! Two changes at once: how far the one can go for each share of the other, and which limit decides where.

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

/// Traces how far `first` can go with each of the `shares` of `second`, each made before `first`.
///
/// # Errors
/// One of the changes cannot be made.
pub fn chart(
    base: &Solved,
    [first, second]: [&Change; 2],
    shares: &[f64],
    options: &ReachOptions,
) -> Result<Chart, ChangeError> {
    let quick = crate::check::Options {
        spread: false,
        ..options.check
    };
    let rows: Vec<Result<(ChartRow, usize), ChangeError>> = shares
        .par_iter()
        .map(|&share| {
            let given = base.with(base.route.changed(second, share)?, &quick);
            let mut search = Search::new(&given, first, options);
            let mut found = search.first(&[]);
            for share in SCAN {
                if found.is_none() {
                    search.scan(&[share]);
                    found = search.first(&[]);
                }
            }
            let allowed = match &found {
                Some(limit) if limit.share <= 0.0 => None,
                Some(limit) => Some(limit.share),
                None => Some(search.most()),
            };
            let row = ChartRow {
                share,
                allowed,
                decided_by: found,
            };
            Ok((row, search.trials.len()))
        })
        .collect();
    let mut solved = 0;
    let rows: Result<Vec<ChartRow>, ChangeError> = rows
        .into_iter()
        .map(|row| {
            let (row, count) = row?;
            solved += count;
            Ok(row)
        })
        .collect();
    Ok(Chart {
        changes: [first.name.clone(), second.name.clone()],
        of: [amount(first), amount(second)],
        most: SCAN[SCAN.len() - 1],
        rows: rows?,
        solved,
    })
}
