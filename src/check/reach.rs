//! How far along a branch a nudge can change anything.

use std::ops::Range;

use crate::harness::BranchId;
use crate::route::Span;

use super::Finding;
use super::spread::{is_local, is_summed};

/// Places along a branch that differ by less are the same \[m\].
pub(super) const SAME: f64 = 1e-9;

/// Some spans of a branch, in a row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Reach {
    pub(super) branch: BranchId,
    /// Their indices.
    spans: Range<usize>,
    /// Where they begin and end along the branch \[m\].
    from: f64,
    to: f64,
}

impl Reach {
    /// The spans with these indices, of all `spans` of a branch.
    pub(super) fn new(branch: BranchId, spans: &[Span], own: Range<usize>) -> Self {
        let mut reach = Self {
            branch,
            spans: own,
            from: 0.0,
            to: 0.0,
        };
        (reach.from, reach.to) = reach.along(spans);
        reach
    }

    /// Where it begins and ends along a branch whose spans are these \[m\].
    pub(super) fn along(&self, spans: &[Span]) -> (f64, f64) {
        match spans.get(self.spans.clone()) {
            Some([first, .., last] | [first @ last]) => (first.start, last.end()),
            _ => (0.0, 0.0),
        }
    }

    /// Whether a span of a branch, by its index, is in it.
    pub(super) fn has_span(&self, branch: BranchId, index: usize) -> bool {
        self.branch == branch && self.spans.contains(&index)
    }

    /// Whether what a finding tells of its branch alone can change with it.
    pub(super) fn has(&self, finding: &Finding) -> bool {
        let here = self.from - SAME <= finding.at && finding.at <= self.to + SAME;
        self.branch == finding.branch && (here || !is_local(finding)) && !is_summed(finding)
    }
}
