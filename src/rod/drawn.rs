//! Where a branch as it is drawn runs through a part: to which side of it the branch lies is then the search's choice.

use crate::harness::BranchId;
use crate::machine::{PartId, Surroundings};
use crate::route::Route;

use super::Settings;
use super::cutting::{pieces, seated};
use super::solve::spans;

/// A span whose smooth path runs through a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DrawnThrough {
    /// Its branch.
    pub branch: BranchId,
    /// Its index in the branch.
    pub span: usize,
    /// The part.
    pub part: PartId,
}

/// Every span whose smooth path, bulged out to its length, runs through a part while everything is at rest and breakouts are
/// where they are drawn; each with each such part once.
pub fn drawn_through(route: &Route) -> Vec<DrawnThrough> {
    let surroundings = Surroundings::new(&route.machine);
    let stance = route.machine.stance(&route.machine.rest());
    let (spans, settings) = (spans(route), Settings::default());
    let sits: Vec<_> = route
        .branches
        .iter()
        .zip(&spans)
        .map(|(branch, spans)| seated(route, branch, spans, None))
        .collect();
    let pieces = pieces(route, &surroundings, &sits, None, &settings);
    let mut all = Vec::new();
    for piece in &pieces {
        let last = piece.first + piece.fixings - 1;
        let strand = piece.strand(&spans[piece.id.0][piece.first..last], None, &settings);
        let guess = piece.guess(&strand, &stance);
        for (element, part) in piece.through(&strand, &guess, &stance) {
            let within = strand.fixings.iter().filter(|&&node| node <= element);
            let found = DrawnThrough {
                branch: piece.id,
                span: piece.first + within.count() - 1,
                part,
            };
            if !all.contains(&found) {
                all.push(found);
            }
        }
    }
    all
}
