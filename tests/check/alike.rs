//! Reports of the same machine told in two ways: the same findings with the same values.

use neckloom::check::{Finding, Verdict};

/// By how much a value may be off, of itself or of the limit where that is greater.
pub(super) const TOLERANCE: f64 = 1e-6;

/// What a report says in one finding.
#[derive(Debug)]
pub(super) struct Told {
    /// Of what, by names that both ways of telling have.
    name: String,
    verdict: Verdict,
    value: f64,
    limit: f64,
}

impl Told {
    pub(super) fn new(name: String, finding: &Finding) -> Self {
        Self {
            name,
            verdict: finding.verdict,
            value: finding.value,
            limit: finding.limit,
        }
    }

    fn is_like(&self, other: &Self) -> bool {
        let scale = self.value.abs().max(self.limit.abs());
        // Written so that what is not a number is told.
        let near = (self.value - other.value).abs() <= TOLERANCE * scale;
        near && self.name == other.name && self.verdict == other.verdict
    }
}

/// In what two reports differ, whatever the order of their findings: how many they are, and the first that is another.
pub(super) fn differences(mut one: Vec<Told>, mut two: Vec<Told>) -> Vec<String> {
    for told in [&mut one, &mut two] {
        told.sort_by(|a, b| a.name.cmp(&b.name).then(a.value.total_cmp(&b.value)));
    }
    let mut off = Vec::new();
    if one.len() != two.len() {
        off.push(format!("{} findings for {}", two.len(), one.len()));
    }
    let pairs = one.iter().zip(&two);
    let other = pairs.into_iter().find(|(want, got)| !want.is_like(got));
    off.extend(other.map(|(want, got)| format!("{got:?} for {want:?}")));
    off
}
