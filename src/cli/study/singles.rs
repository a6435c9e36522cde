//! Each change of a study by itself, solved once for all variants that make it: what the others of a variant leave alone
//! need not be solved again.

use std::collections::HashMap;

use rayon::prelude::*;

use crate::advise::{Laid, Solved, changed};
use crate::check::Options;
use crate::route::Change;

/// So many are kept at a time, of some megabytes each.
const MOST: usize = 64;

/// A route's index, a change's name and the bits of its share.
type Key = (usize, String, u64);

/// The changes of a study, each by itself.
#[derive(Debug, Default)]
pub(super) struct Singles {
    /// For each the number of variants still to come that make it.
    left: HashMap<Key, usize>,
    laid: HashMap<Key, Laid>,
}

impl Singles {
    /// Counts a variant that is to come.
    pub(super) fn count(&mut self, route: usize, changes: &[(&Change, f64)]) {
        for (key, _) in keys(route, changes) {
            *self.left.entry(key).or_default() += 1;
        }
    }

    /// Solves those that the next variants need and others will need again; gives how many were solved.
    pub(super) fn get_ready<'c>(
        &mut self,
        next: impl Iterator<Item = (usize, &'c [(&'c Change, f64)])>,
        bases: &[Solved],
        options: &Options,
    ) -> usize {
        let mut wanted: Vec<(Key, (&Change, f64))> = Vec::new();
        for (route, changes) in next {
            for (key, change) in keys(route, changes) {
                let again = self.left.get(&key).is_some_and(|left| *left > 1);
                let there = self.laid.contains_key(&key) || wanted.iter().any(|w| w.0 == key);
                if again && !there && self.laid.len() + wanted.len() < MOST {
                    wanted.push((key, change));
                }
            }
        }
        let count = wanted.len();
        let solved: Vec<(Key, Laid)> = wanted
            .into_par_iter()
            .filter_map(|(key, change)| {
                let base = &bases[key.0];
                let route = changed(&base.route, &[change]).ok()?;
                let (solution, _) = base.shapes_of(&route, options);
                Some((key, Laid { route, solution }))
            })
            .collect();
        // What was left off in the middle is no answer.
        if !options.settings.halt.asked() {
            self.laid.extend(solved);
        }
        count
    }

    /// Those of a variant that are there.
    pub(super) fn of(&self, route: usize, changes: &[(&Change, f64)]) -> Vec<&Laid> {
        keys(route, changes)
            .filter_map(|(key, _)| self.laid.get(&key))
            .collect()
    }

    /// Drops what no variant needs any more, once this one is done.
    pub(super) fn done(&mut self, route: usize, changes: &[(&Change, f64)]) {
        for (key, _) in keys(route, changes) {
            if let Some(left) = self.left.get_mut(&key) {
                *left -= 1;
                if *left == 0 {
                    self.laid.remove(&key);
                }
            }
        }
    }
}

/// The changes that a variant makes.
fn keys<'c>(
    route: usize,
    changes: &[(&'c Change, f64)],
) -> impl Iterator<Item = (Key, (&'c Change, f64))> {
    let made = changes.iter().filter(|(_, share)| *share > 0.0);
    made.map(move |&(change, share)| {
        (
            (route, change.name.clone(), share.to_bits()),
            (change, share),
        )
    })
}
